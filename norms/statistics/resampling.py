"""Resampling of golfers, and the bootstrapped factor of a simultaneous prediction band.

Norms take the leave-one-golfer-out band instead (`norms.cohort.simultaneous_bands`), which holds
newcomers where this one, whose golfers are in their own resamples, falls short. The published
method stands here for the simulations that show it, and for the benchmark against a plain loop.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_BLOCK: Final = 1024
"""Resamples multiplied at a time."""

_NO_SPREAD: Final = 1e-12
"""A resample whose variance at a node is below this share of the sample's has none there."""


def resample_counts(golfers: int, resamples: int, rng: np.random.Generator) -> IntArray:
    """How often each golfer is drawn in each resample of golfers with replacement.

    Parameters
    ----------
    golfers, resamples : int
    rng : numpy.random.Generator

    Returns
    -------
    counts : ndarray of int, shape (resamples, golfers)
        Each row sums to ``golfers``.
    """
    drawn = rng.integers(0, golfers, (resamples, golfers))
    return counts_of_draws(drawn, golfers)


def counts_of_draws(drawn: IntArray, golfers: int) -> IntArray:
    """Turn rows of drawn numbers (0 to golfers - 1) into rows of counts, one per golfer."""
    return np.stack([np.bincount(row, minlength=golfers) for row in drawn])


def bootstrap_band_factor(
    curves: FloatArray, counts: IntArray, level: float, *, ddof: int = 0
) -> float:
    """Factor C of the band mean +/- C sd that holds a whole curve, by bootstrap.

    Over all resamples b and all original curves i, the largest deviation is
    ``M[b, i] = max over nodes |curve_i - mean_b| / sd_b``; C is the smallest value that at least
    the share ``level`` of them does not exceed. Resamples without spread at some node are
    dropped. A curve enters its own resamples, as published, so that C is slightly small for a
    newcomer at few golfers: use it only where it has been shown to cover.

    The result is exact for the given resamples, yet most of the M[b, i] are never computed: from
    the extremes of ``mean_b`` and ``sd_b`` over resamples each M[b, i] is bounded from both sides,
    and only curves (and their nodes) whose bounds reach the wanted quantile are evaluated.

    Parameters
    ----------
    curves : ndarray, shape (n, p)
        One curve per golfer.
    counts : ndarray of int, shape (b, n)
        As by `resample_counts`.
    level : float
        Share of whole curves to hold, 0 to 1.
    ddof : {0, 1}
        Divisor n - ddof of every variance.

    Raises
    ------
    ValueError
        If all curves agree at a node, or every resample was dropped.

    References
    ----------
    Lenhoff et al. (1999), Gait Posture 9:10, as adapted in open code; the paper was not read.
    """
    spread = curves.std(axis=0, ddof=ddof)
    if not (spread > 0).all():
        raise ValueError("curves: all agree at a node; leave it out or start later")
    z = (curves - curves.mean(axis=0)) / spread
    shift, stretch = _resampled_moments(z, counts, ddof)
    if len(shift) == 0:
        raise ValueError("counts: every resample lacks spread at some node; more curves are needed")
    return _pruned_quantile(z, shift, stretch, level)


def _resampled_moments(z: FloatArray, counts: IntArray, ddof: int) -> tuple[FloatArray, FloatArray]:
    """Mean, and 1 / sd, of each resample that has spread everywhere; shape (b, p) each."""
    n = len(z)
    squares = z**2
    shifts, stretches = [], []
    for first in range(0, len(counts), _BLOCK):
        shares = counts[first : first + _BLOCK] / n
        mean = shares @ z
        variance = (shares @ squares - mean**2) * (n / (n - ddof))
        kept = (variance > _NO_SPREAD).all(axis=1)
        shifts.append(mean[kept])
        stretches.append(1 / np.sqrt(variance[kept]))
    return np.concatenate(shifts), np.concatenate(stretches)


def _pruned_quantile(z: FloatArray, shift: FloatArray, stretch: FloatArray, level: float) -> float:
    """Quantile of max over nodes of |z[i] - shift[b]| stretch[b], over all b and i."""
    resamples = len(shift)
    size = np.abs(z)
    farthest = np.abs(shift).max(axis=0)
    at_least = np.maximum(size - farthest, 0) * stretch.min(axis=0)
    at_most = (size + farthest) * stretch.max(axis=0)
    floor, ceiling = at_least.max(axis=1), at_most.max(axis=1)

    # The quantile wanted is the rank-th smallest; each curve stands for all its resamples.
    rank = int(np.ceil(level * resamples * len(z) - 1e-9))
    curve_rank = (rank - 1) // resamples
    quantile_floor = np.sort(floor)[curve_rank]
    quantile_ceiling = np.sort(ceiling)[curve_rank]
    below = ceiling < quantile_floor
    between = np.flatnonzero(~below & (floor <= quantile_ceiling))

    nodes_that_matter = (at_most[i] >= floor[i] for i in between)
    maxima = np.concatenate(list(_maxima(z[between], nodes_that_matter, shift, stretch)))
    place = rank - 1 - resamples * int(below.sum())
    return float(np.partition(maxima, place)[place])


def _maxima(
    z: FloatArray,
    nodes_that_matter: Iterator[NDArray[np.bool_]],
    shift: FloatArray,
    stretch: FloatArray,
) -> Iterator[FloatArray]:
    shift_by_node = np.ascontiguousarray(shift.T)
    stretch_by_node = np.ascontiguousarray(stretch.T)
    for curve, nodes in zip(z, nodes_that_matter, strict=True):
        deviation = np.abs(curve[nodes, None] - shift_by_node[nodes])
        yield (deviation * stretch_by_node[nodes]).max(axis=0)
