"""No small group can be found by subtracting shown cells from one another."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.cohort.bands import bands_of
from norms.cohort.suppression import linked_cells, with_linked_suppression
from norms.records import Cohort, CohortDefinition, CohortNorms, Level


def people(first, count):
    return frozenset(f"Q{n:03d}" for n in range(first, first + count))


def found_by_subtraction(shown, smallest):
    """Every group of 1 to smallest - 1 golfers that a cell less some cells inside it leaves.

    By trying every selection: independent of how the suppression searches.
    """
    groups = set()
    for whole, golfers in shown.items():
        inside = [part for key, part in shown.items() if key != whole and part < golfers]
        for size in range(len(inside) + 1):
            for parts in combinations(inside, size):
                left = golfers.difference(*parts)
                if 0 < len(left) < smallest:
                    groups.add(left)
    return groups


def test_one_withheld_level_takes_the_smallest_shown_one_with_it():
    levels = {"a": people(0, 20), "b": people(20, 8), "c": people(28, 12)}
    everyone = people(0, 43)  # three golfers of a withheld level, too
    assert linked_cells({"all": everyone, **levels}) == ("b",)


def test_two_withheld_levels_that_are_large_together_need_no_other():
    levels = {"a": people(0, 20), "b": people(20, 8)}
    assert linked_cells({"all": people(0, 34), **levels}) == ()  # 3 + 3 golfers are left


def test_levels_that_are_all_shown_give_nobody_away():
    levels = {"a": people(0, 20), "b": people(20, 8), "c": people(28, 12)}
    assert linked_cells({"all": people(0, 40), **levels}) == ()


def test_a_cohort_that_is_another_less_a_few_is_withheld():
    assert linked_cells({"all": people(0, 40), "named": people(0, 37)}) == ("named",)
    assert linked_cells({"all": people(0, 40), "named": people(0, 35)}) == ()


def test_a_stricter_academy_links_more():
    cells = {"all": people(0, 40), "named": people(0, 33)}
    assert linked_cells(cells, 5) == ()
    assert linked_cells(cells, 8) == ("named",)


def test_cells_of_the_same_golfers_are_no_subtraction():
    assert linked_cells({"all": people(0, 9), "named": people(0, 9)}) == ()


golfers = st.frozensets(st.integers(0, 15).map(lambda n: f"Q{n:02d}"), min_size=4, max_size=16)


@given(cells=st.lists(golfers, max_size=7), whole=st.booleans(), smallest=st.integers(2, 6))
@settings(max_examples=300, deadline=None)
def test_nothing_small_can_be_subtracted_from_what_is_left(cells, whole, smallest):
    if whole:
        cells = [*cells, frozenset().union(*cells)]
    shown = {f"cell {n}": part for n, part in enumerate(cells) if len(part) >= smallest}
    withheld = linked_cells(shown, smallest)
    left = {key: part for key, part in shown.items() if key not in withheld}
    assert found_by_subtraction(left, smallest) == set()
    if not found_by_subtraction(shown, smallest):
        assert withheld == ()  # nothing is withheld without need


def cell(key, codes, level, club="driver"):
    rng = np.random.default_rng(len(codes))
    n = len(codes)
    cohort = Cohort(
        definition=CohortDefinition(key=key, club=club, level=level),
        golfers=tuple(sorted(codes)),
        swing_counts=np.ones(n),
        curves_cm=rng.normal(size=(n, 3, 301)),
        feature_names=("lift_low",),
        features=rng.normal(size=(n, 1)),
    )
    small = n < 5
    return CohortNorms(
        cohort=cohort,
        bands=None if small else bands_of(cohort),
        withheld=f"{n} golfers" if small else None,
    )


def edition_cells(club):
    low, high, rest = (Level(key=key, label=key) for key in ("low", "high", "rest"))
    return [
        cell(f"{club}/all", people(0, 23), None, club),
        cell(f"{club}/high", people(0, 12), high, club),
        cell(f"{club}/low", people(12, 8), low, club),
        cell(f"{club}/rest", people(20, 3), rest, club),
    ]


def test_cells_of_an_edition_say_why_they_are_withheld_and_keep_their_golfers():
    cells = edition_cells("driver")
    after = with_linked_suppression(cells)
    assert [one.bands is None for one in after] == [False, False, True, True]
    assert after[2].withheld == (
        "8 golfers, withheld so that a group of fewer than 5 cannot be found by subtracting cells "
        "from one another."
    )
    assert after[2].cohort.golfers == cells[2].cohort.golfers
    assert after[3].withheld == "3 golfers"
    assert after[0] is cells[0]


def test_clubs_are_not_subtracted_from_one_another():
    iron = [cell("iron 7/all", people(0, 21), None, "iron 7")]
    after = with_linked_suppression([cell("driver/all", people(0, 23), None), *iron])
    assert all(one.bands is not None for one in after)


@pytest.mark.parametrize("count", [0, 1])
def test_few_cells_are_left_alone(count):
    cells = edition_cells("driver")[:count]
    assert with_linked_suppression(cells) == tuple(cells)
