"""A named cohort of a club does not take the place of the club's own cells."""

from norms.cohort.edition import build_edition
from norms.placement.place import place_swing
from norms.records import CohortDefinition


def test_a_swing_is_placed_in_its_clubs_own_cells(pool, roster, swing_of):
    everyone = CohortDefinition(key="everyone", name="everyone", club="driver")
    men = CohortDefinition(key="zz_men", name="zz_men", club="driver", sex="male")
    edition = build_edition("named", pool, roster, cohorts=(everyone, men))
    assert place_swing(swing_of("Q9999"), edition).cohort_key == "driver/all"
    assert place_swing(swing_of("Q9999"), edition, handicap=8.0).cohort_key == "driver/to_12"
