"""A finding decides its own side, strength and count; nothing about it can disagree."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.placement.findings import VERY_UNUSUAL, find_findings, strength_of
from norms.records import Cohort, CohortDefinition, FeaturePlace
from norms.records.findings import CoachingNote
from norms.records.golfer_place import SurePlace
from norms.statistics.proportions import standing
from norms.statistics.single_case import single_case
from norms.swing.catalogue import FEATURE_NAMES


def peers_of(features: np.ndarray) -> Cohort:
    n = len(features)
    return Cohort(
        definition=CohortDefinition(key="driver/all", club="driver"),
        golfers=tuple(f"Q{i:04d}" for i in range(n)),
        swing_counts=np.full(n, 6),
        curves_cm=np.zeros((n, 3, 301)),
        feature_names=FEATURE_NAMES[: features.shape[1]],
        features=features,
    )


def findings_of(values, peers, error=0.0, **choices):
    names = FEATURE_NAMES[: len(values)]
    stands = standing(np.asarray(values), peers.features)
    test = single_case(values, peers.features)
    places, sure = [], []
    for at, name in enumerate(names):
        places.append(
            FeaturePlace(
                feature=name, value=float(values[at]), reason=None, peers=len(peers.golfers),
                below=int(stands.below[at]), equal=int(stands.equal[at]),
                percentile=float(stands.percentile[at]), percentile_low=0.0,
                percentile_high=100.0, peers_low=None, peers_median=None, peers_high=None,
                range_percents=None,
            )
        )  # fmt: skip
        sure.append(
            SurePlace(
                feature=name, percentile=50.0, low=0.0, high=100.0,
                holds="few swings and few golfers", error=error, p=float(test.p[at]),
            )
        )  # fmt: skip
    return find_findings(places, sure, peers, 3, **choices)


@pytest.fixture
def peers():
    return peers_of(np.random.default_rng(0).normal(size=(40, 8)))


def test_nothing_stands_out_of_the_middle(peers):
    assert findings_of(np.zeros(8), peers) == ()


def test_at_most_three_and_the_most_unusual_first(peers):
    found = findings_of(np.array([9.0, -8.0, 7.0, 6.0, -5.0, 0.0, 0.0, 0.0]), peers)
    assert len(found) == 3
    assert [one.p for one in found] == sorted(one.p for one in found)
    assert {one.side for one in found} == {"above", "below"}


def test_features_that_tell_one_story_are_named_once():
    rng = np.random.default_rng(1)
    first = rng.normal(size=40)
    together = np.stack([first, first + 0.1 * rng.normal(size=40), rng.normal(size=40)], axis=1)
    found = findings_of(np.array([6.0, 6.0, 6.0]), peers_of(together))
    assert len(found) == 2


def test_what_the_golfers_own_noise_reaches_is_no_finding(peers):
    values = np.array([4.0, *np.zeros(7)])
    assert len(findings_of(values, peers, error=1.0)) == 1
    assert findings_of(values, peers, error=4.0) == ()


def test_only_the_academys_own_note_for_this_side_is_attached(peers):
    above = CoachingNote(feature=FEATURE_NAMES[0], side="above", text="as the head coach says")
    values = np.array([8.0, *np.zeros(7)])
    assert findings_of(values, peers, notes=(above,))[0].note == "as the head coach says"
    assert findings_of(-values, peers, notes=(above,))[0].note is None
    speed = {FEATURE_NAMES[0]: "goes with ball speed in the study of spring"}
    assert findings_of(values, peers, ball_speed=speed)[0].ball_speed == speed[FEATURE_NAMES[0]]


def test_among_equally_unusual_ones_what_goes_with_ball_speed_comes_first(peers):
    values = np.array([9.0, -8.0, 7.0, 6.0, -5.0, 0.0, 0.0, 0.0])
    plain = [one.feature for one in findings_of(values, peers)]
    last = FEATURE_NAMES[4]
    assert last not in plain
    told = findings_of(values, peers, ball_speed={last: "goes with ball speed"})
    assert told[0].feature == last
    assert [one.feature for one in told[1:]] == plain[:2]


@settings(deadline=None, max_examples=60)
@given(
    st.integers(0, 2**32 - 1),
    st.lists(st.floats(-12, 12), min_size=5, max_size=5),
    st.floats(0, 3),
    st.booleans(),
)
def test_count_side_and_strength_never_disagree(seed, values, error, skewed):
    rng = np.random.default_rng(seed)
    features = rng.exponential(size=(25, 5)) if skewed else rng.normal(size=(25, 5))
    peers = peers_of(features)
    for one in findings_of(np.array(values), peers, error=error):
        column = peers.features[:, peers.feature_names.index(one.feature)]
        passed = column < one.value if one.side == "above" else column > one.value
        assert one.beyond == passed.sum()
        assert one.beyond >= 0.8 * one.peers
        assert (one.value > one.middle) == (one.side == "above")
        assert one.strength == strength_of(one.p)
        assert abs(one.value - one.middle) > 1.645 * error


@pytest.mark.parametrize(
    ("p", "word"),
    [(VERY_UNUSUAL, "very unusual"), (np.nextafter(VERY_UNUSUAL, 1.0), "unusual")],
)
def test_strength_at_its_boundary(p, word):
    assert strength_of(p) == word
