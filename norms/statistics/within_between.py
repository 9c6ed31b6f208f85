"""A column taken apart into what varies within a group and what tells groups apart."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

ROUNDING: Final = 1e-12
"""Share of a column's largest value below which a difference is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """Within and between parts of c columns.

    Attributes
    ----------
    within : ndarray, shape (s, c)
        Value minus the mean of its group in its stratum; NaN where the value is missing.
    between : ndarray, shape (s, c)
        Mean over the group of values taken from their stratum's mean: one number per group.
    """

    within: FloatArray
    between: FloatArray


def within_and_between(values: ArrayLike, groups: ArrayLike, strata: ArrayLike) -> Parts:
    """Take columns apart (Mundlak 1978, Econometrica 46:69; Neuhaus and Kalbfleisch 1998).

    Parameters
    ----------
    values : array_like, shape (s, c)
        NaN is left out of every mean.
    groups : array_like, shape (s,)
        Golfers, say.
    strata : array_like, shape (s,)
        Kinds of observation with means of their own (clubs): a group's deviations are taken
        from its mean in the same stratum, so that no difference between strata is mistaken for
        variation within the group. The within part then sums to zero in every group, and with it
        to nothing in common with the between part.
    """
    table = np.asarray(values, dtype=np.float64)
    group = np.unique(np.asarray(groups), return_inverse=True)[1]
    stratum = np.unique(np.asarray(strata), return_inverse=True)[1]
    cell = np.unique(group * (int(stratum.max(initial=0)) + 1) + stratum, return_inverse=True)[1]
    seen = np.isfinite(table)
    filled = np.where(seen, table, 0.0)
    centred = np.where(seen, filled - group_means(filled, seen, stratum), 0.0)
    size = np.abs(filled).max(axis=0, initial=0.0)
    within = _without_rounding(filled - group_means(filled, seen, cell), size)
    between = _without_rounding(group_means(centred, seen, group), size)
    return Parts(within=np.where(seen, within, np.nan), between=np.where(seen, between, np.nan))


def _without_rounding(part: FloatArray, size: FloatArray) -> FloatArray:
    """What the rounding of a mean leaves is no variation: it must not be fitted."""
    return np.where(np.abs(part) > ROUNDING * size, part, 0.0)


def group_means(
    values: FloatArray, seen: NDArray[np.bool_], codes: NDArray[np.int64]
) -> FloatArray:
    """Mean of the seen values of each observation's group, shape (s, c); 0 where none is seen."""
    order = np.argsort(codes, kind="stable")
    if not order.size:
        return values.copy()
    starts = np.flatnonzero(np.r_[True, np.diff(codes[order]) > 0])
    sums = np.add.reduceat(np.where(seen, values, 0.0)[order], starts)
    counts = np.add.reduceat(seen[order].astype(np.float64), starts)
    means: FloatArray = (sums / np.maximum(counts, 1.0))[codes]
    return means
