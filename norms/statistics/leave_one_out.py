"""Variance components without each outer unit in turn, and intervals that rest on them.

Expected information holds for normal, equally unsteady units only. What single units change when
they are left out holds for any: skewed, heavy-tailed, or each with a steadiness of its own.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from norms.statistics._nested_likelihood import (
    evaluate,
    information,
    known_mean_by_outer,
    score_by_outer,
)
from norms.statistics._nested_sums import aggregate
from norms.statistics.variance_components import NestedComponents

FloatArray = NDArray[np.float64]

MOST_LEVERAGE: Final = 0.9
"""Share of the information one unit may take with it: beyond, one step says nothing."""
LEAST_LEFT: Final = 0.05
"""Of a variance, when a unit is left out: a step of Newton's may pass below zero."""
SKEWNESS_UNDERSTATED: Final = 2.0
"""A few dozen heavy-tailed values show about half of their skewness: chosen by simulation."""
LEAST_OF_EXPECTED: Final = 0.9
"""Share of the error that normal, equally unsteady units would give: less is luck, by
simulation."""
MOST_REACH: Final = 2.3
"""Standard errors at which the skewness is reckoned with; the expansion fails farther out."""


def without_each_outer(
    values: ArrayLike,
    outer: ArrayLike,
    inner: ArrayLike,
    components: NestedComponents,
    design: ArrayLike | None = None,
) -> FloatArray:
    """The three variances of every response with each outer unit left out in turn.

    Parameters
    ----------
    values, outer, inner, design
        As given to `norms.statistics.variance_components.fit_nested`.
    components : NestedComponents
        Its answer.

    Returns
    -------
    ndarray, shape (3, g, c)
        NaN for a unit without the response. A component that stands at zero may fall below.

    Notes
    -----
    One step of Fisher's scoring from the estimate of all, with the unit's share of the score and
    of the information taken out.
    """
    table = np.asarray(values, dtype=np.float64)
    table = table[:, None] if table.ndim == 1 else table
    sums, _, scale = aggregate(table, outer, inner, design)
    told = np.isfinite(components.variances)
    unit = np.where(scale > 0, scale, 1.0) ** 2
    theta = np.nan_to_num(components.variances) / unit
    # Where the residual is not told, or is nil, nothing may be divided by it.
    theta[2] = np.where(theta[2] > 0, theta[2], 1.0)
    state = evaluate(sums, theta)
    both = told.T[:, :, None] & told.T[:, None, :]
    whole = np.where(both, information(sums, theta, state), np.eye(3))
    shares = np.where(both, 0.5 * known_mean_by_outer(sums, theta, state), 0.0)
    slopes = np.where(told.T, np.moveaxis(score_by_outer(sums, theta, state), 0, -1), 0.0)
    left = _with_share_taken(whole, shares)
    steps = np.moveaxis(np.linalg.solve(left, slopes[..., None])[..., 0], -1, 0)
    present = np.broadcast_to(sums.over_outer(sums.counts) > 0, steps.shape[1:])
    return np.where(present, components.variances[:, None] - steps * unit, np.nan)


def _with_share_taken(whole: FloatArray, shares: FloatArray) -> FloatArray:
    """Whole minus share, each share held below `MOST_LEVERAGE` of the whole in any direction."""
    diagonal = np.einsum("cii->ci", whole)
    roots = np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    both = roots[:, :, None] * roots[:, None, :]
    # A ridge of rounding keeps components that the data hardly tell apart from stopping others.
    factor = np.linalg.cholesky(whole / both + 1e-9 * np.eye(3))
    inverse = np.linalg.inv(factor)
    relative = inverse @ (shares / both) @ np.swapaxes(inverse, -1, -2)
    values, vectors = np.linalg.eigh(relative)
    kept = 1.0 - np.clip(values, 0.0, MOST_LEVERAGE)
    middle = (vectors * kept[..., None, :]) @ np.swapaxes(vectors, -1, -2)
    return np.asarray(factor @ middle @ np.swapaxes(factor, -1, -2) * both)


def error_interval(
    components: NestedComponents,
    without: FloatArray,
    confidence: float = 0.95,
    *,
    same_inner: bool = False,
) -> tuple[FloatArray, FloatArray]:
    """Interval of the variance of single observations of an outer unit.

    Parameters
    ----------
    components : NestedComponents
    without : ndarray, shape (3, g, c)
        Of `without_each_outer`.
    confidence : float
    same_inner : bool
        Whether the observations lie in one inner unit: the residual alone then tells them apart.

    Returns
    -------
    low, high : ndarray, shape (c,)
        NaN where the design does not tell the variance.
    """
    told = components.residual_repeated if same_inner else components.inner_repeated
    error, error_without = (
        parts[2] if same_inner else parts[1] + parts[2]
        for parts in (np.nan_to_num(components.variances), _numbers(without))
    )
    ones = np.ones_like(error), np.ones_like(error_without)
    weights = np.array([0.0, not same_inner, 1.0])
    expected = np.einsum("i,ijc,j->c", weights, components.covariance, weights)
    with np.errstate(divide="ignore", invalid="ignore"):
        least = LEAST_OF_EXPECTED * np.sqrt(expected) / error
    # Where few golfers have two days the jackknife can come out too small by luck.
    low, high = ratio_interval(error, ones[0], error_without, ones[1], confidence, least=least)
    return np.where(told, low, np.nan), np.where(told, high, np.nan)


