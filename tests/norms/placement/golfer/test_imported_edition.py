"""A swing placed by what another academy's edition publishes, its golfers not being here."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from norms.errors import CohortRefused
from norms.placement.document import placement_document
from norms.placement.place import place_swing
from norms.placement.place_golfer import GOLFERS_ELSEWHERE, place_golfer, placing_ground
from norms.records import Cohort, Edition
from norms.records.edition import VERIFIED


def sent_away(edition: Edition, verified=None) -> Edition:
    """The edition as it is in another academy's store: numbers and counts, no golfer."""
    cells = []
    for cell in edition.cells:
        golfers, swings = cell.counts
        nobody = Cohort(
            definition=cell.cohort.definition,
            golfers=(),
            swing_counts=np.empty(0),
            curves_cm=np.empty((0, 3, 301)),
            feature_names=cell.cohort.feature_names,
            features=np.empty((0, len(cell.cohort.feature_names))),
        )
        cells.append(replace(cell, cohort=nobody, golfers=golfers, swings=swings))
    evidence = {"imported": {"name": edition.name, "sha256": edition.content_hash}}
    if verified is not None:
        evidence[VERIFIED] = verified
    return replace(edition, cells=tuple(cells), evidence=evidence)


@pytest.fixture(scope="module")
def theirs(small_academy):
    return sent_away(small_academy.edition)


@pytest.fixture
def both(small_academy, theirs, swing_of):
    def place(value, **choices):
        swing = swing_of("Q9999", value)
        return (
            place_swing(swing, small_academy.edition, **choices),
            place_swing(swing, theirs, **choices),
        )

    return place


def placed_in_both(here, there):
    return [
        (one, other)
        for one, other in zip(here.features, there.features, strict=True)
        if one.percentile is not None
    ]


def test_a_newcomer_is_drawn_on_the_same_bands_with_the_same_count(both):
    for choices in ({}, {"handicap": 15.0}, {"level": "to_20"}):
        here, there = both(8.0, **choices)
        assert there.imported
        assert not here.imported
        assert (here.cohort_key, here.peers) == (there.cohort_key, there.peers)
        assert here.withheld == there.withheld
        for name in ("curve_cm", "curve_low_cm", "curve_high_cm", "feature", "feature_low"):
            np.testing.assert_array_equal(getattr(here.bands, name), getattr(there.bands, name))
        low_high = [one.whole_curve.bands.joint_limits_cm() for one in (here, there)]
        np.testing.assert_allclose(*low_high, rtol=1e-12, atol=1e-12)
        assert here.whole_curve.excursions == there.whole_curve.excursions
        for one, other in placed_in_both(here, there):
            assert (one.peers, one.peers_low, one.peers_median, one.peers_high) == (
                other.peers, other.peers_low, other.peers_median, other.peers_high,
            )  # fmt: skip
            assert (other.below, other.equal) == (None, None)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(value=st.floats(-2.0, 16.0))
def test_percentiles_of_both_agree_within_the_published_interval(both, value):
    here, there = both(value)
    for one, other in placed_in_both(here, there):
        # Half a golfer: a share of n golfers falls between two of them.
        half = 50.0 / one.peers
        assert other.percentile_low - half <= one.percentile <= other.percentile_high + half
        if other.beyond is None:
            assert one.percentile_low <= other.percentile <= one.percentile_high
        elif other.beyond.side == "below":
            assert one.percentile <= other.beyond.percent + half
        else:
            assert one.percentile >= other.beyond.percent - half


def test_beyond_the_outermost_published_percentile_nothing_more_is_said(both):
    low, high = both(-50.0)[1], both(50.0)[1]
    for place in low.features:
        if place.beyond is not None:
            assert (place.beyond.side, place.beyond.percent) == ("below", 5.0)
            assert place.percentile is None
            assert place.about == 5.0
            assert (place.percentile_low, place.percentile_high) == (0.0, 5.0)
    above = next(place for place in high.features if place.feature == "sway_travel")
    assert (above.beyond.side, above.beyond.percent) == ("above", 95.0)
    document = placement_document(high)
    row = next(one for one in document["features"] if one["name"] == "sway_travel")
    assert row["beyond"] == {"side": "above", "percent": 95.0}
    assert (row["percentile"], row["peers_below"]) == (None, None)
    assert document["edition"]["imported"] is True


