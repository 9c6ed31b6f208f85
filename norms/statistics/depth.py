"""How central each curve lies among the others: modified band depth and the functional boxplot."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_BLOCK: Final = 64
"""Nodes sorted at a time: enough to keep NumPy busy, few enough to stay in the cache."""


def modified_band_depth(curves: FloatArray) -> FloatArray:
    """Modified band depth of every curve, with bands of two curves (J = 2).

    The depth of a curve is the share, over all pairs of the n curves and over all nodes, of
    bands that hold it. Bands are closed and a pair that includes the curve itself counts, so ties
    need no rule of their own: equal values lie on the band's edge and are inside. At one node,
    with ``b`` curves strictly below and ``a`` strictly above, the pairs that miss the curve are
    those wholly below and wholly above, which leaves C(n, 2) - C(b, 2) - C(a, 2).

    Nodes at which all curves agree (zero at the start by definition) say nothing about order and
    are left out.

    Parameters
    ----------
    curves : ndarray, shape (n, ...)
        n curves; every further dimension is nodes, averaged alike (3 axes on one grid give the
        mean of the three axes' depths, where no node is left out).

    Returns
    -------
    depth : ndarray, shape (n,)
        2/n at the edge, up to about 1/2 for tie-free curves at the centre; 1 if all curves agree.

    Raises
    ------
    ValueError
        With fewer than two curves, or a value that is not finite.

    References
    ----------
    López-Pintado and Romo (2009), JASA 104:718; Sun, Genton and Nychka (2012), Stat 1:68 for the
    rank formula.
    """
    table = _checked_table(curves)
    n = len(table)
    pairs = n * (n - 1) // 2
    missed_without_ties = _missed_pairs(np.arange(n), np.arange(n)[::-1])
    missed = np.zeros(n, dtype=np.int64)
    at_node = np.empty(n, dtype=np.int64)
    used = 0
    for first in range(0, table.shape[1], _BLOCK):
        for column in np.ascontiguousarray(table[:, first : first + _BLOCK].T):
            order = _order(column)
            ranked = column[order]
            if ranked[0] == ranked[-1]:
                continue
            tied = (ranked[1:] == ranked[:-1]).any()
            at_node[order] = _missed_with_ties(ranked) if tied else missed_without_ties
            missed += at_node
            used += 1
    if used == 0:
        return np.ones(n)
    return 1 - missed / (pairs * used)


def _checked_table(curves: FloatArray) -> FloatArray:
    table = np.asarray(curves, dtype=np.float64)
    table = table.reshape(len(table), -1)
    if len(table) < 2:
        raise ValueError(f"curves: {len(table)} where at least 2 are needed for a depth")
    if not np.isfinite(table).all():
        raise ValueError("curves: every value must be finite")
    return table


def _order(column: FloatArray) -> IntArray:
    """Order that sorts a column; equal values may come in any order.

    NumPy sorts integers two to three times faster than it argsorts floats, so the values' bits,
    mapped to integers of the same order, carry the curve's number in their lowest bits. Values
    that differ in those bits alone may come out of order; then they are sorted the plain way.
    """
    bits = column.view(np.int64)
    number_mask = (1 << (len(column) - 1).bit_length()) - 1
    keys = bits ^ ((bits >> 63) & np.iinfo(np.int64).max)
    keys &= ~number_mask
    keys |= np.arange(len(column))
    keys.sort()
    order = keys & number_mask
    ranked = column[order]
    return np.argsort(column) if (ranked[1:] < ranked[:-1]).any() else order


def _missed_with_ties(ranked: FloatArray) -> IntArray:
    """Pairs whose closed band misses each of the sorted values, equal ones among them."""
    n = len(ranked)
    starts = np.flatnonzero(np.concatenate(([True], ranked[1:] != ranked[:-1])))
    ends = np.append(starts[1:], n)
    return _missed_pairs(np.repeat(starts, ends - starts), n - np.repeat(ends, ends - starts))


def _missed_pairs(below: IntArray, above: IntArray) -> IntArray:
    """Pairs wholly below or wholly above, C(below, 2) + C(above, 2)."""
    return (below * (below - 1) + above * (above - 1)) // 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FunctionalBoxplot:
    """The boxplot of a set of curves.

    Attributes
    ----------
    median : int
        Number of the deepest curve (the first of them where several are equally deep).
    central : ndarray of bool, shape (n,)
        The ceil(n / 2) deepest curves.
    lower, upper : ndarray, shape (p,)
        Envelope of the central curves.
    fence_lower, fence_upper : ndarray, shape (p,)
        The envelope widened on both sides by ``factor`` times its own width.
    outside : ndarray of bool, shape (n,)
        Curves that leave the fences at any node.
    """

    median: int
    central: NDArray[np.bool_]
    lower: FloatArray
    upper: FloatArray
    fence_lower: FloatArray
    fence_upper: FloatArray
    outside: NDArray[np.bool_]


def functional_boxplot(
    curves: FloatArray, depth: FloatArray, *, factor: float = 1.5
) -> FunctionalBoxplot:
    """Functional boxplot: the deeper half's envelope, fences about it, and who leaves them.

    Parameters
    ----------
    curves : ndarray, shape (n, p)
    depth : ndarray, shape (n,)
        Depth of each curve, as by `modified_band_depth`. Equal depths are taken in the curves'
        order.
    factor : float
        Widths of the envelope between it and the fence.

    References
    ----------
    Sun and Genton (2011), J. Comput. Graph. Stat. 20:316.
    """
    deepest = np.argsort(-depth, kind="stable")
    central = np.zeros(len(curves), dtype=bool)
    central[deepest[: (len(curves) + 1) // 2]] = True
    lower = curves[central].min(axis=0)
    upper = curves[central].max(axis=0)
    reach = factor * (upper - lower)
    outside = ((curves < lower - reach) | (curves > upper + reach)).any(axis=1)
    return FunctionalBoxplot(
        median=int(deepest[0]),
        central=central,
        lower=lower,
        upper=upper,
        fence_lower=lower - reach,
        fence_upper=upper + reach,
        outside=outside,
    )
