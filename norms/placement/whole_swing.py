"""The swing as a whole: how typical, of which pattern, nearest to which handicap."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.frozen_shapes import NONE_FITS, mixture_of
from norms.cohort.own_shapes import without_own
from norms.cohort.profile_parts import parts_of
from norms.cohort.typicality import swings_seen
from norms.placement.golfer_mean import GolferMean
from norms.records.components import Components
from norms.records.golfer_place import NearestHandicap, PatternPlace, TypicalityPlace
from norms.records.patterns import Patterns, Typicality
from norms.statistics.conformal import conformal_p, more_unusual_than
from norms.statistics.covariances import positive_part

FloatArray = NDArray[np.float64]

HANDICAP_STEP: Final = 0.1
_HALF_CHI2_90: Final = 1.3527717270
"""Half of the 90th percentile of chi-square with 1 degree of freedom."""


def place_typicality(
    mean: GolferMean,
    own: Sequence[float] | None,
    peers_mean_cm: FloatArray,
    typicality: Typicality,
) -> TypicalityPlace:
    """Rank of the overall deviation among those of the peers, each without themselves.

    Peers are seen by as many swings as the golfer, or by the next smaller number kept.

    Parameters
    ----------
    mean : GolferMean
    own : sequence of float or None
        The golfer's own deviations in ``typicality``, to be left out; None for a newcomer, and
        where the golfers stayed in another academy.
    peers_mean_cm : ndarray, shape (3, 301)
        Mean curves of the peers, without the golfer.
    typicality : Typicality

    Returns
    -------
    TypicalityPlace
    """
    overall = float(parts_of(mean.swing.curve.values_cm - peers_mean_cm).overall)
    row = swings_seen(len(mean.codes), typicality.swings)
    others = without_own(typicality.overall_cm[row], None if own is None else own[row])
    return TypicalityPlace(
        overall_cm=overall,
        more_unusual_than=more_unusual_than(overall, others),
        peers=len(others),
        p=conformal_p(overall, others),
        swings=typicality.swings[row],
    )


def place_pattern(
    mean: GolferMean,
    level: str | None,
    own: Sequence[float] | None,
    components: Components,
    patterns: Patterns,
) -> PatternPlace:
    """Probability of each pattern, and whether any fits.

    Parameters
    ----------
    mean : GolferMean
    level : str or None
        Key of the golfer's level; its usual shift is taken off.
    own : sequence of float or None
        The golfer's own strangeness in ``patterns``, to be left out; None as in
        `place_typicality`.
    components : Components
    patterns : Patterns

    Returns
    -------
    PatternPlace
        Without names where the golfers form one cloud; whether the swing fits them is said all
        the same.
    """
    scores = (components.scores(mean.swing.curve.values_cm) - components.level_shift(level))[None]
    mixture = mixture_of(patterns)
    swings = len(mean.codes)
    row = swings_seen(swings, patterns.strangeness_swings)
    seen_by = components.noise(patterns.strangeness_swings[row])
    strange = float(-mixture.log_density(scores, seen_by)[0])
    others = without_own(patterns.strangeness[row], None if own is None else own[row])
    p = conformal_p(strange, others)
    usual = components.noise(max(1, round(components.swings_per_golfer)))
    extra = positive_part(components.noise(swings, mean.days) - usual)
    probabilities = mixture.memberships(scores, extra)[0]
    return PatternPlace(
        names=tuple(pattern.name for pattern in patterns.found),
        probabilities=tuple(probabilities.tolist()) if patterns.found else (),
        fit_p=p,
        none_fits=p <= NONE_FITS,
        reason=patterns.reason,
    )


def nearest_handicap(mean: GolferMean, components: Components) -> NearestHandicap | None:
    """Handicap under whose golfers these curves are the most likely.

    The distance to the typical curve is measured in how golfers of one handicap differ, the
    swing's own noise added, so that the interval holds both; it is where twice the log likelihood
    is within 2.71 of its largest.

    Parameters
    ----------
    mean : GolferMean
    components : Components

    Returns
    -------
    NearestHandicap or None
        None where too few golfers have a handicap.
    """
    trend = components.trend
    if trend is None:
        return None
    steps = max(1, round((trend.high - trend.low) / HANDICAP_STEP))
    grid = np.linspace(trend.low, trend.high, steps + 1)
    usual = components.noise(max(1, round(components.swings_per_golfer)))
    spread = trend.covariance + positive_part(components.noise(len(mean.codes), mean.days) - usual)
    departures = components.scores(mean.swing.curve.values_cm) - trend.scores_at(grid)
    distance = (departures * np.linalg.solve(spread, departures.T).T).sum(axis=1)
    best = int(distance.argmin())
    inside = np.flatnonzero(distance <= distance[best] + 2.0 * _HALF_CHI2_90)
    return NearestHandicap(
        handicap=float(grid[best]),
        low=float(grid[inside[0]]),
        high=float(grid[inside[-1]]),
        low_open=bool(inside[0] == 0),
        high_open=bool(inside[-1] == len(grid) - 1),
        golfers=trend.golfers,
    )
