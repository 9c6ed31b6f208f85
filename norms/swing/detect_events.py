"""The five events of the one swing that a capture is about.

A capture may hold waggles, practice swings, or two swings: every stretch of speed that could be a
downswing is tried, and only a whole swing, from a rest over a change of direction back to where
the ball was, counts.
"""

from collections.abc import Mapping
from typing import Final

import numpy as np

from norms.errors import Notice, SwingRefused
from norms.records import EventMark, FloatArray, SwingEvents
from norms.swing.movers import Mover, Source, mover_of
from norms.swing.one_swing import OneSwing, half_width, stated, swing_around
from norms.swing.speed_profile import rest_after, rest_spread

SLOWEST_CM_S: Final = 100.0
"""A downswing's fastest speed is above this."""
CANDIDATE_SHARE: Final = 0.5
"""A stretch of speed above this share of the capture's fastest may be another downswing."""
PRACTICE_SHARE: Final = 0.8
"""A whole swing slower than this share of the fastest is a practice swing (common practice, no
published source); two that are nearer in speed cannot be told apart."""
SAME_SWING_S: Final = 0.5
"""Impacts closer than this belong to one swing."""
DOWNSWING_S: Final = 0.6
"""No downswing takes longer than this."""
LEAST_AFTER_IMPACT_S: Final = 0.1


def detect_events(
    *,
    rate_hz: float,
    last_s: float,
    club_cm: FloatArray | None,
    hands_cm: FloatArray | None,
    prefer: Source = "club",
    given_s: Mapping[str, float] | None = None,
) -> tuple[SwingEvents, tuple[Notice, ...]]:
    """Find the five events of one swing.

    Parameters
    ----------
    rate_hz, last_s : float
        Samples per second, and the second of the last sample.
    club_cm, hands_cm : ndarray, shape (t, 3), or None
        Gap-filled paths of the club head and of the midpoint of the hands; NaN only before the
        first and after the last sample seen, or in gaps too long to fill.
    prefer : {"club", "hands"}
        Which of them tells start and top where both are there.
    given_s : Mapping of str to float, optional
        Events that the file or a person states, seconds from the first sample; they are taken as
        they are.

    Returns
    -------
    events : SwingEvents
    notices : tuple of Notice
        ``practice_swing``, ``pause_at_top``.

    Raises
    ------
    SwingRefused
        With code ``"no_event_points"``, ``"no_swing"``, ``"no_top"``, ``"no_start"``,
        ``"no_impact"``, ``"swing_stopped"``, ``"two_swings"``, ``"ends_at_impact"`` or
        ``"events_out_of_order"``.
    """
    given = dict(given_s or {})
    _check_given(given, last_s)
    if club_cm is None and hands_cm is None and given.keys() >= {"start", "top", "impact"}:
        return _as_stated(given, rate_hz, last_s), ()
    mover = _mover(rate_hz, club_cm, hands_cm, prefer)
    swing, notices = _the_swing(mover, given)
    body = mover
    if hands_cm is not None and mover.source != "hands":
        body = mover_of(hands_cm, "hands", rate_hz)
    finish = (
        stated(given, "finish", rate_hz)
        if "finish" in given
        else _finish(body, swing.impact.time_s)
    )
    events = _in_order(swing.start, swing.top, swing.impact, finish, rate_hz)
    return events, (*notices, *_pause_notice(swing.top))


def _as_stated(given: Mapping[str, float], rate_hz: float, last_s: float) -> SwingEvents:
    """Events of a capture in which nothing but the file tells them."""
    marks = {event: stated(given, event, rate_hz) for event in given}
    finish = marks.get("finish") or _end_of_capture(last_s)
    return _in_order(marks["start"], marks["top"], marks["impact"], finish, rate_hz)


def _in_order(
    start: EventMark, top: EventMark, impact: EventMark, finish: EventMark, rate_hz: float
) -> SwingEvents:
    """The record, with the address before the start; refused where they are out of order."""
    # The last sample at or before the start; a start on a sample counts that sample.
    address_s = float(max(np.floor(start.time_s * rate_hz + 1e-9) / rate_hz, 0.0))
    address = EventMark(
        time_s=min(address_s, start.time_s),
        method="last sample before the start",
        uncertainty_s=start.uncertainty_s,
        confidence=start.confidence,
    )
    try:
        return SwingEvents(address=address, start=start, top=top, impact=impact, finish=finish)
    except ValueError as error:
        raise SwingRefused(
            f"{error}; check the event labels of the profile, or correct the events",
            code="events_out_of_order",
        ) from error


def _mover(
    rate_hz: float, club_cm: FloatArray | None, hands_cm: FloatArray | None, prefer: Source
) -> Mover:
    paths: dict[Source, FloatArray | None] = {"club": club_cm, "hands": hands_cm}
    other: Source = "hands" if prefer == "club" else "club"
    for source in (prefer, other):
        path = paths[source]
        if path is not None:
            return mover_of(path, source, rate_hz)
    raise SwingRefused(
        "the capture has neither a club nor hands to find the swing's events from; map "
        "club_head, or left_hand and right_hand, in the profile",
        code="no_event_points",
    )


