from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.cohort.attrition import attrition_of, attrition_steps, left_out
from norms.cohort.definitions import (
    check_definition,
    check_names,
    definition_document,
    definition_of,
    describe,
)
from norms.cohort.edition import build_edition, verify_edition
from norms.cohort.golfer_facts import OTHER_AGE, OTHER_HANDICAP, OTHER_LEVEL, OTHER_SEX
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import (
    LOW_QUALITY,
    NO_CONSENT,
    OTHER_CLUB,
    OTHER_DAYS,
    PERSON_DECIDED,
    call_roll,
)
from norms.errors import CohortRefused
from norms.records import CohortDefinition, DatedHandicap, Exclusion

LEVELS = {level.key: level for level in DEFAULT_LEVELS}


def named(**facts):
    return CohortDefinition(**({"key": "some", "name": "some", "club": "driver"} | facts))


@pytest.fixture
def people(golfer):
    return {
        "Q0001": golfer("Q0001", 3.0, sex="female", birth_year=1990),
        "Q0002": golfer("Q0002", 12.0, sex="female", birth_year=2009),
        "Q0003": golfer("Q0003", -2.0, sex="male", birth_year=1960),
        "Q0004": golfer("Q0004", None),
        "Q0005": golfer("Q0005", 1.0, sex="male", birth_year=1985, professional=True),
    }


@pytest.fixture
def pool(pool_of, people):
    return pool_of(dict.fromkeys(people, 4))


@pytest.mark.parametrize(
    ("facts", "held"),
    [
        ({}, ["Q0001", "Q0002", "Q0003", "Q0004", "Q0005"]),
        ({"sex": "female"}, ["Q0001", "Q0002"]),
        ({"age_from": 18}, ["Q0001", "Q0003", "Q0005"]),
        ({"age_to": 16}, ["Q0002"]),
        ({"age_from": 35, "age_to": 40}, ["Q0001", "Q0005"]),  # ages of 2025: 35, 16, 65, 40
        # A professional has a level of their own and no handicap.
        ({"handicap_to": 5.0}, ["Q0001", "Q0003"]),
        ({"handicap_above": -2.0, "handicap_to": 12.0}, ["Q0001", "Q0002"]),
        ({"levels": (LEVELS["to_5"], LEVELS["none"])}, ["Q0001", "Q0004"]),
        ({"labs": ("North bay",)}, ["Q0001", "Q0002", "Q0003", "Q0004", "Q0005"]),
        ({"labs": ("Range hut",)}, []),
        ({"sex": "female", "age_from": 18}, ["Q0001"]),
    ],
)
def test_each_rule_holds_whom_it_says(pool, people, facts, held):
    cohort, _ = members(call_roll(pool, people, DEFAULT_LEVELS), named(**facts))
    assert list(cohort.golfers) == held


def test_days_hold_both_ends(pool, people):
    first = min(pool.recorded_on)
    inside = named(recorded_from=first, recorded_to=first)
    cohort, lost = members(call_roll(pool, people, DEFAULT_LEVELS), inside)
    assert cohort.swing_counts.tolist() == [3] * 5  # three swings on the first day
    assert lost[OTHER_DAYS] == 5
    later = named(recorded_from=first + timedelta(days=1))
    assert (
        members(call_roll(pool, people, DEFAULT_LEVELS), later)[0].swing_counts.tolist() == [1] * 5
    )
    earlier = named(recorded_to=first - timedelta(days=1))
    assert members(call_roll(pool, people, DEFAULT_LEVELS), earlier)[0].golfers == ()


def test_the_handicap_is_that_of_the_day(pool_of, golfer):
    pool = pool_of({"Q0001": 6})
    days = sorted(set(pool.recorded_on))
    mover = golfer(
        "Q0001",
        handicaps=(
            DatedHandicap(since=days[0], index=12.6),
            DatedHandicap(since=days[1], index=11.9),
        ),
    )
    cohort, lost = members(
        call_roll(pool, {"Q0001": mover}, DEFAULT_LEVELS), named(handicap_to=12.0)
    )
    assert cohort.swing_counts.tolist() == [3]
    assert lost[OTHER_HANDICAP] == 3
    np.testing.assert_allclose(cohort.curves_cm[0], pool.curves_cm[3:].mean(axis=0), atol=1e-12)


