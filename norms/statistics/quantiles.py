"""Sample quantiles of many columns at once, each with an exact interval from order statistics.

One sort serves every percentile and every interval limit, so an interval costs two look-ups.
"""

from functools import lru_cache
from math import ceil, log, log1p
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import bdtr

FloatArray = NDArray[np.float64]

QuantileType = Literal[6, 7, 8]
DEFAULT_TYPE: Final[QuantileType] = 6
"""Rank p(n + 1): the definition of nonparametric reference limits in CLSI EP28-A3c."""


class QuantileTable(NamedTuple):
    """Quantiles of k columns at q percentiles, each array of shape (q, k).

    Attributes
    ----------
    value, low, high : ndarray, shape (q, k)
        The quantile and the limits of its interval; all three NaN where the column has too few
        values for a two-sided interval.
    """

    value: FloatArray
    low: FloatArray
    high: FloatArray


def quantiles(
    values: ArrayLike, percents: ArrayLike, kind: QuantileType = DEFAULT_TYPE
) -> FloatArray:
    """Sample quantiles along axis 0, missing values left out column by column.

    Parameters
    ----------
    values : array_like, shape (n, k)
        NaN marks a missing value.
    percents : array_like, shape (q,)
        Percentiles, 0 to 100.
    kind : {6, 7, 8}
        Definition by the numbers of Hyndman and Fan (1996), Am. Stat. 50:361.

    Returns
    -------
    ndarray, shape (q, k)
        NaN for a column without a value.

    Raises
    ------
    ValueError
        If ``values`` is not two-dimensional or a percentile lies outside 0 to 100.
    """
    ordered, counts = _ordered(values)
    shares = _shares(percents)
    result = np.full((shares.size, ordered.shape[1]), np.nan)
    for n in np.unique(counts[counts > 0]):
        columns = counts == n
        result[:, columns] = _interpolate(ordered, columns, int(n), shares, kind)
    return result


def quantiles_with_intervals(
    values: ArrayLike,
    percents: ArrayLike,
    confidence: float = 0.90,
    kind: QuantileType = DEFAULT_TYPE,
) -> QuantileTable:
    """Sample quantiles along axis 0, each with a distribution-free interval.

    The interval runs between two order statistics whose ranks come from the binomial
    distribution (`order_statistic_ranks`); it covers with at least ``confidence`` whatever the
    distribution the rows were drawn from, provided the rows are independent.

    Parameters
    ----------
    values : array_like, shape (n, k)
        One row per independent unit; NaN marks a missing value and is left out of its column.
    percents : array_like, shape (q,)
        Percentiles, strictly between 0 and 100.
    confidence : float
        Confidence of the two-sided interval, strictly between 0 and 1.
    kind : {6, 7, 8}
        Definition by the numbers of Hyndman and Fan (1996).

    Returns
    -------
    QuantileTable
        NaN throughout where no two-sided interval exists at that column's count.

    Raises
    ------
    ValueError
        If ``values`` is not two-dimensional, or a percentile or the confidence is out of range.
    """
    ordered, counts = _ordered(values)
    shares = _shares(percents)
    value, low, high = (np.full((shares.size, ordered.shape[1]), np.nan) for _ in range(3))
    for n in np.unique(counts[counts > 0]):
        columns = counts == n
        ranks = [order_statistic_ranks(int(n), float(p), confidence) for p in shares]
        for row, (lower, upper) in enumerate(ranks):
            if lower is not None and upper is not None:
                at = shares[row : row + 1]
                value[row, columns] = _interpolate(ordered, columns, int(n), at, kind)
                low[row, columns] = ordered[lower - 1, columns]
                high[row, columns] = ordered[upper - 1, columns]
    return QuantileTable(value, low, high)


