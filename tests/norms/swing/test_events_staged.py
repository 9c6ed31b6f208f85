"""Captures that are not one plain swing: pauses, waggles, practice swings, two, half ones."""

import re

import numpy as np
import pytest

from norms.errors import Notice, SwingRefused
from norms.records import EventCorrection, SwingEvents
from norms.swing.detect_events import detect_events
from norms.swing.process import process_capture
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths

RATE = 240.0
SWING = SwingParameters()
Paths = tuple[np.ndarray, np.ndarray]  # club and hands


def staged(swing: SwingParameters = SWING, times: np.ndarray | None = None) -> Paths:
    """Club and hands of a swing, at its own times or at others of its course."""
    paths = marker_paths(swing, Body(), capture_times(swing, RATE) if times is None else times)
    return paths["club_head"], (paths["left_hand"] + paths["right_hand"]) / 2


def joined(first: Paths, second: Paths, glide_s: float = 1.5) -> Paths:
    """One after the other, with a slow smooth way back between them."""
    share = np.linspace(0.0, 1.0, int(glide_s * RATE))[:, None]
    ease = share**3 * (10 - 15 * share + 6 * share**2)
    return tuple(  # type: ignore[return-value]
        np.concatenate([a, a[-1] + ease * (b[0] - a[-1]), b])
        for a, b in zip(first, second, strict=True)
    )


def found(
    paths: Paths, *, noise_cm: float = 0.05, seed: int = 0, hands_only: bool = False, **fields
) -> tuple[SwingEvents, tuple[Notice, ...]]:
    rng = np.random.default_rng(seed)
    club, hands = (p + rng.normal(scale=noise_cm, size=p.shape) for p in paths)
    return detect_events(
        rate_hz=RATE,
        last_s=(len(club) - 1) / RATE,
        club_cm=None if hands_only else club,
        hands_cm=hands,
        **fields,
    )


