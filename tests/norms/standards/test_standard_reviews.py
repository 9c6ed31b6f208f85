"""Which swings count, what each golfer's mean and error are, realism, drift, progress, compare."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from norms.records import DatedHandicap, Golfer
from norms.records.standard import GolferMeans, QuantityErrors, ReviewSwings
from norms.standards.compare import changed_requirements, what_changed, whose_verdict_flips
from norms.standards.drift import FEWEST_NEW, drift, reminders
from norms.standards.evidence import edition_rules
from norms.standards.measured import (
    NOT_ASKED,
    NOT_ON_ROSTER,
    OUTSIDE_DAYS,
    SESSION_HELD,
    UNKNOWN_LAB,
    ReviewRules,
    review_means,
)
from norms.standards.progress import progress
from norms.standards.quantities import mean_error_of, planned_error, quantity_errors
from norms.standards.realism import realism
from norms.standards.review import level_verdicts, part_counts
from norms.standards.verdicts import judge

ON = date(2026, 6, 1)
ERRORS = QuantityErrors(
    swing_sd=np.array([2.0, 2.0]),
    day_sd=np.array([1.0, np.nan]),
    caution_factor=np.array([1.0, 1.5]),
    individuality=np.array([0.4, 0.4]),
    confidence=0.95,
)


def golfer(code, handicap=9.0):
    return Golfer(
        code=code,
        hand="right",
        handicaps=(DatedHandicap(since=date(2025, 1, 1), index=handicap),),
    )


ROSTER = {code: golfer(code) for code in ("A", "B")} | {"C": golfer("C", 30.0)}


def swings_of(*rows):
    """Swings of (golfer, day before the review, lab, values)."""
    return ReviewSwings(
        golfers=tuple(row[0] for row in rows),
        labs=tuple(row[2] for row in rows),
        recorded_on=tuple(ON - timedelta(days=row[1]) for row in rows),
        values=np.array([row[3] for row in rows], dtype=float),
    )


@pytest.fixture
def means_of(academy, standard_of):
    def make(*rows, **rules):
        levels = edition_rules(academy.edition).levels
        return review_means(
            swings_of(*rows),
            ROSTER,
            standard_of(),
            ERRORS,
            ReviewRules(on=ON, levels=levels, **rules),
        )

    return make


def test_mean_and_error_of_unequal_days_by_hand(means_of):
    rows = [("A", 0, "N", (10, 1)), ("A", 0, "N", (12, np.nan)), ("A", 5, "N", (20, 4))]
    told = means_of(*rows)
    assert told.golfers == ("A",)
    assert (told.swings[0], told.days[0]) == (3, 2)
    np.testing.assert_allclose(told.values[0], [14.0, 2.5])
    # Variance 4/3 of three swings, and of the days 1 (2/3)^2 + 1 (1/3)^2.
    assert told.errors[0, 0] == pytest.approx(np.sqrt(4 / 3 + 5 / 9))
    # Two swings, the day unknown, times the allowance for the budget's own error.
    assert told.errors[0, 1] == pytest.approx(1.5 * np.sqrt(4 / 2))


def test_the_same_day_in_two_labs_is_two_days(means_of):
    assert means_of(("A", 0, "N", (1, 1)), ("A", 0, "S", (1, 1))).days[0] == 2


def test_planned_error_is_that_of_equal_days():
    expected = np.sqrt(4.0 / 6 + 1.0 / 2)
    assert planned_error(ERRORS, 6, 2)[0] == pytest.approx(expected)
    by_counts = mean_error_of(ERRORS, np.array([6.0]), np.array([18.0]))
    assert by_counts[0, 0] == pytest.approx(expected)


@pytest.mark.parametrize(
    ("row", "rules", "reason"),
    [
        (("A", 0, "N", (1, 1)), {"only": ("B",)}, NOT_ASKED),
        (("Z", 0, "N", (1, 1)), {}, NOT_ON_ROSTER),
        (("A", 90, "N", (1, 1)), {}, OUTSIDE_DAYS),
        (("A", -1, "N", (1, 1)), {}, OUTSIDE_DAYS),
        (("A", 0, "N", (1, 1)), {"held": {("N", ON)}}, SESSION_HELD),
        (("A", 0, "N", (1, 1)), {"labs": {"S"}}, UNKNOWN_LAB),
        (("C", 0, "N", (1, 1)), {}, "another level on the day of the swing"),
    ],
)
def test_swings_that_do_not_count_are_told_by_reason(means_of, row, rules, reason):
    told = means_of(row, **rules)
    assert told.golfers == ()
    assert told.left_out == ((reason, 1),)


def test_only_swings_after_an_earlier_review_where_asked(means_of):
    rows = [("A", 10, "N", (1, 1)), ("A", 9, "N", (3, 3))]
    after = ON - timedelta(days=10)
    assert means_of(*rows, after=after).values[0, 0] == 3.0
    # An earlier review before the window does not widen it.
    assert means_of(("A", 90, "N", (1, 1)), after=ON - timedelta(days=400)).golfers == ()


def test_last_day_of_the_window_counts(means_of):
    assert means_of(("A", 89, "N", (1, 1))).golfers == ("A",)


def own_means(academy, standard, shift=0.0):
    """The academy's golfers of the standard as means of six swings on two days."""
    codes = [code for code, g in academy.golfers.items() if g.handicap_on(ON) == 9.0]
    rows = [list(academy.golfers).index(code) for code in codes]
    errors = quantity_errors(academy.noise, [one.quantity for one in standard.requirements])
    n = len(codes)
    means = GolferMeans(
        golfers=tuple(codes),
        swings=np.full(n, 6),
        days=np.full(n, 2),
        values=academy.truths[rows][:, : len(standard.requirements)] + shift,
        errors=np.tile(planned_error(errors, 6, 2), (n, 1)),
    )
    return means, errors


