from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.errors import CohortRefused
from norms.placement.golfer_progress import (
    TWO_LABS,
    WHEN_ONLY,
    Session,
    chosen_sessions,
    compare_sessions,
    sessions_of,
)
from norms.placement.peers import without
from norms.placement.progress import (
    Spread,
    change_bars,
    critical_value,
    is_real,
    judge_change,
)
from norms.records.progress import GolferEvent

USUAL = Spread(golfer=1.0, day=0.3, swing=0.6, mean=0.0)


def test_a_golfer_at_the_5th_centile_is_expected_near_the_12th():
    # Retest correlation 0.7 with nothing done: 0.7 * -1.645 = -1.15, the 12th centile.
    within = np.sqrt(1.0 / 0.7 - 1.0)
    spread = Spread(golfer=1.0, day=0.0, swing=within, mean=0.0)
    first = -1.6449 * np.sqrt(1.0 / 0.7)
    bars = change_bars(first, spread, (1, 1))
    assert bars.retest == pytest.approx(0.7)
    from scipy import stats

    expected_second = first + bars.expected
    centile = 100 * stats.norm.cdf(expected_second / np.sqrt(1.0 / 0.7))
    assert centile == pytest.approx(12.5, abs=0.3)


@settings(deadline=None)
@given(
    st.floats(-4, 4), st.floats(0.05, 3), st.floats(0.05, 3), st.floats(0, 2),
    st.integers(1, 9), st.integers(1, 9),
)  # fmt: skip
def test_false_alarms_are_one_in_twenty_whatever_the_first_session(
    first, golfer, swing, day, before, after
):
    from scipy import stats

    spread = Spread(golfer=golfer, day=day, swing=swing, mean=0.0)
    bars = change_bars(first, spread, (before, after))
    of_first = day**2 + swing**2 / before
    sd_next = np.sqrt(golfer**2 * (1 - bars.retest) + day**2 + swing**2 / after)
    assert bars.expected == pytest.approx(-first * of_first / (golfer**2 + of_first))
    upper, lower = max(bars.needed, bars.high), min(-bars.needed, bars.low)
    alarms = stats.norm.sf(upper, bars.expected, sd_next) + stats.norm.cdf(
        lower, bars.expected, sd_next
    )
    assert alarms == pytest.approx(0.05, abs=1e-6)


def test_without_a_spread_between_golfers_all_is_return_to_the_middle():
    bars = change_bars(2.0, Spread(golfer=0.0, day=0.0, swing=1.0, mean=0.0), (1, 1))
    assert bars.retest == 0.0
    assert bars.expected == -2.0


def test_a_return_to_the_middle_is_not_called_real():
    first = -3.0
    bars = change_bars(first, USUAL, (1, 1))
    naive = 1.96 * np.sqrt(2 * (0.09 + 0.36))
    change = naive + 0.05  # beyond the plain smallest detectable change
    assert not is_real(change, bars)
    # The same change from an average first session is.
    assert is_real(change, change_bars(0.0, USUAL, (1, 1)))


def test_critical_value_is_the_usual_one_where_nothing_is_expected():
    assert critical_value(0.0, 1.0, 1.0) == pytest.approx(1.959964, abs=1e-5)


@settings(deadline=None)
@given(st.floats(-6, 6), st.floats(-6, 6), st.integers(1, 6), st.integers(1, 6))
def test_verdict_and_bars_cannot_disagree(first, last, before, after):
    found = judge_change("sway_top", first, last, USUAL, (before, after))
    beyond = found.change > max(found.needed, found.expected_high) or found.change < min(
        -found.needed, found.expected_low
    )
    assert (found.verdict == "real") == beyond
    assert (found.verdict == "not enough swings") == (found.more_swings is not None)
    if found.more_swings:
        more = change_bars(first, USUAL, (before, after + found.more_swings))
        assert is_real(found.change, more)
        fewer = change_bars(first, USUAL, (before, after + found.more_swings - 1))
        assert not is_real(found.change, fewer)


def test_more_swings_are_asked_for_where_they_would_tell():
    spread = Spread(golfer=1.0, day=0.0, swing=1.0, mean=0.0)
    found = judge_change("sway_top", 0.0, 1.7, spread, (4, 1))
    assert found.verdict == "not enough swings"
    assert found.more_swings >= 1
    small = judge_change("sway_top", 0.0, 0.2, spread, (4, 1))
    assert small.verdict == "within noise"


