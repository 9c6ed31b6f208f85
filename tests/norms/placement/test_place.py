from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from norms.cohort.edition import build_edition
from norms.errors import CohortRefused
from norms.placement.place import place_swing
from norms.records import Golfer, SwingPool
from norms.statistics.proportions import wilson_interval
from norms.swing.catalogue import FEATURE_NAMES


def place_of(placement, feature="sway_travel"):
    return next(place for place in placement.features if place.feature == feature)


def test_a_golfer_is_held_against_the_level_of_the_day_and_never_against_themself(
    swing_of, edition, roster
):
    placement = place_swing(swing_of("Q0003", 10.0), edition, golfer=roster["Q0003"])
    assert placement.cohort_key == "driver/to_12"
    assert placement.cohort_label == "driver, handicap over 5, to 12"
    assert (placement.handicap, placement.peers, placement.left_out) == (8.0, 19, True)
    place = place_of(placement)
    # Golfers 0 to 9 lie below 10, golfer 3 is the one placed.
    assert (place.peers, place.below, place.equal) == (19, 9, 0)
    assert place.percentile == pytest.approx(100 * 9 / 19)
    low, high = wilson_interval(9, 19, 0.90)
    assert place.percentile_low == pytest.approx(100 * low)
    assert place.percentile_high == pytest.approx(100 * high)


def test_leaving_a_golfer_out_equals_building_without_them(swing_of, edition, roster, pool):
    others = {code: golfer for code, golfer in roster.items() if code != "Q0005"}
    without = build_edition("without", pool, others).cell("driver/to_12").bands
    bands = place_swing(swing_of("Q0005"), edition, golfer=roster["Q0005"]).bands
    for name in ("curve_cm", "curve_low_cm", "curve_high_cm", "feature", "feature_high"):
        np.testing.assert_array_equal(getattr(bands, name), getattr(without, name))
    assert (bands.golfers, bands.swings) == (without.golfers, without.swings)


def test_a_newcomer_is_held_against_every_golfer_of_the_cell(swing_of, edition):
    placement = place_swing(swing_of("Q9999", 2.5), edition, handicap=11.0)
    assert (placement.peers, placement.left_out, placement.handicap) == (20, False, 11.0)
    place = place_of(placement)
    assert (place.below, place.equal) == (2, 1)
    assert place.percentile == pytest.approx(12.5)
    low, high = wilson_interval(2.5, 20, 0.90)  # half of a tie, as in the percentile
    assert place.percentile_low == pytest.approx(100 * low)
    assert place.percentile_high == pytest.approx(100 * high)


def test_the_range_is_the_widest_pair_that_the_peers_bear(swing_of, edition, roster):
    of_19 = place_of(place_swing(swing_of("Q0003"), edition, golfer=roster["Q0003"]))
    assert of_19.range_percents == (25.0, 75.0)
    assert of_19.peers_low < of_19.peers_median < of_19.peers_high
    of_40 = place_of(place_swing(swing_of("Q9999"), edition, level="all"))
    assert of_40.range_percents == (10.0, 90.0)
    # Means 0.5, 1.5 ... 39.5; type 6 ranks 4.1, 20.5 and 36.9 of 40.
    assert of_40.peers_low == pytest.approx(3.6)
    assert of_40.peers_median == pytest.approx(20.0)
    assert of_40.peers_high == pytest.approx(36.4)
    of_9 = place_of(place_swing(swing_of("Q9999"), edition, level="none"))
    assert (of_9.range_percents, of_9.peers_low) == (None, None)
    assert of_9.peers_median == pytest.approx(36.0)  # 35.5, to a step that hides whose it is


def test_a_cell_that_would_give_a_small_one_away_shows_nothing_of_its_peers(edition, swing_of):
    # Three golfers of handicap 30 are withheld, and with them the eight of handicap 15.
    placement = place_swing(swing_of("Q9999"), edition, level="to_20")
    assert placement.bands is None
    assert "cannot be found by subtracting" in placement.withheld
    assert all(place.percentile is None for place in placement.features)


def test_a_golfer_without_a_handicap_has_a_level_of_their_own(swing_of, edition, roster):
    placement = place_swing(swing_of("Q0035"), edition, golfer=roster["Q0035"])
    assert (placement.cohort_key, placement.peers) == ("driver/none", 8)


def test_who_is_unknown_is_held_against_all_levels_and_told_so(swing_of, edition):
    placement = place_swing(swing_of("Q9999"), edition)
    assert (placement.cohort_key, placement.peers) == ("driver/all", 40)
    assert placement.cautions[0] == "No handicap known: held against golfers of all levels."


def test_a_declared_handicap_goes_before_the_roster_and_the_difference_is_said(
    swing_of, edition, roster
):
    placement = place_swing(swing_of("Q0003"), edition, golfer=roster["Q0003"], handicap=13.0)
    assert (placement.cohort_key, placement.handicap) == ("driver/to_20", 13.0)
    assert (placement.peers, placement.left_out) == (8, False)
    assert placement.cautions[0].startswith("The declared handicap 13.0 was used; the roster has 8")