def _check_given(given: Mapping[str, float], last_s: float) -> None:
    for event, time_s in given.items():
        if not 0.0 <= time_s <= last_s:
            raise SwingRefused(
                f"{event} is stated at {time_s:.3f} s, but the capture runs from 0 to "
                f"{last_s:.3f} s; correct the event",
                code="no_impact" if event == "impact" else "event_outside",
            )


def _the_swing(mover: Mover, given: Mapping[str, float]) -> tuple[OneSwing, tuple[Notice, ...]]:
    """The fastest whole swing, unless another is nearly as fast."""
    peaks = _peaks(mover, given)
    fastest = swing_around(mover, peaks[0], given)  # never a slower one in the fastest's stead
    others = [swing for swing in (_tried(mover, peak, given) for peak in peaks[1:]) if swing]
    others = [
        swing for swing in others if abs(swing.impact.time_s - fastest.impact.time_s) > SAME_SWING_S
    ]
    rivals = [swing for swing in others if swing.peak_cm_s > PRACTICE_SHARE * fastest.peak_cm_s]
    if rivals:
        times = sorted(swing.impact.time_s for swing in (fastest, *rivals))
        raise SwingRefused(
            f"the capture holds {len(times)} swings, with impact at "
            f"{' and '.join(f'{time_s:.2f}' for time_s in times)} s; export one swing a file, or "
            "state the impact of the one that counts as an event",
            code="two_swings",
        )
    return fastest, tuple(
        Notice(
            code="practice_swing",
            message=f"a swing with impact at {swing.impact.time_s:.2f} s, of "
            f"{swing.peak_cm_s / fastest.peak_cm_s:.0%} of the speed, is taken for a practice "
            "swing and left out",
        )
        for swing in others
    )


def _tried(mover: Mover, peak: int, given: Mapping[str, float]) -> OneSwing | None:
    try:
        return swing_around(mover, peak, given)
    except SwingRefused:
        return None


def _peaks(mover: Mover, given: Mapping[str, float]) -> list[int]:
    """Samples of the fastest speed of every stretch that may be a downswing, fastest first."""
    first, end = 0, len(mover.speed)
    if "impact" in given:
        first = max(0, int((given["impact"] - DOWNSWING_S) * mover.rate_hz))
        end = min(end, int((given["impact"] + 0.05) * mover.rate_hz) + 1)
    elif "top" in given:
        first = int(given["top"] * mover.rate_hz)
        end = min(end, first + int(DOWNSWING_S * mover.rate_hz) + 2)
    elif "start" in given:
        first = int(given["start"] * mover.rate_hz)
    speed = mover.speed[first:end]
    if not len(speed) or speed.max() < SLOWEST_CM_S:
        raise SwingRefused(
            f"nothing moves like a swing: the {mover.source} never exceeds "
            f"{speed.max() if len(speed) else 0.0:.0f} cm/s",
            code="no_swing",
        )
    if given.keys() & {"impact", "top"}:
        return [first + int(np.argmax(speed))]
    fast = speed > CANDIDATE_SHARE * speed.max()
    edges = np.flatnonzero(np.diff(np.concatenate(([False], fast, [False])).astype(np.int8)))
    peaks = [first + a + int(np.argmax(speed[a:b])) for a, b in edges.reshape(-1, 2)]
    return sorted(peaks, key=lambda peak: -mover.speed[peak])


def _finish(body: Mover, impact_s: float) -> EventMark:
    """Where the hands come to rest, else the end of the capture."""
    if body.last_s - impact_s < LEAST_AFTER_IMPACT_S:
        raise SwingRefused(
            f"the capture ends {body.last_s - impact_s:.2f} s after impact: there is no "
            "follow-through to measure",
            code="ends_at_impact",
        )
    impact = int(np.ceil(impact_s * body.rate_hz))
    rest = rest_after(body.speed, impact)
    if rest is None:
        return _end_of_capture(body.last_s)
    fastest = impact + int(np.argmax(body.speed[impact : int(rest) + 1]))
    spread = rest_spread(body.speed, rest, fastest, body.noise_cm_s)
    stand_in = body.source == "club"
    return EventMark(
        time_s=body.second(rest),
        method=f"{body.source} at rest",
        stand_in=stand_in,
        uncertainty_s=half_width(0.03, body.second(spread)),
        confidence="medium" if stand_in else "high",
    )


def _end_of_capture(last_s: float) -> EventMark:
    return EventMark(
        time_s=last_s,
        method="end of the capture",
        stand_in=True,
        uncertainty_s=0.1,
        confidence="low",
    )


def _pause_notice(top: EventMark) -> tuple[Notice, ...]:
    if "pause" not in top.method:
        return ()
    return (
        Notice(
            code="pause_at_top",
            message=f"a pause of {2 * top.uncertainty_s:.2f} s at the top; its middle stands for "
            "the top, and half of it counts to either phase",
            severity="note",
        ),
    )