def test_realism_is_the_plain_share_of_every_level(academy, standard_of, ranges):
    standard = standard_of(requirements=ranges(sway_travel=(10.0, 99.0)))
    found = realism(standard, academy.edition)
    assert [level.label for level in found.levels][:3] == [
        "handicap 0 or better", "handicap over 0, to 5", "handicap over 5, to 12",
    ]  # fmt: skip
    for level in found.levels:
        cohort = academy.edition.cell(level.key).cohort
        if not cohort.golfers:
            assert level.whole.share is None
            continue
        assert level.whole.share == pytest.approx((cohort.features[:, 0] >= 10.0).mean())
        assert level.whole.low < level.whole.share < level.whole.high


def test_realism_finds_that_meeting_goes_with_level_where_it_does(academy, standard_of, ranges):
    goes = realism(standard_of(requirements=ranges(sway_travel=(10.0, 99.0))), academy.edition)
    does_not = realism(
        standard_of(requirements=ranges(thrust_impact=(10.0, 99.0))), academy.edition
    )
    assert goes.trend.better > 0.6
    assert goes.trend.p_value < 0.001
    assert does_not.trend.p_value > 0.01
    assert goes.trend.inside + goes.trend.outside == 240


def test_trend_is_the_share_of_pairs_counted_by_hand(academy, standard_of, ranges):
    found = realism(standard_of(requirements=ranges(sway_travel=(10.0, 99.0))), academy.edition)
    ranks, met = [], []
    for rank, key in enumerate(("driver/to_5", "driver/to_12", "driver/to_20")):
        values = academy.edition.cell(key).cohort.features[:, 0]
        ranks += [rank] * len(values)
        met += (values >= 10.0).tolist()
    ranks, met = np.array(ranks), np.array(met)
    pairs = ranks[~met][:, None] - ranks[met][None, :]
    assert found.trend.better == pytest.approx(((pairs > 0) + (pairs == 0) / 2).mean())


def test_small_levels_of_realism_are_withheld(small_academy, standard_of):
    found = realism(standard_of(academy=small_academy), small_academy.edition)
    empty = next(level for level in found.levels if level.label == "playing professional")
    assert empty.whole.inside is None
    assert all(part.share is None for part in empty.parts)


def renamed(means, count):
    return replace(
        means,
        golfers=tuple(f"X{i:04d}" for i in range(count)),
        **{name: getattr(means, name)[:count] for name in ("swings", "days", "values", "errors")},
    )


def test_new_golfers_alike_raise_no_alarm_and_others_do(academy, standard_of):
    standard = standard_of()
    means, _ = own_means(academy, standard)
    assert drift(standard, academy.edition, means).new_golfers == 0
    alike = drift(standard, academy.edition, renamed(means, 40))
    assert (alike.new_golfers, alike.drifted) == (40, False)
    moved, _ = own_means(academy, standard, shift=2.0)
    found = drift(standard, academy.edition, renamed(moved, 40))
    assert found.drifted
    assert found.quantities[0].new_median > found.quantities[0].edition_median
    told = reminders(standard, ON, found)
    assert "40 golfers new since edition spring" in told[0]


