"""Counts, means and sums of squares of nested units: all that a nested model needs of its data."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class NestedSums:
    """Sufficient statistics of standardised responses; units sorted by outer, then inner label.

    Where every response has the same observations, ``counts`` keeps a last dimension of one, so
    that sums over hundreds of curve nodes are taken once.
    """

    counts: FloatArray  # (u, c or 1)
    means: FloatArray  # (u, c), 0 where an inner unit lacks the response
    unit_squares: FloatArray  # (u, c) sum of squares about the inner mean
    within: FloatArray  # (c,) the same over all inner units
    design: FloatArray  # (u, p)
    outer_of_unit: NDArray[np.int64]  # (u,)
    first_unit: NDArray[np.int64]  # (g,) first inner unit of each outer one

    @property
    def inverse_counts(self) -> FloatArray:
        """1 / count, 0 for a unit without the response."""
        return np.divide(1.0, self.counts, out=np.zeros_like(self.counts), where=self.counts > 0)

    def over_outer(self, unit_values: FloatArray) -> FloatArray:
        """Sums by outer unit over the second last dimension: (…, u, c) to (…, g, c)."""
        return np.asarray(np.add.reduceat(unit_values, self.first_unit, axis=-2))

    def _per_response(self, values: NDArray[np.int64]) -> NDArray[np.int64]:
        return np.broadcast_to(values, self.within.shape)

    @property
    def observations(self) -> NDArray[np.int64]:
        """Observations of each response, shape (c,)."""
        return self._per_response(self.counts.sum(axis=0).astype(np.int64))

    @property
    def inner_units(self) -> NDArray[np.int64]:
        """Inner units that have the response, shape (c,)."""
        return self._per_response((self.counts > 0).sum(axis=0))

    @property
    def outer_units(self) -> NDArray[np.int64]:
        """Outer units that have the response, shape (c,)."""
        return self._per_response((self.over_outer(self.counts) > 0).sum(axis=0))

    @property
    def effects_present(self) -> NDArray[np.bool_]:
        """Whether a design column is not all zero over the units with the response, (p, c)."""
        seen = np.abs(self.design).T @ (self.counts > 0) > 0
        return np.broadcast_to(seen, (self.design.shape[1], self.within.size))

    @property
    def outer_size(self) -> FloatArray:
        """k0 of one-way analysis of variance with outer units as groups, shape (c,)."""
        sizes = self.over_outer(self.counts)
        total = sizes.sum(axis=0)
        groups = np.maximum((sizes > 0).sum(axis=0) - 1, 1)
        with np.errstate(invalid="ignore"):
            size = (total - (sizes**2).sum(axis=0) / total) / groups
        return np.broadcast_to(size, self.within.shape)

    @property
    def inner_repeated(self) -> NDArray[np.bool_]:
        """Whether some outer unit holds two inner units, shape (c,)."""
        held = self.over_outer((self.counts > 0).astype(np.float64))
        return np.broadcast_to((held > 1).any(axis=0), self.within.shape)

    @property
    def residual_repeated(self) -> NDArray[np.bool_]:
        """Whether some inner unit holds two observations, shape (c,)."""
        return np.broadcast_to((self.counts > 1).any(axis=0), self.within.shape)

    def responses(self, chosen: NDArray[np.int64]) -> "NestedSums":
        """The same units with some of the responses."""
        if chosen.size == self.within.size:
            return self
        counts = self.counts if self.counts.shape[1] == 1 else self.counts[:, chosen]
        return NestedSums(
            counts,
            self.means[:, chosen],
            self.unit_squares[:, chosen],
            self.within[chosen],
            self.design,
            self.outer_of_unit,
            self.first_unit,
        )


def aggregate(
    values: FloatArray, outer: ArrayLike, inner: ArrayLike, design: ArrayLike | None
) -> tuple[NestedSums, FloatArray, FloatArray]:
    """Standardise responses and sum them by inner unit.

    Parameters
    ----------
    values : ndarray, shape (s, c)
        NaN where an observation lacks a response.
    outer, inner : array_like, shape (s,)
    design : array_like, shape (s, p), or None

    Returns
    -------
    sums : NestedSums
    centre, scale : ndarray, shape (c,)
        Mean and standard deviation taken off; ``scale`` is 0 for a response without variation.

    Raises
    ------
    ValueError
        See ``fit_nested``.
    """
    outer_code = np.unique(np.asarray(outer), return_inverse=True)[1]
    inner_code = np.unique(np.asarray(inner), return_inverse=True)[1]
    if not len(outer_code) == len(inner_code) == len(values) or len(values) == 0:
        raise ValueError(
            f"values, outer, inner: {len(values)}, {len(outer_code)} and {len(inner_code)} "
            "observations where equal, positive numbers are needed"
        )
    unit_key = outer_code * (inner_code.max() + 1) + inner_code
    _, first_row, unit = np.unique(unit_key, return_index=True, return_inverse=True)
    outer_of_unit = outer_code[first_row]
    columns = _design_by_unit(design, unit, first_row, len(values))

    order = np.argsort(unit, kind="stable")
    starts = np.searchsorted(unit[order], np.arange(len(first_row)))
    seen = np.isfinite(values)
    counted = seen if not seen.all() else seen[:, :1]
    counts = np.add.reduceat(counted[order].astype(np.float64), starts, axis=0)
    centre, scale = _centre_and_scale(values, seen)
    standard = np.where(seen, (values - centre) / np.where(scale > 0, scale, 1.0), 0.0)
    totals = np.add.reduceat(standard[order], starts, axis=0)
    means = np.divide(totals, counts, out=np.zeros_like(totals), where=counts > 0)
    about_mean = np.where(seen, standard - means[unit], 0.0) ** 2
    squares = np.add.reduceat(about_mean[order], starts, axis=0)
    first_unit = np.searchsorted(outer_of_unit, np.arange(outer_code.max() + 1))
    sums = NestedSums(
        counts, means, squares, squares.sum(axis=0), columns, outer_of_unit, first_unit
    )
    _check_fixed_effects(sums)
    return sums, centre, scale


def _centre_and_scale(values: FloatArray, seen: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    observed = np.maximum(seen.sum(axis=0), 1)
    centre = np.where(seen, values, 0.0).sum(axis=0) / observed
    spread = np.sqrt((np.where(seen, values - centre, 0.0) ** 2).sum(axis=0) / observed)
    # Below the rounding of its own size a spread is none: a curve's node that is 0 in every swing.
    rounding = 1e-12 * np.abs(np.where(seen, values, 0.0)).max(axis=0)
    return centre, np.where(spread > rounding, spread, 0.0)


def _design_by_unit(
    design: ArrayLike | None,
    unit: NDArray[np.int64],
    first_row: NDArray[np.int64],
    observations: int,
) -> FloatArray:
    """One row of the design for each inner unit; an intercept where there is no design."""
    if design is None:
        return np.ones((len(first_row), 1))
    rows = np.asarray(design, dtype=np.float64)
    if rows.ndim != 2 or len(rows) != observations or not np.isfinite(rows).all():
        raise ValueError(f"design: shape {rows.shape} where finite ({observations}, p) is needed")
    by_unit = rows[first_row]
    if (rows != by_unit[unit]).any():
        raise ValueError("design: a column varies within an inner unit; it must be constant there")
    return np.asarray(by_unit)


def _check_fixed_effects(sums: NestedSums) -> None:
    """Refuse a response whose own units do not tell its fixed effects apart."""
    held = (sums.counts > 0).astype(np.float64)
    crossed = np.einsum("up,uc,uq->cpq", sums.design, held, sums.design)
    ranks = np.linalg.matrix_rank(crossed, hermitian=True)
    short = np.flatnonzero(ranks < sums.effects_present[:, : len(ranks)].sum(axis=0))
    if short.size:
        raise ValueError(
            f"design: response {short[0]} tells only {ranks[short[0]]} fixed effects apart; "
            "leave out a column that others add up to"
        )