def test_a_swing_of_low_quality_is_left_out_and_its_golfer_named(pool, people):
    shares = np.zeros(len(pool.swings))
    shares[[0, 1, 2, 3, 5]] = 0.3  # every swing of the first golfer, one of the second
    rough = replace(pool, filled_share=shares)
    definition = named(largest_filled_share=0.2)
    roll = call_roll(rough, people, DEFAULT_LEVELS)
    cohort, lost = members(roll, definition)
    assert "Q0001" not in cohort.golfers
    assert lost[LOW_QUALITY] == 5
    assert [(one.golfer, one.swings) for one in left_out(roll, definition)] == [
        ("Q0001", 4),
        ("Q0002", 1),
    ]
    with pytest.raises(CohortRefused, match="do not state"):
        members(call_roll(pool, people, DEFAULT_LEVELS), definition)


def test_attrition_counts_golfers_and_swings_from_the_pool_down_to_the_cohort(
    pool_of, people, golfer
):
    people["Q0006"] = golfer("Q0006", consents_norms=False)
    pool = pool_of(dict.fromkeys(people, 4), clubs=("driver", "iron 7"))
    roll = call_roll(pool, people, DEFAULT_LEVELS)
    definition = named(sex="female", age_from=18)
    steps = {step.rule: step for step in attrition_of(roll, definition)}
    assert (steps[NO_CONSENT].swings, steps[NO_CONSENT].golfers) == (4, 1)
    # Half of everyone's swings are with another club: swings are lost and no golfer is.
    assert (steps[OTHER_CLUB].swings, steps[OTHER_CLUB].golfers) == (10, 0)
    assert (steps[OTHER_SEX].swings, steps[OTHER_SEX].golfers) == (6, 3)
    assert (steps[OTHER_AGE].swings, steps[OTHER_AGE].golfers) == (2, 1)
    cohort, lost = members(roll, definition)
    last = list(steps.values())[-1]
    assert (last.golfers_left, last.swings_left) == (len(cohort.golfers), cohort.swing_counts.sum())
    assert {step.rule: step.swings for step in steps.values()} == lost


@given(
    owners=st.lists(st.integers(0, 5), min_size=1, max_size=30),
    data=st.data(),
)
def test_nobody_is_lost_twice_or_unaccounted_for(owners, data):
    masks = [
        np.array(data.draw(st.lists(st.booleans(), min_size=len(owners), max_size=len(owners))))
        for _ in range(3)
    ]
    golfers = np.array([f"Q{owner:04d}" for owner in owners])
    steps = attrition_steps(golfers, [(str(i), mask) for i, mask in enumerate(masks)])
    kept = ~np.logical_or.reduce(masks)
    assert sum(step.swings for step in steps) + steps[-1].swings_left == len(owners)
    assert sum(step.golfers for step in steps) + steps[-1].golfers_left == len(set(owners))
    assert steps[-1].swings_left == kept.sum()
    assert steps[-1].golfers_left == len(set(golfers[kept]))


def test_a_decision_leaves_out_a_golfer_or_a_swing_and_keeps_who_and_why(pool, people):
    decisions = (
        Exclusion(golfer="Q0002", reason="borrowed clubs", decided_by="head coach"),
        Exclusion(swing="Q0003-001", reason="stepped off the mat", decided_by="lab lead"),
        Exclusion(golfer="Q9999", reason="since erased", decided_by="head coach"),
    )
    roll = call_roll(pool, people, DEFAULT_LEVELS, decisions)
    assert roll.attrition[PERSON_DECIDED] == 5
    cohort, _ = members(roll, named())
    assert "Q0002" not in cohort.golfers
    assert cohort.swing_counts[cohort.golfers.index("Q0003")] == 3
    listed = [(one.golfer, one.swings, one.reason, one.decided_by) for one in left_out(roll)]
    assert listed == [
        ("Q0002", 4, "borrowed clubs", "head coach"),
        ("Q0003", 1, "stepped off the mat (swing Q0003-001)", "lab lead"),
        ("Q9999", 0, "since erased", "head coach"),
    ]


