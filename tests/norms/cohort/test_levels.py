from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.cohort.levels import DEFAULT_LEVELS, check_levels, level_for, level_of
from norms.errors import CohortRefused
from norms.records import DatedHandicap, Golfer, Level


def test_the_default_table_is_valid():
    check_levels(DEFAULT_LEVELS)


@pytest.mark.parametrize(
    ("handicap", "key"),
    [
        *((-10.0, "scratch"), (-2.4, "scratch"), (0.0, "scratch"), (0.1, "to_5"), (5.0, "to_5")),
        *((5.1, "to_12"), (12.0, "to_12"), (20.0, "to_20"), (20.1, "to_36"), (36.0, "to_36")),
        *((36.1, "above_36"), (54.0, "above_36"), (None, "none")),
    ],
)
def test_a_level_ends_with_its_upper_handicap(handicap, key):
    assert level_for(handicap, DEFAULT_LEVELS).key == key


@given(st.floats(-10, 54))
def test_every_handicap_has_exactly_one_level(handicap):
    fits = [
        level.key
        for level in DEFAULT_LEVELS
        if level.kind == "handicap"
        and (level.above is None or level.above < handicap)
        and (level.to is None or handicap <= level.to)
    ]
    assert fits == [level_for(handicap, DEFAULT_LEVELS).key]


def test_a_professional_keeps_that_level_whatever_the_handicap():
    assert level_for(-3.0, DEFAULT_LEVELS, professional=True).key == "professional"
    assert level_for(None, DEFAULT_LEVELS, professional=True).key == "professional"


def test_the_handicap_of_the_day_decides():
    golfer = Golfer(
        code="Q0001",
        hand="left",
        handicaps=(
            DatedHandicap(since=date(2025, 4, 1), index=13.0),
            DatedHandicap(since=date(2025, 7, 1), index=11.2),
        ),
    )
    days = [date(2025, 3, 31), date(2025, 4, 1), date(2025, 6, 30), date(2025, 7, 1)]
    found = [level_of(golfer, day, DEFAULT_LEVELS).key for day in days]
    assert found == ["none", "to_20", "to_20", "to_12"]


@pytest.mark.parametrize("handicap", [-10.1, 54.1, float("nan"), float("inf")])
def test_an_impossible_handicap_is_refused(handicap):
    with pytest.raises(CohortRefused, match="allowed is") as refusal:
        level_for(handicap, DEFAULT_LEVELS)
    assert refusal.value.code == "handicap"


NONE = Level(key="none", label="no handicap", kind="none")
PRO = Level(key="pro", label="professional", kind="professional")
LOW = Level(key="low", label="to 10", to=10.0)
HIGH = Level(key="high", label="over 10", above=10.0)


def test_the_order_of_a_table_does_not_matter():
    check_levels([HIGH, PRO, LOW, NONE])


@pytest.mark.parametrize(
    ("levels", "reason"),
    [
        ([LOW, HIGH, NONE], "0 levels of kind 'professional'"),
        ([LOW, HIGH, NONE, NONE, PRO], "repeated"),
        ([LOW, NONE, PRO], "open above"),
        ([HIGH, NONE, PRO], "open below"),
        ([NONE, PRO], "open below"),
        ([LOW, Level(key="h", label="", above=12.0), NONE, PRO], "gap"),
        ([LOW, Level(key="h", label="", above=8.0), NONE, PRO], "overlap"),
        ([LOW, Level(key="h", label=""), NONE, PRO], "overlap|open"),
        (
            [LOW, Level(key="x", label="", above=10.0, to=10.0), HIGH, NONE, PRO],
            "nobody fits|must meet",
        ),
        ([LOW, Level(key="all", label="", above=10.0), NONE, PRO], "reserved"),
        ([LOW, Level(key="a/b", label="", above=10.0), NONE, PRO], "holds a '/'"),
        ([LOW, HIGH, NONE, PRO, Level(key="x", label="", kind="guest")], "a kind is none of"),
    ],
)
def test_a_table_that_does_not_cover_is_refused(levels, reason):
    with pytest.raises(CohortRefused, match=reason) as refusal:
        check_levels(levels)
    assert refusal.value.code == "levels"
