"""What a pattern is: its golfers, its middle, and its distinguishing features."""

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.pattern_matching import PatternKey
from norms.records import Cohort
from norms.records.centiles import SMALLEST_GROUP
from norms.records.patterns import Pattern, PatternFeature
from norms.statistics.cluster_stability import stability_grade
from norms.statistics.proportions import wilson_interval

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FEATURES_TOLD: Final = 6

NameOf = Callable[[Sequence[PatternFeature]], str]
"""Makes a plain name from a pattern's distinguishing features, most distinguishing first."""


def describe_patterns(
    cohort: Cohort,
    levels: Sequence[str],
    level_order: Sequence[str],
    rows: FloatArray,
    labels: IntArray,
    means: FloatArray,
    stability: FloatArray,
    keys: Sequence[PatternKey],
    name_of: NameOf,
) -> tuple[Pattern, ...]:
    """Every pattern of a division in the order of its labels.

    Parameters
    ----------
    cohort : Cohort
    levels : sequence of n str
        Level of each golfer.
    level_order : sequence of str
    rows : ndarray, shape (n, c)
        Scores, level taken off.
    labels : ndarray of int, shape (n,)
    means : ndarray, shape (k, c)
    stability : ndarray, shape (k,)
    keys : sequence of k PatternKey
    name_of : callable

    Returns
    -------
    tuple of k Pattern
    """
    within_level = _without_level(cohort.features, levels)
    of_level = np.array(levels)
    described = []
    for place, key in enumerate(keys):
        own = labels == place
        count = int(own.sum())
        low, high = wilson_interval(np.array(float(count)), np.array(len(labels)), 0.90)
        features = _distinguishing(within_level, own, cohort.feature_names)
        members = np.flatnonzero(own)
        nearest = ((rows[members] - means[place]) ** 2).sum(axis=1).argmin()
        described.append(
            Pattern(
                key=key.key,
                name=key.name or name_of(features),
                golfers=count,
                share=count / len(labels),
                share_low=float(low),
                share_high=float(high),
                stability=float(stability[place]),
                grade=stability_grade(float(stability[place])),
                medoid=int(members[nearest]),
                mean_cm=cohort.curves_cm[own].mean(axis=0),
                features=features,
                level_shares=tuple(
                    float(own[of_level == level].mean())
                    if (of_level == level).sum() >= SMALLEST_GROUP
                    else float("nan")
                    for level in level_order
                ),
            )
        )
    return tuple(described)


def _without_level(features: FloatArray, levels: Sequence[str]) -> FloatArray:
    """Features less the mean of the golfer's level, shape (n, d)."""
    left, of_level = features.copy(), np.array(levels)
    for level in set(levels):
        rows = of_level == level
        known = np.isfinite(features[rows])
        counts = np.maximum(known.sum(axis=0), 1)
        left[rows] -= np.where(known, features[rows], 0.0).sum(axis=0) / counts
    return left


def _distinguishing(
    features: FloatArray, own: NDArray[np.bool_], names: Sequence[str]
) -> tuple[PatternFeature, ...]:
    """Features that set golfers most apart from the rest, in spreads between golfers."""
    if own.all():
        return ()
    found = []
    for column, name in enumerate(names):
        values = features[:, column]
        known = np.isfinite(values)
        inside, rest = values[known & own], values[known & ~own]
        spread = values[known].std(ddof=1) if known.sum() > 2 else 0.0
        if min(len(inside), len(rest)) < SMALLEST_GROUP or not spread > 0:
            continue
        difference = float(inside.mean() - rest.mean())
        found.append(
            PatternFeature(feature=name, difference=difference, spreads=difference / float(spread))
        )
    found.sort(key=lambda one: -abs(one.spreads))
    return tuple(found[:FEATURES_TOLD])
