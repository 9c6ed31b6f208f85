"""One person against a small group: the exact t test of a single case."""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

FloatArray = NDArray[np.float64]

FEWEST: Final = 3
"""Members of the group below which nothing is said."""


class SingleCase(NamedTuple):
    """Result for each of d measures, arrays of shape (d,).

    Attributes
    ----------
    t : ndarray
        (value - mean) / sqrt(sd^2 (n + 1) / n), the extra variance added under the root.
    p : ndarray
        Two-sided; NaN where fewer than three members have the measure or they do not differ.
    percent_below : ndarray
        Estimated percent of the population with a smaller value.
    members : ndarray of int
    """

    t: FloatArray
    p: FloatArray
    percent_below: FloatArray
    members: NDArray[np.int64]


def single_case(value: ArrayLike, group: ArrayLike, extra_variance: ArrayLike = 0.0) -> SingleCase:
    """Whether a case differs from a group of whom only a sample is known.

    A plain z treats the sample's mean and spread as the population's and flags too often: at five
    members 14.7 % instead of 5 %.

    Parameters
    ----------
    value : array_like, shape (d,)
    group : array_like, shape (n, d)
        One row for each member, the case not among them; NaN where a member lacks a measure.
    extra_variance : array_like, shape (d,)
        Variance that the case's value has beyond the members', as of fewer measurements; 0 gives
        the published test.

    Returns
    -------
    SingleCase

    References
    ----------
    Crawford and Howell (1998), Clin. Neuropsychol. 12:482.
    """
    case, rows = np.asarray(value, dtype=np.float64), np.asarray(group, dtype=np.float64)
    known = np.isfinite(rows)
    n = known.sum(axis=0)
    held = np.where(known, rows, 0.0)
    mean = held.sum(axis=0) / np.maximum(n, 1)
    squares = (np.where(known, rows - mean, 0.0) ** 2).sum(axis=0)
    sd = np.sqrt(squares / np.maximum(n - 1, 1))
    usable = (n >= FEWEST) & (sd > 1e-12 * np.maximum(np.abs(mean), 1.0)) & np.isfinite(case)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.sqrt(sd**2 * (n + 1) / np.maximum(n, 1) + np.asarray(extra_variance))
        t = np.where(usable, (case - mean) / spread, np.nan)
        below = special.stdtr(np.maximum(n - 1, 1), t)
    return SingleCase(
        t=t,
        p=2.0 * np.minimum(below, 1.0 - below),
        percent_below=100.0 * below,
        members=n.astype(np.int64),
    )
