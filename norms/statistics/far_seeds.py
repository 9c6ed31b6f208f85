"""Seeds far apart, from which a division of rows into groups starts.

Letters: n rows, d columns, k groups, r starts.
"""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


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