@pytest.mark.parametrize("hands_only", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_the_top_of_a_paused_swing_is_the_middle_of_its_pause(seed, hands_only) -> None:
    pause_s = 0.3
    clock = np.arange(int((SWING.end_s + pause_s) * RATE)) / RATE
    course = np.where(clock < SWING.top_s, clock, np.maximum(SWING.top_s, clock - pause_s))
    events, notices = found(staged(times=course), seed=seed, hands_only=hands_only)
    assert events.top.time_s == pytest.approx(SWING.top_s + pause_s / 2, abs=0.04)
    assert events.top.uncertainty_s >= pause_s / 2
    assert events.top.confidence == "medium"
    assert [n.code for n in notices] == ["pause_at_top"]
    assert events.impact.time_s == pytest.approx(SWING.impact_s + pause_s, abs=0.02)
    assert events.start.time_s == pytest.approx(SWING.start_s, abs=0.05)


def test_a_swing_without_a_pause_is_not_said_to_have_one() -> None:
    rng = np.random.default_rng(3)
    for _ in range(40):
        back = rng.uniform(0.65, 1.2)
        swing = SwingParameters(
            backswing_s=back,
            downswing_s=back / rng.uniform(2.2, 3.8),
            club_speed_mps=rng.uniform(25, 50),
        )
        for hands_only in (False, True):
            events, notices = found(staged(swing), hands_only=hands_only, noise_cm=0.1)
            assert notices == ()
            assert "pause" not in events.top.method


@pytest.mark.parametrize("last_s", [0.3, 0.6, 0.9])
def test_waggles_before_the_swing_are_not_its_start(last_s) -> None:
    swing = SwingParameters(start_s=2.5)
    times = capture_times(swing, RATE)
    club, hands = staged(swing)
    still_by = swing.start_s - last_s
    wave = np.where(times < still_by, np.sin(2 * np.pi * 1.2 * (times - still_by)) ** 2, 0.0)
    waggle = 25.0 * wave[:, None] * np.array([1.0, 0.0, 0.4])
    events, _ = found((club - waggle, hands - 0.2 * waggle))
    assert events.start.time_s == pytest.approx(swing.start_s, abs=0.05)
    assert abs(events.start.time_s - swing.start_s) <= events.start.uncertainty_s


def test_a_waggle_right_before_the_start_lowers_the_confidence() -> None:
    swing = SwingParameters(start_s=1.5)
    times = capture_times(swing, RATE)
    club, hands = staged(swing)
    bump = 25.0 * np.exp(-(((times - swing.start_s + 0.2) / 0.07) ** 2))
    events, _ = found((club + bump[:, None] * [1.0, 0.0, 0.3], hands))
    assert events.start.confidence == "medium"
    assert "waggle" in events.start.method
    assert events.start.time_s == pytest.approx(swing.start_s, abs=0.06)


@pytest.mark.parametrize("hands_only", [False, True])
def test_a_slower_practice_swing_is_left_out_and_told(hands_only) -> None:
    # slower hands too: the whole practice swing takes longer
    practice = SwingParameters(
        club_speed_mps=22.0, backswing_s=1.3, downswing_s=0.45, follow_through_s=1.2
    )
    paths = joined(staged(practice), staged())
    offset = (len(paths[0]) - len(staged()[0])) / RATE
    events, notices = found(paths, hands_only=hands_only)
    for name, truth in (("start", SWING.start_s), ("top", SWING.top_s), ("impact", SWING.impact_s)):
        assert events.mark(name).time_s == pytest.approx(offset + truth, abs=0.05)
    assert [n.code for n in notices] == ["practice_swing"]
    told = float(re.search(r"impact at ([\d.]+) s", notices[0].message)[1])  # type: ignore[index]
    assert told == pytest.approx(practice.impact_s, abs=0.03)


def test_two_swings_of_like_speed_are_refused_with_both_times() -> None:
    paths = joined(staged(), staged(SwingParameters(club_speed_mps=38.0)))
    offset = (len(paths[0]) - len(staged()[0])) / RATE
    with pytest.raises(SwingRefused, match=r"1\.67 and") as refused:
        found(paths)
    assert refused.value.code == "two_swings"
    for impact in (SWING.impact_s, offset + SWING.impact_s):
        events, _ = found(paths, given_s={"impact": impact})
        assert events.top.time_s == pytest.approx(impact - SWING.downswing_s, abs=0.01)
        assert events.start.time_s == pytest.approx(impact - SWING.impact_s + 0.6, abs=0.04)


def test_a_practice_swing_never_stands_in_for_a_swing_that_is_cut_off() -> None:
    practice = SwingParameters(club_speed_mps=25.0)
    club, hands = joined(staged(practice), staged())
    cut = len(club) - int((SWING.end_s - SWING.impact_s + 0.05) * RATE)
    with pytest.raises(SwingRefused) as refused:
        found((club[:cut], hands[:cut]))
    assert refused.value.code == "no_impact"


@pytest.mark.parametrize(("stop_after_top_s", "code"), [(0.2, "swing_stopped"), (0.0, "no_top")])
def test_a_swing_that_stops_half_way_is_refused_by_name(stop_after_top_s, code) -> None:
    clock = np.arange(int(4.0 * RATE)) / RATE
    stop = SWING.top_s + stop_after_top_s
    brake = 0.05  # s over which the golfer comes to a halt
    past = np.maximum(clock - (stop - brake), 0.0)
    course = np.minimum(clock, stop - brake) + brake * (1.0 - np.exp(-past / brake))
    with pytest.raises(SwingRefused, match="stop") as refused:
        found(staged(times=course))
    assert refused.value.code == code


def test_events_that_the_file_states_need_no_club_and_no_hands(make_capture, label) -> None:
    given = {"start": SWING.start_s, "top": SWING.top_s, "impact": SWING.impact_s}
    capture = make_capture(events_s=given, leave_out=("club_head", "left_hand", "right_hand"))
    events = process_capture(capture, label).events
    assert events.boundaries_s[:3] == tuple(given.values())
    assert (events.finish.method, events.finish.confidence) == ("end of the capture", "low")


def test_a_stated_start_rescues_a_capture_without_a_still_address(make_capture, label) -> None:
    begin = SWING.start_s + 0.35
    capture = make_capture(begin_s=begin)
    word = EventCorrection(event="start", time_s=0.1, person="head coach", reason="first motion")
    events = process_capture(capture, label, [word]).events
    assert events.start.time_s == 0.1
    assert events.start.method == "corrected by head coach"
    assert events.top.time_s == pytest.approx(SWING.top_s - begin, abs=0.01)


@pytest.mark.parametrize("event", ["start", "top", "impact", "finish"])
def test_a_correction_moves_its_event_and_no_other(make_capture, label, event) -> None:
    capture = make_capture(noise_cm=0.05)
    before = process_capture(capture, label).events
    moved = before.mark(event).time_s + 0.015
    word = EventCorrection(event=event, time_s=moved, person="head coach", reason="film")
    after = process_capture(capture, label, [word]).events
    assert after.mark(event).time_s == moved
    assert after.mark(event).confidence == "high"
    for other in {"start", "top", "impact", "finish"} - {event}:
        assert after.mark(other).time_s == pytest.approx(before.mark(other).time_s, abs=0.002)


def test_a_correction_without_a_person_is_refused(make_capture, label) -> None:
    word = EventCorrection(event="top", time_s=1.4, person=" ", reason="film")
    with pytest.raises(SwingRefused) as refused:
        process_capture(make_capture(), label, [word])
    assert refused.value.code == "correction_unsigned"
