"""Where along a curve it goes with a scalar outcome: within groups and between groups.

A mixed model at every node, all nodes at once; the two coefficient curves are then smoothed, and
their joint band comes from the groups' own contributions, so that the correlation along the curve
and any unevenness among groups are taken as they are (fast univariate inference, Cui, Leroux,
Smirnova and Crainiceanu 2022, J. Comput. Graph. Stat. 31:219, with a cluster-robust covariance).
Dimension letters: s observations, g groups, p nodes, e the two parts (within, between).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg, stats

from norms.statistics.mixed_models import MixedFits, fit_random_intercepts
from norms.statistics.within_between import Parts

FloatArray = NDArray[np.float64]

SMOOTH_FREEDOM: Final = 30.0
"""Effective parameters of a smoothed coefficient curve over 301 nodes: ten a phase."""
DRAWS: Final = 2_000
MOST_LEVERAGE: Final = 0.9
"""A group that decides a coefficient alone would otherwise be divided by nothing."""
_BLOCK: Final = 500


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoefficientCurves:
    """Within and between coefficients along a curve.

    Attributes
    ----------
    pointwise, pointwise_error : ndarray, shape (2, p)
        As the mixed model of each node gives them; NaN where the node has no spread.
    value, error : ndarray, shape (2, p)
        Smoothed, and its standard error: the larger of the model's and the groups' own scatter.
    factors : ndarray, shape (2,)
        Standard errors on either side of ``value`` that hold the whole curve with the stated
        confidence.
    confidence : float
    unsettled : int
        Nodes with a coefficient whose fit did not converge.
    singular : int
        Nodes with a coefficient whose group variance is zero.
    """

    pointwise: FloatArray
    pointwise_error: FloatArray
    value: FloatArray
    error: FloatArray
    factors: FloatArray
    confidence: float
    unsettled: int
    singular: int

    def limits(self) -> tuple[FloatArray, FloatArray]:
        """Lower and upper limit of the joint bands, shape (2, p) each."""
        reach = self.factors[:, np.newaxis] * self.error
        return self.value - reach, self.value + reach


def fit_coefficient_curves(
    outcome: ArrayLike,
    shared: ArrayLike,
    parts: Parts,
    groups: ArrayLike,
    rng: np.random.Generator,
    *,
    stretches: tuple[slice, ...],
    confidence: float = 0.95,
) -> CoefficientCurves:
    """Fit the two coefficient curves.

    Parameters
    ----------
    outcome : array_like, shape (s,)
    shared : array_like, shape (s, q)
        Columns of every node's model, the intercept among them.
    parts : Parts
        Of the curves, shape (s, p); a node without spread is a column of zeros or NaN.
    groups : array_like, shape (s,)
    rng : numpy.random.Generator
        For the band's factor.
    stretches : tuple of slice
        Runs of nodes that are smoothed by themselves: one for each axis.
    confidence : float
        Of each joint band over all stretches.
    """
    y, columns = np.asarray(outcome, dtype=np.float64), np.asarray(shared, dtype=np.float64)
    codes = np.unique(np.asarray(groups), return_inverse=True)[1]
    order = np.argsort(codes, kind="stable")
    y, columns, codes = y[order], columns[order], codes[order]
    fits, contributions = [], []
    for stretch in stretches:
        own = np.stack([parts.within[order, stretch], parts.between[order, stretch]], axis=2)
        own = np.where(np.isfinite(own), own, 0.0)
        fit = fit_random_intercepts(y, columns, own, codes)
        fits.append(fit)
        contributions.append(_contributions(y, columns, own, codes, fit))
    return _banded(fits, contributions, rng, confidence, columns.shape[1])


def _contributions(
    y: FloatArray, shared: FloatArray, own: FloatArray, codes: NDArray[np.int64], fit: MixedFits
) -> FloatArray:
    """What each group adds to the error of the two coefficients, shape (2, g, p).

    Divided by one less the group's leverage, as if it had been left out of the fit that judges it
    (the jackknife, CR3 of Bell and McCaffrey 2002, Survey Methodology 28:169).
    """
    q = shared.shape[1]
    starts = np.flatnonzero(np.r_[True, np.diff(codes) > 0])
    counts = np.diff(np.r_[starts, codes.size])[:, np.newaxis]
    fixed = np.where(np.isfinite(fit.fixed), fit.fixed, 0.0)
    residual = y[:, np.newaxis] - shared @ fixed[:, :q].T
    residual -= own[:, :, 0] * fixed[:, q] + own[:, :, 1] * fixed[:, q + 1]
    ratio = fit.group_variance / fit.residual_variance
    weight = ratio / (1.0 + counts * ratio)
    pulled = weight * np.add.reduceat(residual, starts)
    # The covariance holds the residual variance, which the scores do not.
    bread = fit.covariance[:, q:, :] / fit.residual_variance[:, np.newaxis, np.newaxis]
    total = np.empty((2, len(starts), own.shape[1]))
    for part in range(2):
        # The column that acts on this coefficient: what the others leave of it, scaled.
        lever = shared @ bread[:, part, :q].T
        lever += own[:, :, 0] * bread[:, part, q] + own[:, :, 1] * bread[:, part, q + 1]
        sums = np.add.reduceat(lever, starts)
        score = np.add.reduceat(lever * residual, starts) - sums * pulled
        share = np.add.reduceat(lever**2, starts) - weight * sums**2
        own_variance = bread[:, part, q + part]
        leverage = share / np.where(own_variance > 0.0, own_variance, 1.0)
        total[part] = score / (1.0 - np.minimum(leverage, MOST_LEVERAGE))
    return total


def _banded(
    fits: list[MixedFits],
    contributions: list[FloatArray],
    rng: np.random.Generator,
    confidence: float,
    q: int,
) -> CoefficientCurves:
    raw = np.concatenate([fit.fixed[:, q:].T for fit in fits], axis=1)
    spread = np.concatenate(
        [np.sqrt(np.einsum("cii->ci", fit.covariance)[:, q:].T) for fit in fits], axis=1
    )
    asked = np.isfinite(raw).any(axis=0)
    groups = contributions[0].shape[1]
    value, error = np.full(raw.shape, np.nan), np.full(raw.shape, np.nan)
    factors = np.full(2, np.nan)
    for part in range(2):
        smooth, pieces, first = [], [], 0
        for fit, own in zip(fits, contributions, strict=True):
            stretch = slice(first, first + len(fit.fixed))
            first = stretch.stop
            live = np.isfinite(raw[part, stretch])
            operator = smoother(spread[part, stretch], live)
            smooth.append(_applied(operator, raw[part, stretch], live))
            pieces.append(np.where(live, own[part][:, live] @ operator[:, live].T, np.nan))
        pieces_all = np.concatenate(pieces, axis=1)
        value[part] = np.concatenate(smooth)
        rest = max(groups - q - 1, 1)
        # The groups' own scatter or the model's error, whichever is larger: with few groups the
        # first is itself uncertain, and where swings are tied in other ways the second too small.
        error[part] = np.maximum(np.sqrt((pieces_all**2).sum(axis=0)), spread[part])
        factors[part] = _factor(pieces_all, rest, rng, confidence)
    return CoefficientCurves(
        pointwise=raw,
        pointwise_error=spread,
        value=value,
        error=error,
        factors=factors,
        confidence=confidence,
        unsettled=int((asked & ~np.concatenate([fit.converged for fit in fits])).sum()),
        singular=int((asked & np.concatenate([fit.singular for fit in fits])).sum()),
    )


def smoother(error: FloatArray, live: NDArray[np.bool_]) -> FloatArray:
    """Linear smoother of noisy values on evenly spaced nodes, shape (p, p).

    Whittaker's smoother with second differences penalised, each value weighted by its inverse
    squared error, with the penalty that leaves `SMOOTH_FREEDOM` effective parameters (fewer where
    fewer nodes are live).

    Parameters
    ----------
    error : ndarray, shape (p,)
    live : ndarray of bool, shape (p,)
        Nodes that have a value; the others get none and give none.
    """
    nodes = len(error)
    operator = np.zeros((nodes, nodes))
    count = int(live.sum())
    if count < 4:
        operator[live, live] = 1.0
        return operator
    weight = 1.0 / error[live] ** 2
    weight /= np.median(weight)
    bends = np.diff(np.eye(count), n=2, axis=0)
    root = np.sqrt(weight)
    strength = linalg.eigvalsh(bends.T @ bends / np.outer(root, root)).clip(min=0.0)
    wanted = min(SMOOTH_FREEDOM * count / 301.0 + 2.0, count - 1.0)
    low, high = -12.0, 12.0  # of the penalty's decimal logarithm
    for _ in range(60):
        middle = (low + high) / 2.0
        left = (1.0 / (1.0 + 10.0**middle * strength)).sum()
        low, high = (middle, high) if left > wanted else (low, middle)
    inside = np.linalg.solve(np.diag(weight) + 10.0**low * bends.T @ bends, np.diag(weight))
    operator[np.ix_(live, live)] = inside
    return operator


def _applied(operator: FloatArray, values: FloatArray, live: NDArray[np.bool_]) -> FloatArray:
    smoothed = operator[:, live] @ values[live]
    return np.where(live, smoothed, np.nan)


def _factor(pieces: FloatArray, rest: int, rng: np.random.Generator, confidence: float) -> float:
    """Largest standardised deviation that a multiplier bootstrap of the groups gives."""
    live = np.isfinite(pieces).all(axis=0)
    if not live.any():
        return float("nan")
    scaled = pieces[:, live] / np.sqrt((pieces[:, live] ** 2).sum(axis=0))
    largest = [
        np.abs(rng.standard_normal((_BLOCK, len(scaled))) @ scaled).max(axis=1)
        for _ in range(DRAWS // _BLOCK)
    ]
    normal = float(np.quantile(np.concatenate(largest), confidence))
    # The errors are estimated too: the normal quantile at this height becomes Student's.
    tail = float(stats.norm.sf(normal))
    return float(stats.t.isf(tail, rest))