def test_a_feature_that_is_not_published_has_no_place(both):
    there = both(8.0)[1]
    place = next(one for one in there.features if one.feature == "lift_low")
    assert (place.peers, place.about, place.peers_median) == (0, None, None)


def test_a_withheld_cell_stays_withheld(small_academy, theirs, swing_of):
    for edition in (small_academy.edition, theirs):
        placement = place_swing(swing_of("Q9999"), edition, level="scratch")
        assert placement.bands is None
        assert placement.withheld
        assert all(place.about is None for place in placement.features)


def test_centiles_by_handicap_need_no_golfers(both):
    here, there = both(8.0, handicap=12.0)
    assert here.by_handicap
    assert here.by_handicap == there.by_handicap


def test_a_golfer_of_the_same_code_here_changes_nothing(small_academy, theirs, swing_of):
    golfer = small_academy.golfers["Q0020"]
    placement = place_swing(swing_of("Q0020", 8.0), theirs, golfer=golfer, level="all")
    assert (placement.left_out, placement.peers) == (False, 96)
    assert any("among their own peers" in one for one in placement.cautions)


def test_the_sheet_says_whose_norms_and_that_nobody_verified_them(both):
    here, there = both(8.0)
    assert not any("nother academy" in one for one in here.cautions)
    assert there.cautions[0].startswith(
        "Another academy's norms: edition autumn, 96 golfers who are not in this store. Not "
        "verified on golfers of our own (norms adopt does it)"
    )
    assert "published 90 % limits" in there.cautions[1]


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (
            {"verdict": "accept", "refused_by": []},
            "Verified on 21 golfers of our own on 3 March 2026: accepted.",
        ),
        (
            {"verdict": "do not accept", "refused_by": ["tempo"]},
            "on 3 March 2026 and NOT accepted, because of tempo.",
        ),
    ],
)
def test_a_verdict_stands_with_its_day_for_its_own_group_alone(
    small_academy, swing_of, found, said
):
    verified = {"driver/all": {"day": "2026-03-03", "local_golfers": 21, **found}}
    edition = sent_away(small_academy.edition, verified)
    assert said in place_swing(swing_of("Q9999"), edition).cautions[0]
    other = place_swing(swing_of("Q9999"), edition, level="to_20")
    assert "Not verified" in other.cautions[0]


def test_a_whole_sheet_leaves_out_what_needs_golfers(small_academy, theirs, swing_of):
    swing = swing_of("Q9999", 50.0)
    own = place_golfer([swing], placing_ground(small_academy.edition))
    foreign = place_golfer([swing], placing_ground(theirs))
    assert own.findings
    assert foreign.findings == ()
    assert foreign.look_alikes is None
    assert all(one.p is None for one in foreign.places)
    assert foreign.map.overall_cm == pytest.approx(own.map.overall_cm, rel=1e-12)
    for feature, sure in zip(foreign.placement.features, foreign.places, strict=True):
        assert sure.percentile == feature.percentile
        assert (sure.low is None) == (feature.about is None)
        if sure.low is not None:
            assert (sure.low, sure.high) == pytest.approx(
                (feature.percentile_low, feature.percentile_high)
            )


def test_shapes_of_an_imported_edition_place_a_swing_as_at_home(ground, swing_at):
    odd = swing_at(0, golfer="Q9999")
    theirs = placing_ground(sent_away(ground.edition), ground.noise)
    own = place_golfer([odd], ground.placing, level="all", history=ground.history)
    foreign = place_golfer([odd], theirs, level="all", history=ground.history)
    assert foreign.pattern == own.pattern
    assert foreign.nearest == own.nearest
    assert foreign.look_alikes.withheld == GOLFERS_ELSEWHERE
    assert foreign.typicality is None  # without whole-curve bands their mean is not published
    for here, there in zip(own.places, foreign.places, strict=True):
        assert there.error == here.error
        assert there.holds == "few swings and few golfers"
        assert there.low <= here.percentile <= there.high


def test_an_unknown_level_is_refused_as_at_home(theirs, swing_of):
    with pytest.raises(CohortRefused, match="no level 'best'"):
        place_swing(swing_of("Q9999"), theirs, level="best")