@pytest.mark.parametrize(
    "spread", [None, Spread(1.0, float("nan"), 1.0, 0.0), Spread(1.0, 0.0, 0.0, 0.0)]
)
def test_unknown_noise_cannot_be_judged(spread):
    assert judge_change("sway_top", 0.0, 9.0, spread, (1, 1)).verdict == "cannot be judged"


def progress(ground, **choices):
    cohort = ground.edition.cell("driver/all").cohort
    return compare_sessions(
        ground.pool, "Q0000", "driver", without(cohort, "Q0000"), ground.noise["driver"], None,
        edition="spring", **choices,
    )  # fmt: skip


def test_two_sessions_are_compared_with_the_golfers_own_band(ground):
    found = progress(ground)
    assert [one.swings for one in found.sessions] == [3, 3]
    assert found.compared == (0, 1)
    assert len(found.changes) == len(ground.pool.feature_names)
    assert (found.own_low_cm[:, 1:] < found.own_high_cm[:, 1:]).all()
    assert len(found.own_deviation_cm) == 2


def test_the_peers_band_is_the_widest_they_support(ground):
    cell = ground.edition.cell("driver/all")
    cohort = without(cell.cohort, "Q0000")

    def band_of(bands):
        found = compare_sessions(
            ground.pool, "Q0000", "driver", cohort, ground.noise["driver"], bands, edition="spring"
        )
        return found.peers_share, found.peers_low_cm

    share, low = band_of(cell.bands)
    shown = cell.bands.shown_percents()
    assert share == (0.9 if 5.0 in shown else 0.8)
    percent = 50.0 * (1.0 - share)
    expected = cell.bands.curve_cm[cell.bands.percents.index(round(percent, 6))]
    np.testing.assert_array_equal(low, expected)
    missing, nothing = band_of(None)
    assert missing is None
    assert np.isnan(nothing).all()


def test_an_event_in_between_is_no_cause(ground):
    lesson = GolferEvent(golfer="Q0000", day=date(2025, 7, 1), kind="lesson")
    found = progress(ground, events=[lesson])
    assert found.events == (lesson,)
    assert WHEN_ONLY in found.cautions
    later = GolferEvent(golfer="Q0000", day=date(2026, 7, 1), kind="injury")
    assert WHEN_ONLY not in progress(ground, events=[later]).cautions
    assert TWO_LABS not in found.cautions


def test_sessions_that_are_not_there_are_refused(ground):
    one, two = (session.day for session in sessions_of(ground.pool, "Q0000", "driver"))
    listed = f"{one} in .*; {two} in "
    for days in ((two, one), (two, None), (None, one), (one, one)):
        with pytest.raises(CohortRefused, match=f"an earlier session and a later one of {listed}"):
            progress(ground, days=days)
    with pytest.raises(CohortRefused, match=f"no session on 2001-01-01; there are {listed}"):
        progress(ground, days=(date(2001, 1, 1), None))
    cohort = ground.edition.cell("driver/all").cohort
    with pytest.raises(CohortRefused, match="two are needed"):
        compare_sessions(ground.pool, "Q7777", "driver", cohort, None, None, edition="spring")
    assert sessions_of(ground.pool, "Q7777", "driver") == []


SPRING, SUMMER, AUTUMN = date(2025, 4, 1), date(2025, 7, 1), date(2025, 10, 1)


@pytest.mark.parametrize(
    ("days", "places"),
    [
        ((None, None), (2, 3)),
        ((SPRING, None), (0, 3)),
        ((None, SUMMER), (1, 2)),
        ((SPRING, SUMMER), (0, 2)),
        ((SUMMER, AUTUMN), (1, 3)),
        ((SUMMER, SUMMER), (1, 2)),  # a day in two labs
    ],
)
def test_two_days_name_two_sessions(days, places):
    labs = [(SPRING, "A"), (SUMMER, "A"), (SUMMER, "B"), (AUTUMN, "A")]
    sessions = [Session(day, lab, [row]) for row, (day, lab) in enumerate(labs)]
    assert chosen_sessions(sessions, "Q0000", "driver", days) == places
