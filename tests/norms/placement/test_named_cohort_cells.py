"""Named cohorts: never in the place of a club's own cells, and held against when asked for."""

import pytest

from norms.cohort.edition import build_edition
from norms.errors import CohortRefused
from norms.placement.place import place_swing
from norms.records import CohortDefinition

EVERYONE = CohortDefinition(key="everyone", name="everyone", club="driver")
MEN = CohortDefinition(key="zz_men", name="zz_men", club="driver", sex="male")
LOW = CohortDefinition(
    key="low", name="low", title="Low handicaps", club="driver", handicap_to=10.0, age_from=18
)


@pytest.fixture(scope="module")
def named(pool, roster):
    return build_edition("named", pool, roster, cohorts=(EVERYONE, MEN, LOW))


def test_a_swing_is_placed_in_its_clubs_own_cells(named, swing_of):
    assert place_swing(swing_of("Q9999"), named).cohort_key == "driver/all"
    assert place_swing(swing_of("Q9999"), named, handicap=8.0).cohort_key == "driver/to_12"


def test_a_cohort_that_is_asked_for_is_held_against_and_said(named, swing_of, roster):
    placement = place_swing(swing_of("Q0003"), named, golfer=roster["Q0003"], cohort="low")
    assert (placement.cohort_key, placement.cohort_label) == ("low", "Low handicaps")
    assert (placement.peers, placement.left_out) == (19, True)
    assert placement.cautions[0] == "Held against a cohort that was asked for: Low handicaps."
    assert not any("does not belong" in caution for caution in placement.cautions)
    same = place_swing(swing_of("Q0003"), named, golfer=roster["Q0003"], cohort="driver/to_12")
    assert same.cohort_key == "driver/to_12"


def test_a_golfer_outside_the_definition_is_placed_with_the_rules_not_met(named, swing_of, roster):
    placement = place_swing(swing_of("Q0025"), named, golfer=roster["Q0025"], cohort="low")
    (caution,) = [one for one in placement.cautions if "does not belong" in one]
    assert "(club driver, age from 18 years, handicap up to 10)" in caution
    assert "handicap on the day outside the range, or none" in caution
    assert "another age" not in caution
    # A declared handicap is believed; of a stranger the age is not known.
    stranger = place_swing(swing_of("Q9999"), named, handicap=9.0, cohort="low")
    (caution,) = [one for one in stranger.cautions if "is not known to" in one]
    assert "another age" in caution
    assert "outside the range" not in caution


def test_an_unknown_cohort_is_refused_with_the_cohorts_there_are(named, swing_of):
    with pytest.raises(CohortRefused, match=r"no cohort 'lows'; it has everyone, low, zz_men, dri"):
        place_swing(swing_of("Q9999"), named, cohort="lows")


def test_a_swing_with_another_club_is_refused_with_the_cohorts_of_its_club(named, swing_of):
    with pytest.raises(CohortRefused, match="is of swings with driver, and this one is with iron"):
        place_swing(swing_of("Q9999", club="iron 7"), named, cohort="low")


def test_level_and_cohort_are_not_both_asked_for(named, swing_of):
    with pytest.raises(CohortRefused, match="ask for one of them"):
        place_swing(swing_of("Q9999"), named, cohort="low", level="all")