def correlation_interval(
    components: NestedComponents,
    without: FloatArray,
    confidence: float = 0.95,
    *,
    same_inner: bool = False,
) -> tuple[FloatArray, FloatArray]:
    """Interval of `norms.statistics.variance_components.correlation`.

    Parameters
    ----------
    components, without, confidence, same_inner
        As in `error_interval`.

    Returns
    -------
    low, high : ndarray, shape (c,)

    Notes
    -----
    On the scale of ``1 + k0 shared / rest``, which an F test would compare.
    """
    told = components.residual_repeated if same_inner else components.inner_repeated
    told = told & np.isfinite(components.variances[0])
    size = components.outer_size

    def parts(variances: FloatArray) -> tuple[FloatArray, FloatArray]:
        outer, inner, residual = variances
        shared, rest = (outer + inner, residual) if same_inner else (outer, inner + residual)
        return rest + size * shared, rest

    above, below = parts(np.nan_to_num(components.variances))
    limits = ratio_interval(above, below, *parts(_numbers(without)), confidence)
    low, high = (np.where(told, np.maximum(limit - 1, 0) / size, np.nan) for limit in limits)
    return low / (1 + low), high / (1 + high)


def _numbers(without: FloatArray) -> FloatArray:
    """Components that the design does not tell count as none; a unit that is not there stays NaN.

    The residual, which takes up what is not told, is there wherever the unit is.
    """
    gone = np.isnan(without).all(axis=0)
    return np.where(gone, np.nan, np.nan_to_num(without))


def ratio_interval(
    above: FloatArray,
    below: FloatArray,
    above_without: FloatArray,
    below_without: FloatArray,
    confidence: float = 0.95,
    *,
    least: float | FloatArray = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Interval of a ratio of two sums of variances, with no law assumed for the units.

    Parameters
    ----------
    above, below : ndarray, shape (c,)
        Numerator and denominator; ones for a plain sum.
    above_without, below_without : ndarray, shape (g, c)
        The same with each unit left out; NaN for a unit that is not there.
    confidence : float
    least : float or ndarray, shape (c,)
        Standard error of the logarithm that is taken where the jackknife's is smaller.

    Returns
    -------
    low, high : ndarray, shape (c,)

    Notes
    -----
    Jackknife of the logarithm. Three things decide the reach: the jackknife's standard error; a t
    quantile whose degrees of freedom follow from the kurtosis of the units' shares, as the error
    is itself known from few units that matter; and the skewness of those shares, by Hall's
    expansion of a studentised mean (1992, The Bootstrap and Edgeworth Expansion, from memory),
    with the term that the logarithm and the ratio add. Skewness makes an interval longer on the
    side where the truth is missed, never shorter on the other.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        upper = -np.log(np.maximum(above_without / above, LEAST_LEFT))
        lower = -np.log(np.maximum(below_without / below, LEAST_LEFT))
        here = np.isfinite(above_without)
        units = here.sum(axis=0)
        share = np.where(here, upper - lower, 0.0)
        share = np.where(here, share - share.sum(axis=0) / units, 0.0)
        # Not times (n - 1) / n, as the jackknife has it: of a dozen units it falls short.
        variance = (share**2).sum(axis=0)
        error = np.fmax(np.sqrt(variance), least)
        reach = stats.t.ppf((1 + confidence) / 2, _freedom(share, units))
        near = np.minimum(reach, MOST_REACH)
        skewness = (share**3).sum(axis=0) / variance**1.5
        bend = [np.where(here, part * share, 0.0).sum(axis=0) ** 2 for part in (upper, lower)]
        bent = (bend[0] - bend[1]) / variance**1.5
        shift = skewness * (2 * near**2 + 1) / 6 - near**2 * bent / 2
        shift = SKEWNESS_UNDERSTATED * shift
        ratio = above / below
        low = ratio * np.exp(-error * (reach + np.maximum(-shift, 0.0)))
        high = ratio * np.exp(error * (reach + np.maximum(shift, 0.0)))
    known = (variance > 0) & (units > 1)
    return np.where(known, low, np.nan), np.where(known, high, np.nan)


def _freedom(share: FloatArray, units: NDArray[np.int64]) -> FloatArray:
    """Degrees of freedom of a sum of squares, from its own spread; at most units less one."""
    squares = (share**2).sum(axis=0)
    spread = (share**4).sum(axis=0) - squares**2 / units
    freedom = 2 * squares**2 / np.maximum(spread, np.finfo(float).tiny)
    return np.asarray(np.clip(freedom, 1.0, np.maximum(units - 1, 1)))
