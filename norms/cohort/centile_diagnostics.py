"""Worms, Q statistics and centile error of fitted centiles, from the golfers' own scores."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from norms.records.centiles import CentileDiagnostics
from norms.statistics.location_scale_shape.diagnostics import (
    WORM_SCORES,
    equal_groups,
    q_statistics,
    shares_below,
    worm_half_width,
    worms,
)
from norms.vocabulary import BAND_PERCENTS

FloatArray = NDArray[np.float64]

_WORM_BINS = 4
_GOLFERS_PER_Q_GROUP = 30
_MOST_Q_GROUPS = 16


def diagnose(
    scores: FloatArray, handicaps: FloatArray, weights: FloatArray, freedom: FloatArray
) -> CentileDiagnostics:
    """Describe how golfers' scores depart from the standard normal along handicap.

    Parameters
    ----------
    scores : ndarray, shape (r, n)
        z of each golfer at their own handicap; finite.
    handicaps, weights : ndarray, shape (n,)
        The weights enter the shares below centiles; worms and Q statistics count golfers.
    freedom : ndarray, shape (r, k)
        Effective degrees of freedom of each parameter.

    Returns
    -------
    CentileDiagnostics
    """
    thirds = equal_groups(handicaps, 3)
    everyone = np.arange(len(handicaps))
    limits = ndtri(np.array(BAND_PERCENTS) / 100.0)
    bins = equal_groups(handicaps, _WORM_BINS)
    worm, cubic = worms(scores, bins)
    groups = int(np.clip(len(handicaps) // _GOLFERS_PER_Q_GROUP, 2, _MOST_Q_GROUPS))
    spent = np.zeros((len(scores), 4))
    spent[:, : freedom.shape[1]] = freedom
    q, q_freedom, q_p = q_statistics(scores, equal_groups(handicaps, groups), spent)
    return CentileDiagnostics(
        percents=BAND_PERCENTS,
        share_below_pct=100.0 * shares_below(scores, limits, [everyone, *thirds], weights),
        third_edges=(float(handicaps[thirds[1]].min()), float(handicaps[thirds[2]].min())),
        worm_scores=WORM_SCORES,
        worm=worm,
        worm_half_width=worm_half_width(len(handicaps) // _WORM_BINS),
        worm_cubic=cubic,
        q=q,
        q_freedom=q_freedom,
        q_p=q_p,
    )