@lru_cache(maxsize=4096)
def order_statistic_ranks(
    n: int, p: float, confidence: float = 0.90
) -> tuple[int | None, int | None]:
    """Ranks of the order statistics that bound the p-quantile with the stated confidence.

    With a = 1 - confidence and B binomial(n, p): lower rank is the a/2 quantile of B, upper rank
    the 1 - a/2 quantile plus 1. Above the median the ranks mirror those of 1 - p. At p = 0.025
    this gives the published 90 % rank table of CLSI C28-A3 / EP28-A3c.

    Parameters
    ----------
    n : int
        Number of values.
    p : float
        Quantile as a share, strictly between 0 and 1.
    confidence : float
        Strictly between 0 and 1.

    Returns
    -------
    lower, upper : int or None
        Ranks from 1 to n; None where that side has no bound at this n.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    _check_shares(p, confidence)
    if n < 1:
        raise ValueError(f"n: {n} where at least one value is needed")
    if p > 0.5:
        lower, upper = order_statistic_ranks(n, 1.0 - p, confidence)
        return (n + 1 - upper if upper else None, n + 1 - lower if lower else None)
    tail = (1.0 - confidence) / 2.0
    # bdtr is the binomial distribution function; scipy.stats would cost the command line more
    # to import than the whole computation takes.
    cumulative = bdtr(np.arange(n + 1, dtype=float), n, p)
    first = int(np.searchsorted(cumulative, tail))
    last = int(np.searchsorted(cumulative, 1.0 - tail)) + 1
    return (first if first >= 1 else None, last if last <= n else None)


@lru_cache(maxsize=1024)
def smallest_n(p: float, confidence: float = 0.90) -> int:
    """Smallest number of values at which the p-quantile has a two-sided exact interval.

    It is the smallest n with (1 - p)^n < (1 - confidence) / 2 for p up to one half, and the same
    for 1 - p above: 119 for the 2.5th percentile at 90 %.

    Parameters
    ----------
    p : float
        Quantile as a share, strictly between 0 and 1.
    confidence : float
        Strictly between 0 and 1.

    Returns
    -------
    int

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    _check_shares(p, confidence)
    n = max(1, ceil(log((1.0 - confidence) / 2.0) / log1p(-min(p, 1.0 - p))) - 1)
    while None in order_statistic_ranks(n, p, confidence):
        n += 1
    return n


def _ordered(values: ArrayLike) -> tuple[FloatArray, NDArray[np.intp]]:
    """Columns sorted with missing values last, and the count of present values of each."""
    array = np.asarray(values, dtype=float)
    if array.ndim != 2:
        raise ValueError(f"values: shape {array.shape} where (n, k) is needed")
    return np.sort(array, axis=0), array.shape[0] - np.isnan(array).sum(axis=0)


def _interpolate(
    ordered: FloatArray,
    columns: NDArray[np.bool_],
    n: int,
    shares: FloatArray,
    kind: QuantileType,
) -> FloatArray:
    """Quantiles of the chosen sorted columns, each of which holds n values."""
    offset = {6: shares, 7: 1.0 - shares, 8: (shares + 1.0) / 3.0}[kind]
    position = np.clip(n * shares + offset, 1.0, float(n))
    rank = np.floor(position).astype(np.intp)
    below = ordered[rank - 1][:, columns]
    above = ordered[np.minimum(rank, n - 1)][:, columns]
    # The minimum keeps rounding from passing the upper neighbour, so that percentiles never cross.
    between: FloatArray = below + (position - rank)[:, np.newaxis] * (above - below)
    result: FloatArray = np.minimum(between, above)
    return result


def _shares(percents: ArrayLike) -> FloatArray:
    shares = np.atleast_1d(np.asarray(percents, dtype=float)) / 100.0
    if shares.ndim != 1 or not ((shares >= 0.0) & (shares <= 1.0)).all():
        raise ValueError(f"percents: {shares * 100.0} where numbers from 0 to 100 are needed")
    return shares


def _check_shares(p: float, confidence: float) -> None:
    if not 0.0 < p < 1.0:
        raise ValueError(f"p: {p} where a share strictly between 0 and 1 is needed")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence: {confidence} where a share between 0 and 1 is needed")
