"""Intervals of variances and of sums of variance components."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

FloatArray = NDArray[np.float64]


def variance_interval(
    estimate: ArrayLike, variance_of_estimate: ArrayLike, confidence: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Chi-square interval of a variance with Satterthwaite's degrees of freedom.

    Parameters
    ----------
    estimate, variance_of_estimate : array_like
        A variance, or a sum of variance components, and its sampling variance.
    confidence : float

    Returns
    -------
    low, high : ndarray
        NaN where the sampling variance is not known.

    Notes
    -----
    Degrees of freedom 2 · estimate² / variance (Satterthwaite 1946, Biometrics Bull 2:110).
    """
    value = np.asarray(estimate, dtype=np.float64)
    spread = np.asarray(variance_of_estimate, dtype=np.float64)
    known = (spread > 0) & (value > 0)
    freedom = np.where(known, 2 * value**2 / np.where(known, spread, 1.0), np.nan)
    low = freedom * value / stats.chi2.ppf((1 + confidence) / 2, freedom)
    high = freedom * value / stats.chi2.ppf((1 - confidence) / 2, freedom)
    return np.asarray(low), np.asarray(high)


def sum_interval(
    first: ArrayLike, second: ArrayLike, covariance: ArrayLike, confidence: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Interval of the sum of two variance components, the second known from more data.

    Parameters
    ----------
    first, second : array_like, shape (c,)
        Estimates, e.g. of the variance between and within sessions.
    covariance : array_like, shape (2, 2, c)
        Of the two estimates.
    confidence : float

    Returns
    -------
    low, high : ndarray, shape (c,)

    Notes
    -----
    Modified large samples (Graybill & Wang 1980, J Am Stat Assoc 75:869), which cover better
    than Satterthwaite's single chi-square. The sum is written with two uncorrelated parts, as
    mean squares are in balanced data: ``first + share * second`` and what remains of ``second``.
    """
    b, e = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    spread = np.asarray(covariance, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = -spread[0, 1] / spread[1, 1]
        part = b + share * e
        part_spread = spread[0, 0] - share**2 * spread[1, 1]
    low_part, high_part = variance_interval(part, part_spread, confidence)
    low_rest, high_rest = (
        (1 - share) * limit for limit in variance_interval(e, spread[1, 1], confidence)
    )
    rest = (1 - share) * e
    low = b + e - np.hypot(part - low_part, rest - low_rest)
    high = b + e + np.hypot(high_part - part, high_rest - rest)
    return np.asarray(low), np.asarray(high)
