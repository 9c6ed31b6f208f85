from datetime import date

import numpy as np
import pytest

from norms.cohort.coverage import who_is_missing
from norms.cohort.edition import build_edition
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.plan import expected_width, plan_document, plan_edition
from norms.cohort.roll import call_roll
from norms.cohort.sufficiency import (
    cell_sufficiency,
    edition_sufficiency,
    established_from,
    grade_of,
)
from norms.errors import CohortRefused
from norms.records import CohortDefinition
from norms.statistics.quantiles import order_statistic_ranks

DAY = date(2025, 6, 1)
ALL = CohortDefinition(key="driver/all", club="driver")


@pytest.fixture
def edition_of(pool_of, golfer):
    """20 golfers to 12, 3 to 5; on the roster 50 more to 12, of whom 4 have not agreed."""

    def make():
        people = {f"Q{i:04d}": golfer(f"Q{i:04d}", 8.0, sex="male") for i in range(20)}
        people |= {f"Q{i:04d}": golfer(f"Q{i:04d}", 3.0) for i in range(20, 23)}
        pool = pool_of(dict.fromkeys(people, 3))
        people |= {
            f"R{i:04d}": golfer(f"R{i:04d}", 8.0, consents_norms=i >= 4, sex="female")
            for i in range(50)
        }
        return build_edition("spring", pool, people), people

    return make


def test_the_rule_gives_120_golfers_for_the_outermost_reference_limit():
    # CLSI EP28-A3c: 120 golfers for the 2.5th percentile with a 90 % interval.
    assert established_from((2.5, 50, 97.5), 0.90) == 120
    assert established_from((5, 50, 95), 0.90) == 60
    assert established_from((10, 50, 90), 0.90) == 30
    assert established_from((5, 50, 95), 0.90, smallest_cell=80) == 80


@pytest.mark.parametrize("percent", [1, 2.5, 5, 10, 25])
@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95, 0.99])
def test_an_established_cell_has_an_interval_on_every_percentile(percent, confidence):
    percents = (percent, 50.0, 100.0 - percent)
    n = established_from(percents, confidence)
    assert all(None not in order_statistic_ranks(n, p / 100, confidence) for p in percents)


@pytest.mark.parametrize(
    ("golfers", "grade"),
    [
        (0, "withheld"),
        (4, "withheld"),
        (5, "provisional"),
        (59, "provisional"),
        (60, "established"),
    ],
)
def test_grades_follow_the_count(golfers, grade):
    assert grade_of(golfers) == grade


def test_a_stricter_academy_withholds_more():
    assert grade_of(9, smallest_cell=10) == "withheld"


def test_a_cell_says_how_many_more_of_which_kind_it_needs(edition_of):
    edition, _ = edition_of()
    few = cell_sufficiency(edition.cell("driver/to_5"), edition)
    assert (few.grade, few.golfers, few.more_to_show, few.more_to_establish) == (
        "withheld",
        3,
        2,
        57,
    )
    assert few.kind == ("consent to norms", "club driver", "handicap over 0, to 5")
    assert few.sentence == (
        "driver, handicap over 0, to 5: withheld, 3 golfers; 2 more to show anything; "
        "57 more to be established."
    )
    some = cell_sufficiency(edition.cell("driver/all"), edition)
    assert (some.grade, some.shown_percents) == ("provisional", (25.0, 50.0, 75.0))
    assert len(edition_sufficiency(edition)) == len(edition.cells)


def test_a_cell_that_shields_a_smaller_one_is_graded_as_what_it_is_withheld(edition_of):
    edition, _ = edition_of()
    shield = edition.cell("driver/to_12")
    assert "subtracting" in shield.withheld
    told = cell_sufficiency(shield, edition)
    assert (told.grade, told.shown_percents, told.more_to_show) == ("withheld", (), 0)
    assert told.sentence.endswith(
        "not shown, so that a smaller group cannot be found by subtraction."
    )


def test_the_roster_says_who_is_missing(pool_of, golfer):
    people = {
        f"Q{i:04d}": golfer(f"Q{i:04d}", 8.0, sex="female" if i < 40 else "male", birth_year=1980)
        for i in range(80)
    }
    recorded = {c: 2 for i, c in enumerate(people) if i < 4 or i >= 40}
    cohort, _ = members(call_roll(pool_of(recorded), people, DEFAULT_LEVELS), ALL)
    rows = {
        (row.margin, row.category): row
        for row in who_is_missing(cohort, people, DEFAULT_LEVELS, DAY)
    }
    women, men = rows["sex", "female"], rows["sex", "male"]
    assert (women.roster, women.cohort, women.standing) == (40, 4, "missing")
    assert (men.roster, men.cohort, men.standing) == (40, 40, "more than expected")
    assert women.reached == pytest.approx(0.1)
    assert rows["age", "35 to 49"].standing == "as expected"
    assert sum(row.roster_share for key, row in rows.items() if key[0] == "sex") == 1.0


