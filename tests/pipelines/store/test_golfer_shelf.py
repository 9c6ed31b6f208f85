"""Event marks of golfers, and many swings read at once."""

from datetime import date

import numpy as np
import pytest

from norms.errors import StoreRefused
from norms.records import Golfer
from norms.records.progress import GolferEvent


def test_marks_come_back_by_day_and_two_of_one_day_are_two(store):
    store.add_golfers([Golfer(code="Q0001", hand="right")])
    lesson = GolferEvent(golfer="Q0001", day=date(2026, 4, 2), kind="lesson", note="posture")
    injury = GolferEvent(golfer="Q0001", day=date(2026, 2, 1), kind="injury")
    for event in (lesson, injury):
        store.golfer_shelf.mark(event)
    assert store.golfer_shelf.events("Q0001") == [injury, lesson]
    second = GolferEvent(golfer="Q0001", day=date(2026, 4, 2), kind="lesson", note="grip")
    store.golfer_shelf.mark(second)
    assert store.golfer_shelf.events("Q0001") == [injury, lesson, second]
    assert store.golfer_shelf.events("Q0002") == []


def test_a_mark_of_nobody_is_refused(store):
    event = GolferEvent(golfer="Q9999", day=date(2026, 4, 2), kind="lesson")
    with pytest.raises(StoreRefused, match="not on the roster"):
        store.golfer_shelf.mark(event)


def test_many_swings_are_those_read_one_by_one(store, make_swing):
    from datetime import UTC, datetime

    store.add_golfers([Golfer(code="Q0001", hand="right")])
    run = store.begin_run("North bay", datetime.now(UTC))
    made = [make_swing(number) for number in range(1, 6)]
    store.add_swings(made, [], run)
    codes = [one.label.swing for one in made]
    together = store.golfer_shelf.swings(codes)
    assert sorted(together) == sorted(codes)
    for code in codes:
        alone = store.swing(code)
        assert together[code].label == alone.label
        assert together[code].events == alone.events
        assert together[code].notices == alone.notices
        assert together[code].features.values == alone.features.values
        assert together[code].features.missing == alone.features.missing
        np.testing.assert_array_equal(together[code].curve.values_cm, alone.curve.values_cm)
        np.testing.assert_array_equal(together[code].shot_axes, alone.shot_axes)


def test_a_swing_that_is_not_there_is_named(store):
    with pytest.raises(StoreRefused, match="S00404"):
        store.golfer_shelf.swings(["S00404"])
