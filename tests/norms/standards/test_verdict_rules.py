"""Met, not yet, cannot tell: at every boundary, monotone, and wrong no more often than stated."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from norms.records.standard import GolferMeans
from norms.standards.quantities import quantity_errors
from norms.standards.verdicts import (
    CANNOT_TELL,
    MET,
    NO_ERROR,
    NO_VALUE,
    NOT_YET,
    TOO_NARROW,
    counts,
    gaps,
    judge,
    met_factor,
    not_yet_factor,
    part_verdicts,
    whole_verdicts,
)

ENDS = np.array([[10.0, 20.0]])
RATE = 0.05


def verdict(value, error, ends=ENDS, rate=RATE) -> int:
    return int(part_verdicts(np.array([[value]]), np.array([[error]]), ends, rate)[0, 0])


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("error", [0.1, 0.5, 2.0])
def test_verdict_changes_exactly_at_the_guards_on_either_side(side, error):
    limit = 20.0 if side > 0 else 10.0
    inner = norm.ppf(0.95) * error
    outer = float(not_yet_factor(10.0 / error, RATE, 1)) * error
    step = 1e-9
    assert verdict(limit - side * (inner + step), error) == MET
    assert verdict(limit - side * (inner - step), error) == CANNOT_TELL
    assert verdict(limit, error) == CANNOT_TELL
    assert verdict(limit + side * (outer - step), error) == CANNOT_TELL
    assert verdict(limit + side * (outer + step), error) == NOT_YET


@pytest.mark.parametrize(
    ("value", "told"), [(10.0, MET), (20.0, MET), (9.999999, NOT_YET), (20.000001, NOT_YET)]
)
def test_without_error_both_limits_belong_to_the_range(value, told):
    assert verdict(value, 0.0) == told


@pytest.mark.parametrize(
    ("ends", "value", "told"),
    [
        ((10.0, np.inf), 1e6, MET),
        ((10.0, np.inf), 8.0, NOT_YET),
        ((10.0, np.inf), 10.2, CANNOT_TELL),
        ((-np.inf, 20.0), -1e6, MET),
        ((-np.inf, 20.0), 22.0, NOT_YET),
    ],
)
def test_a_range_may_be_open_at_one_side(ends, value, told):
    assert verdict(value, 0.5, np.array([ends])) == told


@pytest.mark.parametrize(("value", "error"), [(np.nan, 0.5), (15.0, np.nan)])
def test_what_is_not_known_cannot_be_told(value, error):
    assert verdict(value, error) == CANNOT_TELL


@given(
    low=st.floats(-50, 50),
    width=st.floats(0.01, 100),
    error=st.floats(0, 20),
    near=st.floats(0, 200),
    farther=st.floats(0, 200),
    side=st.sampled_from([1.0, -1.0]),
    rate=st.floats(0.001, 0.2),
    parts=st.integers(1, 8),
)
def test_farther_from_the_middle_is_never_judged_milder(
    low, width, error, near, farther, side, rate, parts
):
    ends = np.tile([[low, low + width]], (parts, 1))
    middle = low + width / 2
    values = [[middle + side * near] * parts, [middle + side * (near + farther)] * parts]
    told = part_verdicts(np.array(values), np.full((2, parts), error), ends, rate)
    order = {MET: 0, CANNOT_TELL: 1, NOT_YET: 2}
    assert order[int(told[0, 0])] <= order[int(told[1, 0])]


@given(
    value=st.floats(-100, 100), low=st.floats(-50, 50), width=st.floats(0.01, 60),
    error=st.floats(0, 10), more=st.floats(0, 10),
)  # fmt: skip
def test_more_error_can_only_turn_a_verdict_into_cannot_tell(value, low, width, error, more):
    ends = np.array([[low, low + width]])
    before, after = verdict(value, error, ends), verdict(value, error + more, ends)
    assert after in (before, CANNOT_TELL)


@given(
    value=st.floats(-100, 100), low=st.floats(-50, 50), width=st.floats(0.01, 60),
    error=st.floats(0, 10), wider=st.floats(0, 10),
)  # fmt: skip
def test_a_wider_range_never_costs_a_golfer_a_met(value, low, width, error, wider):
    if verdict(value, error, np.array([[low, low + width]])) == MET:
        assert verdict(value, error, np.array([[low - wider, low + width + wider]])) == MET


@given(width=st.floats(0, 50), rate=st.floats(0.001, 0.2), parts=st.integers(1, 20))
def test_not_yet_factor_spends_exactly_its_share_at_a_limit(width, rate, parts):
    z = float(not_yet_factor(width, rate, parts))
    assert norm.sf(z) + norm.sf(z + width) == pytest.approx(rate / parts, rel=1e-9)


def test_factors_are_the_textbook_ones_at_their_ends():
    # One-sided and two-sided 5 % points of the standard normal, from any table.
    assert met_factor(0.05) == pytest.approx(1.6448536, abs=1e-7)
    assert float(not_yet_factor(np.inf, 0.05, 1)) == pytest.approx(1.6448536, abs=1e-6)
    assert float(not_yet_factor(0.0, 0.05, 1)) == pytest.approx(1.9599640, abs=1e-6)


@pytest.mark.parametrize(
    ("parts", "whole"),
    [
        ([MET, MET], MET),
        ([MET, CANNOT_TELL], CANNOT_TELL),
        ([CANNOT_TELL, CANNOT_TELL], CANNOT_TELL),
        ([MET, NOT_YET], NOT_YET),
        ([CANNOT_TELL, NOT_YET], NOT_YET),
    ],
)
def test_whole_is_met_by_all_parts_and_not_yet_by_any(parts, whole):
    assert whole_verdicts(np.array([parts]))[0] == whole


def test_gap_is_the_distance_outside():
    values = np.array([[8.5], [10.0], [15.0], [23.0], [np.nan]])
    np.testing.assert_array_equal(gaps(values, ENDS)[:, 0], [1.5, 0, 0, 3.0, np.nan])


@pytest.fixture
def judged(academy, standard_of, ranges):
    """A standard of two parts, and a way to judge golfers by hand-made means."""
    standard = standard_of(requirements=ranges(sway_travel=(8.0, 14.0), thrust_impact=(7.0, 13.0)))
    errors = quantity_errors(academy.noise, [one.quantity for one in standard.requirements])

    def run(rows, error):
        n = len(rows)
        means = GolferMeans(
            golfers=tuple(f"Q{i:04d}" for i in range(n)),
            swings=np.full(n, 5),
            days=np.ones(n),
            values=np.array(rows, dtype=float),
            errors=np.full((n, 2), float(error)),
        )
        return judge(standard, means, errors)

    return run


def test_judging_says_value_gap_and_smallest_change_of_each_part(judged):
    (told,) = judged([[11.0, 15.0]], 0.4)
    assert told.verdict == "not yet"
    assert [part.verdict for part in told.parts] == ["met", "not yet"]
    assert [part.gap for part in told.parts] == [0.0, 2.0]
    # 1.96 times root two times the standard error.
    assert told.parts[0].smallest_change == pytest.approx(1.959964 * 2**0.5 * 0.4, rel=1e-6)


def test_close_is_outside_by_no_more_than_the_smallest_change_of_a_planned_review(academy, judged):
    planned = np.hypot(academy.noise.swing_sd[1] / 5**0.5, academy.noise.day_sd[1])
    planned *= academy.noise.sem_between.high[1] / academy.noise.sem_between.value[1]
    smallest = 1.959964 * 2**0.5 * planned
    rows = [
        [11.0, 13.0 + smallest - 0.001],
        [11.0, 13.0 + smallest + 0.001],
        [11.0, 10.0],
        [11.0, 12.9],
        [11.0, np.nan],
    ]
    told = judged(rows, 0.2)
    assert [one.close for one in told] == [True, False, False, False, False]
    assert counts(told) == {"met": 1, "not yet": 2, "cannot tell": 2}
    # A golfer's own large error does not make a golfer close.
    assert not judged([[11.0, 13.0 + 2 * smallest]], 5.0)[0].close


def test_cannot_tell_says_why_where_more_of_the_same_does_not_mend_it(judged):
    assert judged([[np.nan, 10.0]], 0.4)[0].parts[0].why == NO_VALUE
    assert judged([[11.0, 10.0]], np.nan)[0].parts[0].why == NO_ERROR
    assert judged([[11.0, 10.0]], 2.5)[0].parts[0].why == TOO_NARROW
    assert judged([[7.9, 10.0]], 0.4)[0].parts[0].why is None
