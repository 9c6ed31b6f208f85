"""Registration of curves within one interval: when things happen made alike, ends held fixed.

Each unit's own time is turned into a common one by a monotone warp with fixed ends,
h(u) = integral of exp(W) from 0 to u, over its integral from 0 to 1 (Ramsay & Li 1998, J R Stat
Soc B 60:351), W a polynomial with two coefficients. The warp is chosen from a fixed grid, so that
the result does not depend on a search. What is made alike is the square-root velocity
q = f' / sqrt(|f'|), warped as q(h) sqrt(h') (Srivastava et al. 2011, IEEE Trans Pattern Anal
33:1415): a warp does not change its size, so that no difference of amplitude or offset can pass
for one of timing. Mean and warps take turns.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SLOPES: Final = tuple(np.linspace(-2.0, 2.0, 21))
BENDS: Final = tuple(np.linspace(-4.0, 4.0, 17))
"""Coefficients of W(u) = slope (u - 1/2) + bend ((u - 1/2)^2 - 1/12) that are tried."""
PENALTY: Final = 0.01
"""Weight of mean W squared against the cosine between a unit's and the mean square-root velocity:
flat curves, which no warp improves, keep their own time."""
ROUNDS: Final = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Registration:
    """Curves on a common time.

    Attributes
    ----------
    curves : ndarray, shape (n, a, p)
    own_time : ndarray, shape (n, p)
        Each curve's own time, 0 to 1, at the common nodes.
    variance_before, variance_after : ndarray, shape (a,)
        Variance between curves, summed over nodes.
    """

    curves: FloatArray
    own_time: FloatArray
    variance_before: FloatArray
    variance_after: FloatArray


def register(curves: FloatArray) -> Registration:
    """Register curves on equally spaced nodes; the several curves of one unit share a warp.

    Parameters
    ----------
    curves : ndarray, shape (n, a, p)
        n units with a curves each on p nodes from 0 to 1; all finite.

    Returns
    -------
    Registration

    Raises
    ------
    ValueError
        If there are fewer than two units, or a value is not finite.
    """
    if curves.ndim != 3 or len(curves) < 2 or not np.isfinite(curves).all():
        raise ValueError(f"curves: shape {curves.shape} where finite curves (2 or more, a, p) are")
    before = _variance(curves)
    warps, cost = _warps(curves.shape[2])
    chosen = np.zeros(len(curves), dtype=int)
    readers = _readers(curves.shape[2])
    slopes = np.sqrt(np.gradient(warps, axis=1) * (curves.shape[2] - 1))
    velocity = np.gradient(curves, axis=2)
    speed = np.sqrt(np.linalg.norm(velocity, axis=1, keepdims=True))
    roots = velocity / np.where(speed > 0, speed, 1.0)
    flat = roots.reshape(len(curves), -1)
    sizes = np.linalg.norm(flat, axis=1)
    if sizes.max() > 0:
        mean = roots.mean(axis=0)
        for _ in range(ROUNDS):
            # <q(h) sqrt(h'), mean> for every warp and unit, the warp moved over to the mean
            moved = np.einsum("kp,ap,kpq->kaq", slopes, mean, readers).reshape(len(warps), -1)
            limit = sizes * np.linalg.norm(mean)
            chosen = np.argmax(moved @ flat.T - PENALTY * cost[:, None] * limit, axis=0)
            warped = roots @ readers[chosen].transpose(0, 2, 1) * slopes[chosen][:, None]
            mean = warped.mean(axis=0)
    registered = curves @ readers[chosen].transpose(0, 2, 1)
    return Registration(
        curves=registered,
        own_time=warps[chosen],
        variance_before=before,
        variance_after=_variance(registered),
    )


def _variance(curves: FloatArray) -> FloatArray:
    return np.asarray(curves.var(axis=0, ddof=1).sum(axis=1))


@lru_cache(maxsize=4)
def _warps(nodes: int) -> tuple[FloatArray, FloatArray]:
    """All warps on the nodes, shape (w, p), the unwarped first, and mean W squared of each."""
    u = np.linspace(0.0, 1.0, nodes)
    pairs = sorted(((a, b) for a in SLOPES for b in BENDS), key=lambda ab: ab[0] ** 2 + ab[1] ** 2)
    a, b = np.array(pairs).T
    w = a[:, None] * (u - 0.5) + b[:, None] * ((u - 0.5) ** 2 - 1.0 / 12.0)
    steps = (np.exp(w[:, 1:]) + np.exp(w[:, :-1])) / 2.0
    rising = np.concatenate([np.zeros((len(w), 1)), np.cumsum(steps, axis=1)], axis=1)
    return rising / rising[:, -1:], (w**2).mean(axis=1)


@lru_cache(maxsize=4)
def _readers(nodes: int) -> FloatArray:
    """What reads a curve at each warp's times by straight lines, shape (w, p, p)."""
    warps, _ = _warps(nodes)
    place = np.clip(warps * (nodes - 1), 0.0, nodes - 1.0)
    left = np.minimum(place.astype(int), nodes - 2)
    k, row = np.indices(left.shape)
    readers = np.zeros((*left.shape, nodes))
    readers[k, row, left] = 1.0 - (place - left)
    readers[k, row, left + 1] = place - left
    return readers
