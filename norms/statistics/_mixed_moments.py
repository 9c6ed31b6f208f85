"""What a random-intercept model needs of the data: cross products of columns and of group sums.

With V = I + theta 1 1' inside a group of n observations, V^-1 = I - theta / (1 + n theta) 1 1', so
that every quantity of the likelihood follows from the cross products of all columns and, for each
group size n, the cross products of the groups' sums. Their number does not grow with the data.
Dimension letters: s observations, g groups, c models, k columns of a model's own, q all columns of
a model with its outcome last, z distinct group sizes.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

ALIASED: Final = 1e-9
"""A column of which less than this share of its squares is left by the columns before it."""
_NO_WITHIN: Final = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moments:
    """Sums of c models, columns scaled to unit length.

    Attributes
    ----------
    sizes : ndarray, shape (z,)
        Distinct group sizes.
    groups_of_size : ndarray, shape (c, z)
    total : ndarray, shape (c, q, q)
        Cross products of all columns, the outcome last.
    by_size : ndarray, shape (c, z, q, q)
        Cross products of the sums of the groups of each size.
    scale : ndarray, shape (c, q)
        What each column was divided by.
    aliased : ndarray of bool, shape (c, q - 1)
        Columns that the ones before them already hold: they are taken out.
    group_level : ndarray of bool, shape (c, q - 1)
        Columns that do not vary within any group.
    observations : ndarray, shape (c,)
    """

    sizes: FloatArray
    groups_of_size: FloatArray
    total: FloatArray
    by_size: FloatArray
    scale: FloatArray
    aliased: NDArray[np.bool_]
    group_level: NDArray[np.bool_]
    observations: FloatArray

    @property
    def groups(self) -> FloatArray:
        """Groups of each model, shape (c,)."""
        counted: FloatArray = self.groups_of_size.sum(axis=1)
        return counted

    @property
    def columns(self) -> FloatArray:
        """Columns of each model that can be told, shape (c,)."""
        counted: FloatArray = (~self.aliased).sum(axis=1).astype(np.float64)
        return counted


def gather_moments(
    outcome: FloatArray, shared: FloatArray, own: FloatArray, groups: NDArray[np.int64]
) -> Moments:
    """Moments of c models that share an outcome, some columns and the groups.

    Parameters
    ----------
    outcome : ndarray, shape (s,)
    shared : ndarray, shape (s, p)
    own : ndarray, shape (s, c, k)
        Each model's own columns; an observation with a NaN is left out of that model.
    groups : ndarray of int, shape (s,)
    """
    order = np.argsort(groups, kind="stable")
    common = np.column_stack([shared, outcome])[order]
    own, groups = own[order], groups[order]
    whole = np.all(np.isfinite(common), axis=1, keepdims=True)
    seen = np.asarray(np.all(np.isfinite(own), axis=2) & whole, dtype=bool)
    sizes = np.unique(np.concatenate([_sizes(groups[rows]) for rows, _ in _patterns(seen)]))
    models, q = own.shape[1], common.shape[1] + own.shape[2]
    total, by_size = np.zeros((models, q, q)), np.zeros((models, len(sizes), q, q))
    counted = np.zeros((models, len(sizes)))
    for rows, chosen in _patterns(seen):
        columns = own[np.ix_(rows, chosen)]
        starts = _starts(groups[rows])
        size_of = np.diff(np.r_[starts, rows.size])
        total[chosen] = _cross(common[rows], columns)
        sums = np.add.reduceat(common[rows], starts), np.add.reduceat(columns, starts)
        for place, size in enumerate(sizes):
            alike = size_of == size
            by_size[chosen, place] = _cross(sums[0][alike], sums[1][alike])
            counted[chosen, place] = np.count_nonzero(alike)
    return _scaled(total, by_size, sizes.astype(np.float64), counted, seen.sum(axis=0))


def _patterns(
    seen: NDArray[np.bool_],
) -> list[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Models that miss the same observations: the observations they have, and the models."""
    models: dict[bytes, list[int]] = {}
    for model in range(seen.shape[1]):
        models.setdefault(seen[:, model].tobytes(), []).append(model)
    found = [(np.flatnonzero(seen[:, those[0]]), np.array(those)) for those in models.values()]
    return [(rows, those) for rows, those in found if rows.size]


def _starts(groups: NDArray[np.int64]) -> NDArray[np.intp]:
    return np.flatnonzero(np.r_[True, groups[1:] != groups[:-1]])


def _sizes(groups: NDArray[np.int64]) -> NDArray[np.intp]:
    return np.unique(np.diff(np.r_[_starts(groups), groups.size]))


def _cross(common: FloatArray, own: FloatArray) -> FloatArray:
    """Cross products of [shared, own, outcome] for each model, shape (c, q, q)."""
    rows, models, k = own.shape
    p = common.shape[1] - 1
    places = np.r_[:p, p + k]  # of shared columns and outcome
    out = np.empty((models, p + 1 + k, p + 1 + k))
    out[:, places[:, np.newaxis], places] = common.T @ common
    mixed = (common.T @ own.reshape(rows, models * k)).reshape(p + 1, models, k)
    for i in range(k):
        out[:, places, p + i] = out[:, p + i, places] = mixed[:, :, i].T
        for j in range(i, k):
            product = np.einsum("sm,sm->m", own[:, :, i], own[:, :, j])
            out[:, p + i, p + j] = out[:, p + j, p + i] = product
    return out


def _scaled(
    total: FloatArray,
    by_size: FloatArray,
    sizes: FloatArray,
    counted: FloatArray,
    observations: NDArray[np.int64],
) -> Moments:
    squares = np.einsum("cii->ci", total)
    scale = np.sqrt(np.where(squares > 0, squares, 1.0))
    both = scale[:, :, np.newaxis] * scale[:, np.newaxis, :]
    total, by_size = total / both, by_size / both[:, np.newaxis]
    between = np.einsum("z,czii->ci", 1.0 / sizes, by_size)
    aliased = _aliased(total[:, :-1, :-1])
    _take_out(total, by_size, aliased)
    return Moments(
        sizes=sizes,
        groups_of_size=counted,
        total=total,
        by_size=by_size,
        scale=scale,
        aliased=aliased,
        group_level=(1.0 - between < _NO_WITHIN)[:, :-1] & ~aliased,
        observations=observations.astype(np.float64),
    )


def _aliased(cross: FloatArray) -> NDArray[np.bool_]:
    """Columns that add nothing to those before them, by sweeping them out in order."""
    left = cross.copy()
    aliased = np.zeros(cross.shape[:2], dtype=bool)
    for column in range(cross.shape[1]):
        pivot = left[:, column, column]
        aliased[:, column] = pivot < ALIASED
        share = left[:, column] / np.where(aliased[:, column], np.inf, pivot)[:, np.newaxis]
        left = left - left[:, :, column, np.newaxis] * share[:, np.newaxis, :]
    return aliased


def _take_out(total: FloatArray, by_size: FloatArray, aliased: NDArray[np.bool_]) -> None:
    """Give an aliased column length one and nothing in common with any other, in place."""
    model, column = np.nonzero(aliased)
    total[model, column, :] = 0.0
    total[model, :, column] = 0.0
    by_size[model, :, column, :] = 0.0
    by_size[model, :, :, column] = 0.0
    total[model, column, column] = 1.0
