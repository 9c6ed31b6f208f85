"""Permutation tests of whole coefficient curves by the largest statistic, groups as units.

Within groups: the sign of each group's whole score is flipped, whatever its number of
observations. Between groups: whitened residuals of the groups' means are permuted. Both give one
p value for every node together, adjusted for having looked everywhere.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from norms.statistics.mixed_models import fit_random_intercepts
from norms.statistics.permutation import MaxTTest, max_t_within_golfers
from norms.statistics.within_between import Parts, group_means

FloatArray = NDArray[np.float64]

RELABELLINGS: Final = 1_999
LEVEL: Final = 0.05
_BLOCK: Final = 500
_NOTHING: Final = 1e-10


def within_scores(
    outcome: FloatArray,
    shared: FloatArray,
    within: FloatArray,
    groups: NDArray[np.int64],
    strata: NDArray[np.int64],
) -> FloatArray:
    """Each group's share of the covariance of curve and outcome within groups, shape (g, p).

    Outcome, curves and covariates are taken from their mean over the group's observations of the
    same stratum, and what covariates then explain is taken out of both.

    Parameters
    ----------
    outcome : ndarray, shape (s,)
    shared : ndarray, shape (s, q)
    within : ndarray, shape (s, p)
    groups, strata : ndarray of int, shape (s,)
    """
    cell = np.unique(groups * (int(strata.max()) + 1) + strata, return_inverse=True)[1]
    table = np.column_stack([shared, outcome])
    left = table - group_means(table, np.ones(table.shape, dtype=bool), cell)
    covariates, y = left[:, :-1], left[:, -1]
    covariates = covariates[:, (covariates**2).sum(axis=0) > _NOTHING * (shared**2).sum(axis=0)]
    if covariates.shape[1]:
        basis = np.linalg.qr(covariates)[0]
        y = y - basis @ (basis.T @ y)
        within = within - basis @ (basis.T @ within)
    order = np.argsort(groups, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(groups[order]) > 0])
    scores = np.add.reduceat((within * y[:, np.newaxis])[order], starts)
    counts = np.diff(np.r_[starts, groups.size])
    repeated: FloatArray = scores[counts > 1]
    return repeated


def within_curve_test(
    outcome: ArrayLike,
    shared: ArrayLike,
    parts: Parts,
    groups: ArrayLike,
    strata: ArrayLike,
    rng: np.random.Generator,
    *,
    relabellings: int = RELABELLINGS,
    level: float = LEVEL,
) -> MaxTTest:
    """Does the curve go with the outcome within groups, anywhere?

    Under no association each group's score is as likely to point one way as the other, so its
    sign is flipped (Hemerik, Goeman and Finos 2020, J. R. Stat. Soc. B 82:841). Observations of a
    group may depend on one another in any way.

    Parameters
    ----------
    outcome : array_like, shape (s,)
    shared : array_like, shape (s, q)
        Covariates, the intercept among them.
    parts : Parts
        Of the curves, shape (s, p).
    groups, strata : array_like, shape (s,)
    rng : numpy.random.Generator
    relabellings : int
    level : float

    Raises
    ------
    ValueError
        If fewer than two groups have repeated observations, or no node varies.
    """
    scores = within_scores(
        np.asarray(outcome, dtype=np.float64),
        np.asarray(shared, dtype=np.float64),
        np.where(np.isfinite(parts.within), parts.within, 0.0),
        np.unique(np.asarray(groups), return_inverse=True)[1],
        np.unique(np.asarray(strata), return_inverse=True)[1],
    )
    # Scaled node by node, so that a node of small curves is not taken for one without spread.
    size = np.sqrt((scores**2).sum(axis=0))
    scaled = scores / np.where(size > 0.0, size, 1.0)
    return max_t_within_golfers(scaled, rng, relabellings=relabellings, level=level)


def between_curve_test(
    outcome: ArrayLike,
    shared: ArrayLike,
    parts: Parts,
    groups: ArrayLike,
    rng: np.random.Generator,
    *,
    relabellings: int = RELABELLINGS,
    level: float = LEVEL,
) -> MaxTTest:
    """Does the groups' mean curve go with the groups' mean outcome, anywhere?

    Means are weighted by the precision that the mixed model without the curve gives a group of
    their number of observations; the residuals of the weighted regression on covariates are
    permuted (Freedman and Lane 1983, J. Bus. Econ. Stat. 1:292; Winkler and others 2014,
    NeuroImage 92:381).

    Parameters
    ----------
    outcome, shared, parts, groups, rng, relabellings, level
        As in `within_curve_test`.

    Raises
    ------
    ValueError
        If there are fewer than three groups more than covariates, or no node varies.
    """
    means = _whitened_means(
        np.asarray(outcome, dtype=np.float64),
        np.asarray(shared, dtype=np.float64),
        np.where(np.isfinite(parts.between), parts.between, 0.0),
        np.unique(np.asarray(groups), return_inverse=True)[1],
    )
    rest = len(means.outcome) - means.basis.shape[1] - 1
    if rest < 2:
        raise ValueError(f"groups: {len(means.outcome)} where covariates need more")
    residual = means.outcome - means.basis @ (means.basis.T @ means.outcome)
    curves = means.curves - means.basis @ (means.basis.T @ means.curves)
    length = np.sqrt((curves**2).sum(axis=0))
    live = length > _NOTHING * np.sqrt((means.curves**2).sum(axis=0)).max(initial=0.0)
    live &= length > 0.0
    if not live.any():
        raise ValueError("curves: all groups agree at every node, so there is nothing to test")
    scaled = curves[:, live] / length[live]
    observed = residual @ scaled / np.linalg.norm(residual)
    largest = [np.array([np.abs(observed).max()])]
    for first in range(0, relabellings, _BLOCK):
        rows = min(_BLOCK, relabellings - first)
        mixed = rng.permuted(np.tile(residual, (rows, 1)), axis=1)
        left = np.linalg.norm(mixed - (mixed @ means.basis) @ means.basis.T, axis=1)
        largest.append(np.abs(mixed @ scaled).max(axis=1) / left)
    return _result(observed, live, np.sort(np.concatenate(largest)), rest, level)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Means:
    outcome: FloatArray
    basis: FloatArray
    curves: FloatArray


def _whitened_means(
    y: FloatArray, shared: FloatArray, between: FloatArray, codes: NDArray[np.int64]
) -> _Means:
    fit = fit_random_intercepts(y, shared, np.empty((len(y), 1, 0)), codes)
    counts = np.bincount(codes)
    root = 1.0 / np.sqrt(fit.group_variance[0] + fit.residual_variance[0] / counts)
    table = np.column_stack([shared, y])
    sums = np.stack([np.bincount(codes, column) for column in table.T], axis=1)
    weighted = sums / counts[:, np.newaxis] * root[:, np.newaxis]
    first = np.unique(codes, return_index=True)[1]
    left, size, _ = np.linalg.svd(weighted[:, :-1], full_matrices=False)
    return _Means(
        outcome=weighted[:, -1],
        basis=left[:, size > _NOTHING * size[0]],
        curves=between[first] * root[:, np.newaxis],
    )


def _result(
    observed: FloatArray, live: NDArray[np.bool_], ranked: FloatArray, rest: int, level: float
) -> MaxTTest:
    """Correlations as t values; p values count relabellings, the observed one among them."""

    def t_of(correlation: FloatArray) -> FloatArray:
        left = np.maximum(1.0 - correlation**2, 1e-300)
        return np.asarray(correlation * np.sqrt(rest / left), dtype=np.float64)

    t, node_p = np.full(len(live), np.nan), np.full(len(live), np.nan)
    t[live] = t_of(observed)
    above = len(ranked) - np.searchsorted(ranked, np.abs(observed) - 1e-10)
    node_p[live] = above / len(ranked)
    critical = ranked[int(np.ceil((1.0 - level) * len(ranked) - 1e-9)) - 1]
    return MaxTTest(
        t=t,
        largest=float(np.nanmax(np.abs(t))),
        node=int(np.nanargmax(np.abs(t))),
        p_value=float(np.nanmin(node_p)),
        node_p_values=node_p,
        critical=float(t_of(np.array([critical]))[0]),
        level=level,
        relabellings=len(ranked),
        exact=False,
    )