def test_an_exclusion_names_one_thing():
    with pytest.raises(ValueError, match="either a golfer or a swing"):
        Exclusion(golfer="Q0001", swing="S1", reason="x", decided_by="y")


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"key": "Some", "name": "Some"}, "'Some': name: small letters"),
        ({"key": "a/b", "name": "a/b"}, "name: small letters"),
        ({"club": ""}, "club: is empty"),
        ({"sex": "f"}, "sex: 'f' is none of female, male"),
        ({"age_from": 40, "age_to": 20}, "age: from 40 to 20 holds nobody"),
        ({"age_from": -1}, "age: ages run from 0"),
        ({"handicap_above": 5.0, "handicap_to": 5.0}, "handicap: from 5.0 to 5.0 holds nobody"),
        ({"handicap_to": 60.0}, r"handicap: handicaps run from -10 \(a plus handicap of 10\)"),
        ({"handicap_to": 5.0, "levels": (LEVELS["to_5"],)}, "levels: stated beside a handicap"),
        (
            {"recorded_from": date(2026, 1, 2), "recorded_to": date(2026, 1, 1)},
            "recorded: from 2026-01-02",
        ),
        ({"largest_filled_share": 20.0}, "largest_filled_share: is a share from 0 to 1"),
    ],
)
def test_a_definition_that_contradicts_itself_is_refused_by_name_and_key(facts, message):
    with pytest.raises(CohortRefused, match=message):
        check_definition(named(**facts))


def test_two_cohorts_of_one_name_are_refused():
    with pytest.raises(CohortRefused, match="stands twice"):
        check_names([named(), named(sex="male")])


def test_a_definition_can_be_read_by_a_person():
    everything = named(
        levels=(LEVELS["to_5"],),
        sex="female",
        age_from=18,
        labs=("North bay",),
        recorded_to=date(2026, 2, 28),
        largest_filled_share=0.1,
    )
    assert describe(everything) == (
        "consent to norms",
        "club driver",
        "handicap over 0, to 5",
        "female",
        "age from 18 years",
        "recorded at North bay",
        "recorded up to 2026-02-28",
        "at most 10 % of any phase filled",
    )
    plus = named(handicap_above=-2.0, handicap_to=5.0)
    assert describe(plus)[-1] == "handicap over +2, up to 5"


days = st.none() | st.dates(date(2020, 1, 1), date(2030, 1, 1))


@given(
    st.builds(
        CohortDefinition,
        key=st.text(),
        club=st.text(),
        level=st.none() | st.sampled_from(DEFAULT_LEVELS),
        name=st.none() | st.text(),
        levels=st.lists(st.sampled_from(DEFAULT_LEVELS), max_size=3).map(tuple),
        handicap_above=st.none() | st.floats(-10, 54),
        sex=st.sampled_from((None, "female", "male")),
        age_to=st.none() | st.integers(0, 99),
        labs=st.lists(st.text(), max_size=2).map(tuple),
        recorded_from=days,
        recorded_to=days,
        largest_filled_share=st.none() | st.floats(0, 1),
    )
)
def test_a_definition_survives_as_plain_values(definition):
    assert definition_of(definition_document(definition)) == definition


def test_a_plain_cell_is_written_as_it_always_was():
    cell = CohortDefinition(key="driver/all", club="driver")
    assert definition_document(cell) == {"key": "driver/all", "club": "driver", "level": None}


def test_an_edition_holds_named_cohorts_and_what_explains_them(pool_of, golfer):
    codes = [f"Q{i:04d}" for i in range(12)]
    people = {c: golfer(c, 8.0, sex="female" if i < 7 else "male") for i, c in enumerate(codes)}
    pool = pool_of(dict.fromkeys(codes, 3))
    women = named(key="women", name="women", sex="female")
    decision = Exclusion(golfer="Q0000", reason="injured that day", decided_by="head coach")
    edition = build_edition("spring", pool, people, cohorts=(women,), exclusions=(decision,))
    assert edition.cell("women").bands.golfers == 6
    assert verify_edition(edition)
    steps = edition.evidence["attrition"]["women"]
    assert steps[-1]["golfers_left"] == 6
    assert {"rule": OTHER_LEVEL, "swings": 0}.items() <= steps[4].items()
    listed = edition.evidence["left_out"]["every cohort"]
    assert [(one["golfer"], one["reason"]) for one in listed] == [("Q0000", "injured that day")]
    missing = edition.evidence["who_is_missing"]["driver/all"]
    sexes = {row["category"]: row for row in missing if row["margin"] == "sex"}
    assert (sexes["female"]["roster"], sexes["female"]["cohort"]) == (7, 6)
    without = build_edition("spring", pool, people)
    assert without.content_hash != edition.content_hash
