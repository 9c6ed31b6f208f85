"""Groups of least squares by Lloyd's steps from seeds far apart, many starts at once.

Letters: n rows, d columns, k groups, r starts.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_STEPS: Final = 100


def k_means(
    rows: FloatArray, k: int, rng: np.random.Generator, *, starts: int = 20
) -> tuple[IntArray, float]:
    """Labels of the best of many starts, and its sum of squares within groups.

    Parameters
    ----------
    rows : ndarray, shape (n, d)
    k : int
        At most n.
    rng : numpy.random.Generator
    starts : int

    Returns
    -------
    labels : ndarray of int, shape (n,)
    within : float
    """
    centres = far_seeds(rows, k, rng, starts=starts)
    for _ in range(MOST_STEPS):
        labels = _squares(rows, centres).argmin(axis=2)
        moved = _means(rows, labels, centres)
        if np.array_equal(moved, centres):
            break
        centres = moved
    squares = _squares(rows, centres)
    within = squares.min(axis=2).sum(axis=1)
    best = int(within.argmin())
    chosen: IntArray = squares[best].argmin(axis=1).astype(np.int64)
    return chosen, float(within[best])


def far_seeds(rows: FloatArray, k: int, rng: np.random.Generator, *, starts: int) -> FloatArray:
    """Rows drawn as seeds, the far ones more likely (k-means++), shape (r, k, d).

    References
    ----------
    Arthur and Vassilvitskii (2007), SODA, 1027.
    """
    n = len(rows)
    chosen = rng.integers(n, size=(starts, 1))
    nearest = ((rows[None] - rows[chosen]) ** 2).sum(axis=2)
    while chosen.shape[1] < k:
        reach = np.cumsum(nearest, axis=1)
        drawn = rng.random((starts, 1)) * reach[:, -1:]
        added = np.minimum((reach <= drawn).sum(axis=1), n - 1)
        chosen = np.concatenate([chosen, added[:, None]], axis=1)
        nearest = np.minimum(nearest, ((rows[None] - rows[added][:, None]) ** 2).sum(axis=2))
    return rows[chosen]


def _squares(rows: FloatArray, centres: FloatArray) -> FloatArray:
    """Squared distance of each row from each centre, shape (r, n, k)."""
    squares: FloatArray = (
        (rows**2).sum(axis=1)[None, :, None]
        - 2.0 * np.einsum("nd,rkd->rnk", rows, centres)
        + (centres**2).sum(axis=2)[:, None, :]
    )
    return np.maximum(squares, 0.0)


def _means(rows: FloatArray, labels: IntArray, centres: FloatArray) -> FloatArray:
    """Mean of each group; a group left empty keeps its centre."""
    member = (labels[:, :, None] == np.arange(centres.shape[1])).astype(np.float64)
    counts = member.sum(axis=1)[:, :, None]
    sums = np.einsum("rnk,nd->rkd", member, rows)
    return np.where(counts > 0, sums / np.maximum(counts, 1.0), centres)
