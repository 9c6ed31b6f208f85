"""Control charts: whether a series of measurements of the same thing has stayed the same.

Limits are three-sigma by default: a series in control leaves them about once in 370 points
(Shewhart). A point outside is a reason to look for a cause, not a proof of one.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

FloatArray = NDArray[np.float64]

RANGE_TO_SIGMA: Final = 2.0 / np.sqrt(np.pi)
"""d2 for ranges of two: mean absolute difference of two normal values, in sigmas (1.128)."""
EWMA_WEIGHT: Final = 0.2
EWMA_SIGMAS: Final = 2.86
"""With weight 0.2 a false alarm about once in 370 points, as the three-sigma Shewhart chart has
(Lucas & Saccucci 1990, Technometrics 32:1, from memory; measured in tests/calibration)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ControlChart:
    """A charted series with its limits.

    Attributes
    ----------
    points, centre, low, high : ndarray, shape (m,)
        In time order.
    out : ndarray of bool, shape (m,)
        Points beyond a limit.
    sigma : float
        Standard deviation of a single point that the limits rest on.
    """

    points: FloatArray
    centre: FloatArray
    low: FloatArray
    high: FloatArray
    out: NDArray[np.bool_]
    sigma: float


def individuals_chart(
    values: ArrayLike,
    *,
    centre: float | None = None,
    sigma: float | None = None,
    sigmas: float = 3.0,
) -> ControlChart:
    """Shewhart chart of single values.

    Parameters
    ----------
    values : array_like, shape (m,)
        In time order, finite.
    centre : float, optional
        Known target; by default the mean.
    sigma : float, optional
        Known standard deviation; by default from the mean moving range of two, which a slow drift
        does not inflate.
    sigmas : float
        Width of the limits.

    Raises
    ------
    ValueError
        If there are fewer than two values, or one is not finite.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2.
    """
    series = _finite_series(values)
    middle = float(series.mean()) if centre is None else centre
    spread = float(np.abs(np.diff(series)).mean() / RANGE_TO_SIGMA) if sigma is None else sigma
    return _chart(
        series, np.full(len(series), middle), np.full(len(series), sigmas * spread), spread
    )


def ewma_chart(
    values: ArrayLike,
    *,
    centre: float,
    sigma: float,
    weight: float = EWMA_WEIGHT,
    sigmas: float = EWMA_SIGMAS,
    steady_limits: bool = False,
) -> ControlChart:
    """Exponentially weighted moving average: sees a small lasting shift that single points hide.

    Parameters
    ----------
    values : array_like, shape (m,)
        In time order, finite.
    centre, sigma : float
        Target and standard deviation of a single value.
    weight : float
        Of the newest value, over 0 and at most 1.
    sigmas : float
    steady_limits : bool
        Use the limits that the chart settles to, in place of those exact for each point.

    Raises
    ------
    ValueError
        If there are fewer than two values, one is not finite, or ``weight`` is out of range.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4 (which uses steady limits).
    """
    series = _finite_series(values)
    if not 0 < weight <= 1:
        raise ValueError(f"weight: {weight} where a value over 0, to 1, is needed")
    smooth = np.empty(len(series))
    level = centre
    for place, value in enumerate(series):
        level = weight * value + (1 - weight) * level
        smooth[place] = level
    steps = np.arange(1, len(series) + 1)
    settled = 1.0 if steady_limits else 1 - (1 - weight) ** (2 * steps)
    reach = sigmas * sigma * np.sqrt(weight / (2 - weight) * settled) * np.ones(len(series))
    return _chart(smooth, np.full(len(series), centre), reach, sigma)


def spread_score(variance: ArrayLike, freedom: ArrayLike, expected: ArrayLike) -> FloatArray:
    """Normal score of a sample variance against an expected one.

    Parameters
    ----------
    variance, freedom, expected : array_like
        Sample variance, its degrees of freedom, and the variance that it estimates.

    Returns
    -------
    ndarray
        Positive for more spread than expected; NaN without degrees of freedom.

    Notes
    -----
    ``freedom * variance / expected`` is chi-square; the tail is taken on the side it lies, so
    that no score is lost to rounding.
    """
    df = np.asarray(freedom, dtype=np.float64)
    known = df > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        statistic = np.asarray(variance) / np.asarray(expected) * df
    statistic = np.where(known, statistic, np.nan)
    df = np.where(known, df, 1.0)
    upper = -stats.norm.ppf(stats.chi2.sf(statistic, df))
    lower = stats.norm.ppf(stats.chi2.cdf(statistic, df))
    return np.asarray(np.where(statistic > df, upper, lower))


def family_sigmas(sigmas: float, charts: int) -> float:
    """Limit for each of several charts read together, so that all raise no more false alarms.

    Parameters
    ----------
    sigmas : float
        Limit that a single chart would have.
    charts : int

    Notes
    -----
    Bonferroni: valid however the charts depend on one another.
    """
    return float(-stats.norm.ppf(stats.norm.sf(sigmas) / charts))


def _finite_series(values: ArrayLike) -> FloatArray:
    series = np.asarray(values, dtype=np.float64)
    if series.ndim != 1 or len(series) < 2 or not np.isfinite(series).all():
        raise ValueError(f"values: shape {series.shape} where 2 or more finite values are needed")
    return series


def _chart(points: FloatArray, centre: FloatArray, reach: FloatArray, sigma: float) -> ControlChart:
    return ControlChart(
        points=points,
        centre=centre,
        low=centre - reach,
        high=centre + reach,
        out=np.abs(points - centre) > reach,
        sigma=sigma,
    )