def test_a_withheld_cell_stays_withheld_until_all_levels_are_asked_for(swing_of, edition, roster):
    placement = place_swing(swing_of("Q0029"), edition, golfer=roster["Q0029"])
    assert (placement.cohort_key, placement.peers) == ("driver/to_36", 2)
    assert placement.withheld.startswith("2 golfers, where the least is 5 for the median")
    assert placement.bands is None
    for place in placement.features:
        assert place.value == 10.0
        assert (place.below, place.equal) == (0, 0)
        assert place.percentile is place.percentile_low is place.percentile_high is None
        assert place.peers_low is place.peers_median is place.peers_high is None
    asked = place_swing(swing_of("Q0029"), edition, golfer=roster["Q0029"], level="all")
    assert (asked.cohort_key, asked.peers, asked.withheld) == ("driver/all", 39, None)
    assert asked.cautions[0].startswith("Held against golfers of all levels, not against")


def test_leaving_the_golfer_out_can_make_the_cell_too_small(swing_of, pool, roster):
    five = {f"Q{i:04d}": roster[f"Q{i:04d}"] for i in range(5)}
    edition = build_edition("five", pool, five)
    assert edition.cell("driver/to_12").bands is not None
    placement = place_swing(swing_of("Q0002"), edition, golfer=five["Q0002"])
    assert placement.peers == 4
    assert placement.withheld is not None
    assert place_of(placement).percentile is None


def test_a_missing_feature_keeps_its_reason_and_its_peers(swing_of, edition, roster):
    swing = swing_of("Q0003", missing={"sway_turn_lead": "sway never turns"})
    placement = place_swing(swing, edition, golfer=roster["Q0003"])
    place = place_of(placement, "sway_turn_lead")
    assert (place.value, place.reason) == (None, "sway never turns")
    assert (place.peers, place.below, place.equal, place.percentile) == (19, 0, 0, None)
    assert place.peers_median is not None


def test_a_feature_that_few_peers_have_is_not_placed(swing_of, pool, roster):
    features = pool.features.copy()
    features[12:, FEATURE_NAMES.index("sway_travel")] = np.nan  # golfers 0 to 3 keep it
    edition = build_edition("few", replace(pool, features=features), roster)
    place = place_of(place_swing(swing_of("Q9999"), edition, handicap=8.0))
    assert (place.peers, place.below, place.percentile, place.peers_median) == (4, 0, None, None)


def test_a_feature_that_the_edition_does_not_know_has_no_peers(swing_of, pool, roster):
    old = SwingPool(
        swings=pool.swings,
        golfers=pool.golfers,
        clubs=pool.clubs,
        labs=pool.labs,
        recorded_on=pool.recorded_on,
        curves_cm=pool.curves_cm,
        feature_names=FEATURE_NAMES[::-1][1:],  # also in another order
        features=pool.features[:, 1:],
    )
    placement = place_swing(swing_of("Q9999"), build_edition("old", old, roster), handicap=8.0)
    assert [place.feature for place in placement.features] == list(FEATURE_NAMES)
    unknown = place_of(placement, FEATURE_NAMES[-1])
    assert (unknown.value, unknown.peers, unknown.percentile) == (10.0, 0, None)
    assert place_of(placement, FEATURE_NAMES[0]).percentile == 50.0


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(value=st.floats(-5, 45), more=st.floats(0, 20))
def test_a_larger_value_never_falls_lower(swing_of, edition, value, more):
    lower = place_of(place_swing(swing_of("Q9999", value), edition, handicap=8.0))
    higher = place_of(place_swing(swing_of("Q9999", value + more), edition, handicap=8.0))
    assert lower.percentile <= higher.percentile
    assert lower.percentile_low <= lower.percentile <= lower.percentile_high


@pytest.mark.parametrize(
    ("asked", "code", "words"),
    [
        ({"club": "wedge"}, "unknown_club", "no norms for club 'wedge'; it has driver"),
        ({"level": "to_99"}, "unknown_level", "no level 'to_99' for driver; it has above_36, all"),
        ({"handicap": 60.0}, "handicap", "handicap 60.0: allowed is -10.0"),
        ({"golfer": "Q0001"}, "other_golfer", "is by golfer Q9999, not Q0001"),
    ],
)
def test_what_the_edition_cannot_answer_is_refused_with_what_it_can(
    swing_of, edition, roster, asked, code, words
):
    asked = dict(asked)
    swing = swing_of("Q9999", club=asked.pop("club", "driver"))
    if "golfer" in asked:
        asked["golfer"] = roster[asked["golfer"]]
    with pytest.raises(CohortRefused, match=words) as refusal:
        place_swing(swing, edition, **asked)
    assert refusal.value.code == code


def test_a_professional_is_held_against_professionals(swing_of, edition):
    golfer = Golfer(code="Q9999", hand="right", professional=True)
    placement = place_swing(swing_of("Q9999"), edition, golfer=golfer)
    assert placement.cohort_key == "driver/professional"
    assert placement.withheld is not None
