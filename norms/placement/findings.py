"""What to look at first: at most three features that stand out from the peers and from noise."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records import Cohort, FeaturePlace
from norms.records.findings import MOST_FINDINGS, CoachingNote, Finding, Side, Strength
from norms.records.golfer_place import SurePlace
from norms.statistics.multiplicity import adjust_p_values

FloatArray = NDArray[np.float64]

FALSE_DISCOVERIES: Final = 0.10
"""Share of findings that are allowed to be chance, over all features of a golfer."""
VERY_UNUSUAL: Final = 0.01
NOISE_REACH: Final = 1.645
"""Standard errors by which a value must pass the peers' middle."""
SAME_STORY: Final = 0.70
"""Correlation among peers above which two features tell one story."""
SMALLEST_SIDE: Final = 0.80
"""Share of the peers whom a value must pass."""


def find_findings(
    places: Sequence[FeaturePlace],
    sure: Sequence[SurePlace],
    peers: Cohort,
    swings: int,
    *,
    notes: Sequence[CoachingNote] = (),
    ball_speed: Mapping[str, str] | None = None,
) -> tuple[Finding, ...]:
    """At most three findings, the most unusual first; none where nothing stands out.

    Very unusual ones come before unusual ones; among equals those that a study found to go with
    ball speed come first, then the smaller p.

    A feature stands out where Crawford and Howell's p stays small when all features are allowed
    for (Benjamini and Hochberg, one in ten), the value passes four in five peers on the same side
    as it passes their mean, and it lies farther from that mean than the golfer's own noise
    reaches. A feature that goes with one already named (correlation above 0.7 among the peers)
    tells the same story and is left out.

    Parameters
    ----------
    places, sure : sequences of FeaturePlace and SurePlace
        Of the same features in the same order.
    peers : Cohort
    swings : int
    notes : sequence of CoachingNote
        The academy's own.
    ball_speed : Mapping of str to str, optional
        By feature, how it goes with ball speed by a study.

    Returns
    -------
    tuple of Finding
    """
    told = ball_speed or {}
    ranked = sorted(
        _candidates(places, sure, peers, swings),
        key=lambda one: (one.strength != "very unusual", one.feature not in told, one.p),
    )
    chosen: list[Finding] = []
    for finding in ranked:
        if len(chosen) < MOST_FINDINGS and not any(
            _same_story(finding.feature, other.feature, peers) for other in chosen
        ):
            chosen.append(_with_words(finding, notes, told))
    return tuple(chosen)


def strength_of(p: float) -> Strength:
    """Word for a p value."""
    return "very unusual" if p <= VERY_UNUSUAL else "unusual"


def _candidates(
    places: Sequence[FeaturePlace], sure: Sequence[SurePlace], peers: Cohort, swings: int
) -> list[Finding]:
    tested = [(place, one) for place, one in zip(places, sure, strict=True) if one.p is not None]
    if not tested:
        return []
    p_values = [one.p for _, one in tested if one.p is not None]
    adjusted = adjust_p_values(p_values, "benjamini_hochberg")
    found = []
    for (place, one), p, kept in zip(tested, p_values, adjusted, strict=True):
        if kept > FALSE_DISCOVERIES or place.value is None:
            continue
        finding = _finding(place, one, p, peers, swings)
        if finding is not None:
            found.append(finding)
    return found


def _finding(
    place: FeaturePlace, one: SurePlace, p: float, peers: Cohort, swings: int
) -> Finding | None:
    """The finding, where count, mean and noise agree on its side."""
    assert place.value is not None, "a feature without a value has no p"
    column = peers.features[:, peers.feature_names.index(place.feature)]
    middle = float(np.nanmean(column))
    side: Side = "above" if place.value > middle else "below"
    assert place.below is not None, "golfers who are tested against are counted"
    assert place.equal is not None, "golfers who are tested against are counted"
    beyond = place.below if side == "above" else place.peers - place.below - place.equal
    far_enough = beyond >= SMALLEST_SIDE * place.peers
    real = one.error is None or abs(place.value - middle) > NOISE_REACH * one.error
    if not (far_enough and real):
        return None
    return Finding(
        feature=place.feature,
        side=side,
        strength=strength_of(p),
        value=place.value,
        error=one.error,
        middle=middle,
        peers=place.peers,
        beyond=beyond,
        p=p,
        swings=swings,
    )


def _same_story(first: str, second: str, peers: Cohort) -> bool:
    pair = peers.features[:, [peers.feature_names.index(name) for name in (first, second)]]
    both = pair[np.isfinite(pair).all(axis=1)]
    spread = both.std(axis=0)
    if len(both) < 3 or not (spread > 0).all():
        return False
    return bool(abs(((both - both.mean(axis=0)) / spread).prod(axis=1).mean()) > SAME_STORY)


def _with_words(
    finding: Finding, notes: Sequence[CoachingNote], ball_speed: Mapping[str, str]
) -> Finding:
    note = next(
        (one.text for one in notes if (one.feature, one.side) == (finding.feature, finding.side)),
        None,
    )
    return replace(finding, note=note, ball_speed=ball_speed.get(finding.feature))
