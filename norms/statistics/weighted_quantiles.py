"""Quantiles of weighted values, each with an interval at what its weights leave of the count."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from norms.statistics.quantiles import QuantileTable, order_statistic_ranks

FloatArray = NDArray[np.float64]


def weighted_percentiles(
    values: FloatArray, weights: FloatArray, percents: Sequence[float], confidence: float = 0.90
) -> QuantileTable:
    """Percentiles of weighted rows, each with an interval at its effective count.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        One row per independent unit, NaN where missing.
    weights : ndarray, shape (n,)
        Positive.
    percents : sequence of float
    confidence : float

    Returns
    -------
    QuantileTable
        With equal weights, those of `quantiles_with_intervals`. NaN where the effective count has
        no interval.

    References
    ----------
    Woodruff (1952), J. Am. Stat. Assoc. 47:635: interval of a weighted quantile from that of the
    share, here exact binomial at the effective count (Korn and Graubard 1998, Surv. Methodol.
    24:193).
    """
    shares = np.asarray(percents, dtype=float) / 100.0
    value, low, high = (np.full((shares.size, values.shape[1]), np.nan) for _ in range(3))
    for column in range(values.shape[1]):
        present = ~np.isnan(values[:, column])
        order = np.argsort(values[present, column], kind="stable")
        x, w = values[present, column][order], weights[present][order]
        if not x.size:
            continue
        # Rank r of n equal weights stands at r / (n + 1): type 6; a weight moves it by its share.
        position = (np.cumsum(w) - w / 2.0 + w.mean() / 2.0) / (w.sum() + w.mean())
        for row, share in enumerate(shares):
            point = np.interp(share, position, x)
            effective = _effective_count(x <= point, w)
            ranks = order_statistic_ranks(effective, float(share), confidence)
            if ranks[0] is not None and ranks[1] is not None:
                limits = np.array(ranks, dtype=float) / (effective + 1)
                value[row, column] = point
                low[row, column], high[row, column] = np.interp(limits, position, x)
    return QuantileTable(value, low, high)


def _effective_count(below: NDArray[np.bool_], weights: FloatArray) -> int:
    """Equal weights that would know the share below as well; never more than there are.

    Not Kish's number: heavy rows that sit together in a tail cost that tail more than the middle.
    """
    share = weights[below].sum() / weights.sum()
    if not 0.0 < share < 1.0:
        return int(np.floor(weights.sum() ** 2 / (weights**2).sum() + 1e-9))
    variance = (weights**2 * (below - share) ** 2).sum() / weights.sum() ** 2
    effect = max(1.0, weights.size * variance / (share * (1.0 - share)))
    return int(np.floor(weights.size / effect + 1e-9))