def test_few_new_golfers_say_nothing(academy, standard_of):
    standard = standard_of()
    moved, _ = own_means(academy, standard, shift=5.0)
    assert not drift(standard, academy.edition, renamed(moved, FEWEST_NEW - 1)).quantities


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (date(2027, 5, 1), "was to be reviewed by"),
        (date(2027, 4, 20), "in 11 days"),
        (date(2026, 6, 1), None),
    ],
)
def test_review_dates_remind(standard_of, on, words):
    told = reminders(standard_of(), on)
    assert (words in told[0]) if words else told == ()


def test_an_edition_computed_anew_after_an_erasure_is_told(standard_of):
    standard = standard_of()
    assert reminders(standard, ON, None, standard.edition_hash) == ()
    (told,) = reminders(standard, ON, None, "0" * 64)
    assert "a golfer was erased" in told


def test_progress_is_told_by_the_smallest_change_between_the_two_means(
    academy, standard_of, ranges
):
    standard = standard_of(requirements=ranges(sway_travel=(10.0, 14.0)))
    _, errors = own_means(academy, standard)

    def verdicts(*values):
        n = len(values)
        return judge(
            standard,
            GolferMeans(
                golfers=tuple("ABCDE"[:n]),
                swings=np.full(n, 5),
                days=np.ones(n),
                values=np.array(values, dtype=float)[:, None],
                errors=np.full((n, 1), 0.3),
            ),
            errors,
        )

    smallest = 1.959964 * 2**0.5 * 0.3
    before = {one.golfer: one for one in verdicts(8.0, 8.0, 11.0, 12.0)}
    now = verdicts(8.0 + smallest + 0.01, 8.0 + smallest - 0.01, 11.0 + 2, 15.5, 12.0)
    told = progress(standard, before, now, now, errors.confidence)
    assert [one.parts[0].movement for one in told] == [
        "nearer", "no change that can be told", "moved inside", "farther",
    ]  # fmt: skip
    assert told[0].parts[0].smallest_change == pytest.approx(smallest, rel=1e-6)
    # Who has not swung since is not spoken of; the verdict is that of the later review.
    (only,) = progress(standard, before, now, now[3:], errors.confidence)
    assert (only.golfer, only.now) == ("D", now[3].verdict)


def test_comparing_says_what_is_asked_differently_and_who_flips(academy, standard_of, ranges):
    first = standard_of(requirements=ranges(sway_travel=(8.0, 14.0), tempo=(6.0, 14.0)))
    second = standard_of(
        requirements=ranges(sway_travel=(10.0, 14.0), thrust_impact=(6.0, 14.0)), wrong_rate=0.1
    )
    changed = {one.subject: (one.first, one.second) for one in what_changed(first, second)}
    assert changed["wrong at most"] == ("5 %", "10 %")
    assert "edition" not in changed
    asked = {one.asked.quantity.key: one for one in changed_requirements(first, second)}
    assert (asked["sway_travel"].first.low, asked["sway_travel"].second.low) == (8.0, 10.0)
    assert asked["tempo"].second is None
    assert asked["thrust_impact"].first is None
    means, errors = own_means(academy, first)
    flips = whose_verdict_flips(judge(first, means, errors), ())
    assert len(flips) == len(means.golfers)
    assert whose_verdict_flips(judge(first, means, errors), judge(first, means, errors)) == ()


def test_counts_by_part_and_level(academy, standard_of, ranges):
    standard = standard_of(requirements=ranges(sway_travel=(8.0, 12.0), tempo=(8.0, 12.0)))
    means, errors = own_means(academy, standard)
    verdicts = judge(standard, means, errors)
    for place, told in enumerate(part_counts(standard, verdicts)):
        assert sum(told.values()) == len(verdicts)
        assert told["met"] == sum(one.parts[place].verdict == "met" for one in verdicts)
    half = {code: "a" if i % 2 else "b" for i, code in enumerate(means.golfers)}
    by_level = level_verdicts(verdicts, half, ["a", "b", "c"])
    assert [level.label for level in by_level] == ["a", "b"]
    assert sum(sum(level.golfers.values()) for level in by_level) == len(verdicts)