def test_a_cohort_is_held_only_against_those_it_speaks_about(pool_of, golfer):
    people = {f"Q{i:04d}": golfer(f"Q{i:04d}", 3.0 if i < 10 else 30.0) for i in range(30)}
    to_5 = CohortDefinition(key="driver/to_5", club="driver", level=DEFAULT_LEVELS[1])
    cohort, _ = members(call_roll(pool_of(dict.fromkeys(people, 1)), people, DEFAULT_LEVELS), to_5)
    rows = who_is_missing(cohort, people, DEFAULT_LEVELS, DAY)
    assert [(row.category, row.roster) for row in rows if row.margin == "level"] == [("to_5", 10)]


def test_the_plan_recruits_first_where_fewest_golfers_lift_a_grade(edition_of):
    edition, people = edition_of()
    plan = plan_edition(edition, people, DAY, features=("sway_travel",))
    order = [row.sufficiency.cohort_key for row in plan.rows]
    assert order[:2] == ["driver/all", "driver/to_12"]
    to_12 = plan.rows[1]
    assert (to_12.needed, len(to_12.invite), to_12.to_ask, to_12.beyond_roster) == (40, 46, 4, 0)
    assert set(to_12.invite) == {f"R{i:04d}" for i in range(4, 50)}
    assert "sex female" in to_12.missing
    to_5 = next(row for row in plan.rows if row.sufficiency.cohort_key == "driver/to_5")
    assert (to_5.needed, to_5.beyond_roster) == (2, 2)
    document = plan_document(plan)
    assert document["rows"][0]["sufficiency"]["cohort_key"] == "driver/all"


def test_golfers_of_missing_kinds_are_invited_first(pool_of, golfer):
    people = {f"Q{i:04d}": golfer(f"Q{i:04d}", 8.0, sex="male") for i in range(40)}
    people |= {f"Z{i:04d}": golfer(f"Z{i:04d}", 8.0, sex="female") for i in range(40)}
    recorded = {c: 2 for c in people if c < "Q0030" or c == "Z0000"}
    edition = build_edition("spring", pool_of(recorded), people)
    row = plan_edition(edition, people, DAY, cohort="driver/to_12", features=()).rows[0]
    assert row.invite[:39] == tuple(f"Z{i:04d}" for i in range(1, 40))
    assert row.invite[39] == "Q0030"


def test_a_group_of_few_golfers_borrows_the_spread_of_the_club(edition_of):
    edition, people = edition_of()
    plan = plan_edition(edition, people, DAY, cohort="driver/to_5", features=("sway_travel",))
    assert (plan.widths_of, plan.spread_from, plan.pilots) == ("driver/to_5", "driver/all", 23)


def test_the_foreseen_width_shrinks_and_is_absent_where_no_interval_is(edition_of):
    edition, people = edition_of()
    widths = plan_edition(edition, people, DAY, features=("sway_travel",)).widths
    fifth = {w.golfers: w.width for w in widths if w.percent == 5.0}
    assert fifth[15] is None
    assert fifth[30] is None
    assert fifth[60] > fifth[120] > fifth[250] > fifth[500] > 0


@pytest.mark.parametrize("skewed", [False, True])
@pytest.mark.parametrize(("golfers", "percent"), [(60, 10.0), (120, 95.0), (120, 50.0)])
def test_the_foreseen_width_is_what_that_many_golfers_give(golfers, percent, skewed):
    rng = np.random.default_rng(5)

    def draw(*shape):
        return rng.gamma(4.0, 1.0, shape) if skewed else rng.normal(size=shape)

    foreseen = [expected_width(draw(40), golfers, percent, 0.9) for _ in range(200)]
    low, high = order_statistic_ranks(golfers, percent / 100, 0.9)
    true = np.sort(draw(2_000, golfers), axis=1)
    actual = (true[:, high - 1] - true[:, low - 1]).mean()
    # Pilots of 40 golfers, averaged: the rule itself has no large bias.
    assert np.mean(foreseen) == pytest.approx(actual, rel=0.12)


def test_the_plan_refuses_what_the_edition_does_not_have(edition_of):
    edition, people = edition_of()
    with pytest.raises(CohortRefused, match=r"no group 'putter/all'; it has driver/above_36"):
        plan_edition(edition, people, DAY, cohort="putter/all", features=())
    with pytest.raises(CohortRefused, match=r"no feature 'grip'; it has sway_travel, tempo"):
        plan_edition(edition, people, DAY, features=("grip",))


def test_without_pilots_no_width_is_foreseen(pool_of, golfer):
    people = {f"Q{i:04d}": golfer(f"Q{i:04d}") for i in range(6)}
    edition = build_edition("few", pool_of(dict.fromkeys(people, 2)), people)
    with pytest.raises(CohortRefused, match="say nothing of the spread"):
        plan_edition(edition, people, DAY, features=("sway_travel",))
