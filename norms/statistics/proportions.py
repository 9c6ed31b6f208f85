"""Where a value falls among others, and how sure that share is."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Standing(NamedTuple):
    """Counts of k columns around one value each, every array of shape (k,).

    Attributes
    ----------
    counted, below, equal : ndarray of int, shape (k,)
        Values present, smaller than, and equal to the one held against them.
    percentile : ndarray, shape (k,)
        Mid-rank percentile 100 (below + equal / 2) / counted; NaN where nothing can be counted.
    """

    counted: IntArray
    below: IntArray
    equal: IntArray
    percentile: FloatArray


def standing(value: ArrayLike, values: ArrayLike) -> Standing:
    """Mid-rank percentile of one value per column among the values of that column.

    Parameters
    ----------
    value : array_like, shape (k,)
        NaN where there is none; its counts below and equal are then 0.
    values : array_like, shape (n, k)
        NaN marks a missing value and is not counted.

    Returns
    -------
    Standing

    Raises
    ------
    ValueError
        If the shapes do not fit.
    """
    one, many = np.asarray(value, dtype=float), np.asarray(values, dtype=float)
    if many.ndim != 2 or one.shape != many.shape[1:]:
        raise ValueError(f"value: shape {one.shape} does not fit values of shape {many.shape}")
    # A comparison with NaN is false, so missing values count nowhere.
    counted = np.count_nonzero(~np.isnan(many), axis=0)
    below = np.count_nonzero(many < one, axis=0)
    equal = np.count_nonzero(many == one, axis=0)
    known = (counted > 0) & ~np.isnan(one)
    percentile = np.full(one.shape, np.nan)
    percentile[known] = 100.0 * (below[known] + equal[known] / 2.0) / counted[known]
    return Standing(counted, below, equal, percentile)


def wilson_interval(
    successes: ArrayLike, trials: ArrayLike, confidence: float = 0.90
) -> tuple[FloatArray, FloatArray]:
    """Score interval of a proportion.

    Parameters
    ----------
    successes : array_like
        Count, 0 to ``trials``; half counts are allowed, as a mid-rank has them.
    trials : array_like
        At least 1; broadcast against ``successes``.
    confidence : float
        Strictly between 0 and 1.

    Returns
    -------
    low, high : ndarray
        Limits as shares from 0 to 1.

    Raises
    ------
    ValueError
        If a number is out of range.

    References
    ----------
    Wilson EB (1927), J. Am. Stat. Assoc. 22:209; without continuity correction, method 3 of
    Newcombe RG (1998), Stat. Med. 17:857.
    """
    x, n = np.broadcast_arrays(np.asarray(successes, float), np.asarray(trials, float))
    if not ((n >= 1) & (x >= 0) & (x <= n)).all():
        raise ValueError(
            "successes: each must be a count from 0 to its trials, of at least 1 trial"
        )
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence: {confidence} where a share between 0 and 1 is needed")
    z2 = float(ndtri((1.0 + confidence) / 2.0)) ** 2
    centre = x + z2 / 2.0
    half = np.sqrt(z2 * (x * (n - x) / n + z2 / 4.0))
    # Exact at the ends, where rounding would leave the limit an ulp short of or beyond them.
    low = np.where(x == 0, 0.0, (centre - half) / (n + z2))
    high = np.where(x == n, 1.0, (centre + half) / (n + z2))
    return low, high
