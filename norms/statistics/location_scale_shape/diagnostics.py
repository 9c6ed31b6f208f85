"""Do the scores of a fitted location-scale-shape model follow the standard normal?

Sources: van Buuren & Fredriks, Worm plot: a simple diagnostic device for modelling growth
reference curves, Statistics in Medicine 20 (2001) 1259-1277; Royston & Wright, Goodness-of-fit
statistics for age-specific reference intervals, Statistics in Medicine 19 (2000) 2943-2962.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

WORM_SCORES: FloatArray = np.linspace(-2.0, 2.0, 17)


def equal_groups(order_by: FloatArray, groups: int) -> list[IntArray]:
    """Positions in rising order of ``order_by``, cut into groups of equal size within one."""
    return [
        np.asarray(part) for part in np.array_split(np.argsort(order_by, kind="stable"), groups)
    ]


def worms(scores: FloatArray, bins: list[IntArray]) -> tuple[FloatArray, FloatArray]:
    """Detrended normal plots of the scores, bin by bin.

    Parameters
    ----------
    scores : ndarray, shape (r, n)
    bins : list of b ndarray of int
        Positions of the golfers of each bin.

    Returns
    -------
    worm : ndarray, shape (r, b, w)
        Score minus normal score, read at `WORM_SCORES`; NaN beyond the bin's extremes.
    cubic : ndarray, shape (r, b, 4)
        Coefficients of 1, x, x^2, x^3 of the least-squares cubic through all points of the worm.
    """
    worm = np.full((len(scores), len(bins), len(WORM_SCORES)), np.nan)
    cubic = np.full((len(scores), len(bins), 4), np.nan)
    for b, members in enumerate(bins):
        count = len(members)
        x = ndtri((np.arange(1, count + 1) - 0.5) / count)
        deviation = np.sort(scores[:, members], axis=1) - x
        cubic[:, b] = np.linalg.lstsq(np.vander(x, 4, increasing=True), deviation.T)[0].T
        for r, points in enumerate(deviation):
            worm[r, b] = np.interp(WORM_SCORES, x, points, left=np.nan, right=np.nan)
    return worm, cubic


def worm_half_width(count: int) -> FloatArray:
    """Half-width of a worm's pointwise 95 % limits with ``count`` golfers, shape (w,)."""
    share = ndtr(WORM_SCORES)
    density = np.exp(-0.5 * WORM_SCORES**2) / np.sqrt(2.0 * np.pi)
    half: FloatArray = ndtri(0.975) * np.sqrt(share * (1.0 - share) / count) / density
    return half


def q_statistics(
    scores: FloatArray, groups: list[IntArray], freedom: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Q statistics: are mean, variance, skewness and kurtosis of z those of the normal everywhere?

    Parameters
    ----------
    scores : ndarray, shape (r, n)
    groups : list of G ndarray of int
        Positions of the golfers of each group; at least 20 golfers each.
    freedom : ndarray, shape (r, 4)
        Degrees of freedom spent on location, scale, skew and tail.

    Returns
    -------
    q, q_freedom, q_p : ndarray, shape (r, 4)
        The sums over groups of squared normal scores for each moment, their degrees of freedom,
        G minus those spent (for the variance half of those spent plus one), and the upper tail of
        chi-squared; NaN where less than one degree is left.
    """
    from scipy import stats  # here, because placing imports this module and does not need it

    q = np.zeros((len(scores), 4))
    for members in groups:
        z, n = scores[:, members], len(members)
        shrink = 2.0 / (9.0 * n - 9.0)
        variance = z.var(axis=1, ddof=1)
        moments = (
            np.sqrt(n) * z.mean(axis=1),
            (np.cbrt(variance) - (1.0 - shrink)) / np.sqrt(shrink),  # Wilson & Hilferty
            stats.skewtest(z, axis=1).statistic,
            stats.kurtosistest(z, axis=1).statistic,
        )
        q += np.stack(moments, axis=1) ** 2
    spent = freedom.copy()
    spent[:, 1] = 0.5 * (spent[:, 1] + 1.0)
    left = len(groups) - spent
    tail = stats.chi2.sf(q, np.where(left >= 1.0, left, np.nan))
    return q, left, np.asarray(tail, dtype=np.float64)


def shares_below(
    scores: FloatArray, limits: FloatArray, groups: list[IntArray], weights: FloatArray
) -> FloatArray:
    """Weighted share of golfers whose score is below each limit, in each group.

    Parameters
    ----------
    scores : ndarray, shape (r, n)
    limits : ndarray, shape (q,)
        Normal scores of the percentiles.
    groups : list of G ndarray of int
    weights : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (r, G, q)
        0 to 1.
    """
    parts = [
        ((scores[:, g, None] < limits) * weights[g, None]).sum(axis=1) / weights[g].sum()
        for g in groups
    ]
    return np.stack(parts, axis=1)
