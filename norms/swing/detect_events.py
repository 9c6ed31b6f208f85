"""Start, top, impact and finish from the path of the club head, or of the hands in its stead.

All searches start from the downswing, the fastest stretch of a swing, and walk outwards; none
needs to know which way the target lies. Times fall between samples.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from norms.errors import SwingRefused
from norms.records import EventMark, FloatArray, SwingEvents
from norms.swing.condition import low_pass

CUTOFF_HZ: Final = {"club": 25.0, "hands": 12.0}
"""Filters for finding events only; the club moves faster than the hands."""
VALLEY_RISE: Final = 0.05
"""A speed minimum counts as passed when speed has risen by this share of the fastest speed."""
STILL_SHARE: Final = 0.05
MOVING_SHARE: Final = 0.15
"""Shares of a phase's fastest speed between which its onset or its end is extrapolated."""
TWITCH_SHARE: Final = 0.02
"""Speed, as a share of the fastest of the backswing, above which a stir at address counts."""
RETURN_WITHIN_CM: Final = {"club": 40.0, "hands": 45.0}
"""How near the club head, or the hands, must come to their place at address to be at impact.
Hands return ahead of their place at address; the club head passes the ball itself."""
LEAST_AFTER_IMPACT_S: Final = 0.1

Source = Literal["club", "hands"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Mover:
    """The point that tells the events, cleaned for that purpose."""

    source: Source
    raw_cm: FloatArray
    velocity: FloatArray
    speed: FloatArray
    rate_hz: float

    def second(self, sample: float) -> float:
        return float(sample / self.rate_hz)


def detect_events(
    *,
    rate_hz: float,
    club_cm: FloatArray | None,
    hands_cm: FloatArray | None,
    prefer: Source = "club",
    given_s: Mapping[str, float] | None = None,
) -> SwingEvents:
    """Find the five events of one swing.

    Parameters
    ----------
    rate_hz : float
    club_cm, hands_cm : ndarray, shape (t, 3), or None
        Gap-filled paths of the club head and of the midpoint of the hands; NaN only before the
        first and after the last sample seen, or in gaps too long to fill.
    prefer : {"club", "hands"}
        Which of them tells start and top where both are there.
    given_s : Mapping of str to float, optional
        Events that the file states, seconds from its first sample; they are taken as they are.

    Returns
    -------
    SwingEvents

    Raises
    ------
    SwingRefused
        With code ``"no_event_points"``, ``"no_swing"``, ``"no_top"``, ``"no_start"``,
        ``"no_impact"``, ``"ends_at_impact"`` or ``"events_out_of_order"``.
    """
    given = dict(given_s or {})
    source: Source = prefer
    path = club_cm if prefer == "club" else hands_cm
    if path is None:
        source = "hands" if prefer == "club" else "club"
        path = hands_cm if prefer == "club" else club_cm
    if path is None:
        raise SwingRefused(
            "the capture has neither a club nor hands to find the swing's events from; map "
            "club_head, or left_hand and right_hand, in the profile",
            code="no_event_points",
        )
    mover = _mover(path, source, rate_hz)
    peak = _downswing_peak(mover, given.get("impact"))
    top = _top(mover, peak)
    start = _start(mover, top)
    marks = {
        "start": _mark(mover, start, "start", given),
        "top": _mark(mover, top, "top", given),
    }
    marks["impact"] = _impact(mover, peak, top, marks["start"].time_s, given)
    body = mover if hands_cm is None else _mover(hands_cm, "hands", rate_hz)
    marks["finish"] = _finish(body, marks["impact"].time_s, given)
    address = np.floor(marks["start"].time_s * rate_hz + 1e-9) / rate_hz
    marks["address"] = EventMark(
        time_s=float(max(address, 0.0)),
        method="last sample before the start",
        uncertainty_s=marks["start"].uncertainty_s,
    )
    try:
        return SwingEvents(**marks)
    except ValueError as error:
        raise SwingRefused(
            f"{error}; check the event labels of the profile", code="events_out_of_order"
        ) from error


def _mover(path_cm: FloatArray, source: Source, rate_hz: float) -> _Mover:
    """Velocity by central differences of the filtered path; still where nothing was seen."""
    seen = np.flatnonzero(np.isfinite(path_cm).all(axis=1))
    if len(seen) < 8:
        raise SwingRefused(f"the {source} is hardly ever seen in this capture", code="no_swing")
    first, last = int(seen[0]), int(seen[-1])
    inner = path_cm[first : last + 1]
    if not np.isfinite(inner).all():
        inner = _bridge(inner)
    whole = np.concatenate(
        [np.repeat(inner[:1], first, 0), inner, np.repeat(inner[-1:], len(path_cm) - 1 - last, 0)]
    )
    velocity = np.gradient(low_pass(whole, rate_hz, CUTOFF_HZ[source]), 1.0 / rate_hz, axis=0)
    speed = np.sqrt(np.einsum("ij,ij->i", velocity, velocity))
    return _Mover(source=source, raw_cm=whole, velocity=velocity, speed=speed, rate_hz=rate_hz)


def _bridge(path: FloatArray) -> FloatArray:
    """Straight lines over gaps too long to fill: a path to search events on, never to measure."""
    seen = np.isfinite(path).all(axis=1)
    samples = np.arange(len(path))
    return np.stack([np.interp(samples, samples[seen], path[seen, a]) for a in range(3)], axis=1)


def _downswing_peak(mover: _Mover, impact_s: float | None) -> int:
    """Sample of the fastest speed, up to shortly after impact where impact is given."""
    end = len(mover.speed)
    if impact_s is not None:
        end = min(end, int((impact_s + 0.05) * mover.rate_hz) + 1)
        if end < 4:
            raise SwingRefused(
                f"the file states impact at {impact_s:.3f} s, which is not inside the capture",
                code="no_impact",
            )
    peak = int(np.argmax(mover.speed[:end]))
    if mover.speed[peak] < 100.0:
        raise SwingRefused(
            f"nothing moves like a swing: the {mover.source} never exceeds "
            f"{mover.speed[peak]:.0f} cm/s",
            code="no_swing",
        )
    return peak


def _top(mover: _Mover, peak: int) -> float:
    """Sample (fractional) at which the velocity turns round before the downswing."""
    valley = _valley_before(mover.speed, peak, VALLEY_RISE * float(mover.speed[peak]))
    if valley is None:
        raise SwingRefused(
            f"no change of direction of the {mover.source} before the downswing: the capture "
            "starts after the top, or holds no backswing",
            code="no_top",
        )
    reach = max(2, round(0.02 * mover.rate_hz))
    lo, hi = max(valley - reach, 0), min(valley + reach, len(mover.speed) - 1)
    along = mover.velocity[lo : hi + 1] @ (mover.velocity[hi] - mover.velocity[lo])
    crossings = np.flatnonzero((along[:-1] < 0) & (along[1:] >= 0))
    if len(crossings) == 0:
        return float(valley)
    k = int(crossings[np.argmin(np.abs(crossings + lo - valley))])
    return lo + k + float(along[k] / (along[k] - along[k + 1]))


def _valley_before(speed: FloatArray, peak: int, rise: float) -> int | None:
    """Nearest minimum before ``peak`` after which, going back, speed rises by ``rise`` again."""
    lowest, at = float(speed[peak]), peak
    for sample in range(peak - 1, -1, -1):
        value = float(speed[sample])
        if value < lowest:
            lowest, at = value, sample
        elif value > lowest + rise and lowest < 0.35 * speed[peak]:
            return at
    return None


def _start(mover: _Mover, top: float) -> float:
    """Sample (fractional) at which the backswing sets in, extrapolated from its first rise."""
    onset = _rest_before(mover.speed, int(top))
    if onset is None:
        raise SwingRefused(
            f"the {mover.source} is already moving when the capture begins: there is no still "
            "address to measure from",
            code="no_start",
        )
    return onset


def _rest_before(speed: FloatArray, top: int) -> float | None:
    fastest, at = 0.0, top
    for sample in range(top, -1, -1):
        value = float(speed[sample])
        if value > fastest:
            fastest, at = value, sample
        elif value < STILL_SHARE * fastest and sample < at and fastest > 30.0:
            rest = _extrapolate_rest(speed, sample, at, fastest, step=1)
            return max(rest, _last_twitch(speed, sample, int(rest), TWITCH_SHARE * fastest))
    return None


def _last_twitch(speed: FloatArray, sample: int, earliest: int, rise: float) -> float:
    """Sample of the lull after a last small movement between ``earliest`` and ``sample``.

    A waggle that dies just before the backswing sets in must not count as its beginning.
    """
    lowest, at = float(speed[sample]), sample
    for k in range(sample, earliest - 1, -1):
        value = float(speed[k])
        if value < lowest:
            lowest, at = value, k
        elif value > lowest + rise:
            return float(at)
    return float(earliest)


def _extrapolate_rest(
    speed: FloatArray, still: int, fast: int, fastest: float, *, step: int
) -> float:
    """Where speed, drawn as a straight line through its first rise, reaches zero.

    A threshold alone is passed late; the line through two thresholds leads back to the onset of
    a movement that sets in with constant acceleration, and within 30 ms of one that sets in
    without a jerk.
    """
    low = _crossing(speed, still, STILL_SHARE * fastest, step)
    high = _crossing(speed, still, MOVING_SHARE * fastest, step)
    rest = low - (high - low) * STILL_SHARE / (MOVING_SHARE - STILL_SHARE)
    return float(np.clip(rest, 0.0, len(speed) - 1.0))


def _crossing(speed: FloatArray, sample: int, level: float, step: int) -> float:
    """First fractional sample from ``sample`` on, in direction ``step``, with that speed."""
    while speed[sample + step] < level:
        sample += step
    here, there = float(speed[sample]), float(speed[sample + step])
    return sample + step * (level - here) / (there - here) if there != here else float(sample)


def _mark(mover: _Mover, sample: float, event: str, given: Mapping[str, float]) -> EventMark:
    """A start or top as given by the file, else as found."""
    if event in given:
        return EventMark(
            time_s=given[event], method="stated by the file", uncertainty_s=0.5 / mover.rate_hz
        )
    words = {"start": "sets in", "top": "reversal"}[event]
    floor = {"start": 0.03, "top": 0.005}[event]
    stand_in = mover.source == "hands"
    return EventMark(
        time_s=mover.second(sample),
        method=f"{mover.source} {words}",
        stand_in=stand_in,
        uncertainty_s=max(1.0 / mover.rate_hz, floor * (4.0 if stand_in and event == "top" else 1)),
    )


def _impact(
    mover: _Mover, peak: int, top: float, start_s: float, given: Mapping[str, float]
) -> EventMark:
    """Impact from the file, else where the mover comes back nearest to its place at address."""
    last_s = mover.second(len(mover.speed) - 1)
    if "impact" in given:
        if not 0.0 <= given["impact"] <= last_s:
            raise SwingRefused(
                f"the file states impact at {given['impact']:.3f} s but ends at {last_s:.3f} s",
                code="no_impact",
            )
        return EventMark(
            time_s=given["impact"],
            method="stated by the file",
            uncertainty_s=0.5 / mover.rate_hz,
        )
    place = _place_at_address(mover, start_s)
    first = int(np.ceil(top))
    last = min(len(mover.raw_cm), peak + int(0.15 * mover.rate_hz) + 2)
    squared = ((mover.raw_cm[first:last] - place) ** 2).sum(axis=1)
    nearest = int(np.argmin(squared))
    ends = nearest >= len(squared) - 1 and last == len(mover.raw_cm)
    offset = 0.0 if nearest in (0, len(squared) - 1) else _parabola(squared, nearest)
    # The reach of the fastest sample step allows for a low rate: between two samples the club
    # head passes the ball unseen.
    reach = RETURN_WITHIN_CM[mover.source] + 0.5 * mover.speed[peak] / mover.rate_hz
    if ends or np.sqrt(squared[nearest]) > reach:
        raise SwingRefused(
            f"the capture ends {last_s - mover.second(top):.2f} s after the top and the "
            f"{mover.source} never comes back to where the ball was: no impact",
            code="no_impact",
        )
    stand_in = mover.source == "hands"
    return EventMark(
        time_s=mover.second(first + nearest + offset),
        method=f"{mover.source} back at address",
        stand_in=stand_in,
        uncertainty_s=max(0.5 / mover.rate_hz, 0.02 if stand_in else 0.002),
    )


def _place_at_address(mover: _Mover, start_s: float) -> FloatArray:
    end = int(start_s * mover.rate_hz) + 1
    first = max(0, end - max(3, int(0.2 * mover.rate_hz)))
    return np.asarray(np.median(mover.raw_cm[first:end], axis=0))


def _parabola(values: FloatArray, k: int) -> float:
    """Offset of the vertex of the parabola through values k-1, k, k+1; within half a sample."""
    before, here, after = float(values[k - 1]), float(values[k]), float(values[k + 1])
    bend = before - 2.0 * here + after
    return float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend > 0 else 0.0


def _finish(body: _Mover, impact_s: float, given: Mapping[str, float]) -> EventMark:
    """Finish from the file, else where the hands come to rest, else the end of the capture."""
    rate, last = body.rate_hz, len(body.speed) - 1
    if "finish" in given and impact_s < given["finish"] <= body.second(last):
        return EventMark(
            time_s=given["finish"], method="stated by the file", uncertainty_s=0.5 / rate
        )
    if body.second(last) - impact_s < LEAST_AFTER_IMPACT_S:
        raise SwingRefused(
            f"the capture ends {body.second(last) - impact_s:.2f} s after impact: there is no "
            "follow-through to measure",
            code="ends_at_impact",
        )
    rest = _rest_after(body.speed, int(np.ceil(impact_s * rate)))
    if rest is None:
        return EventMark(
            time_s=body.second(last),
            method="end of the capture",
            stand_in=True,
            uncertainty_s=0.1,
        )
    return EventMark(
        time_s=body.second(rest),
        method=f"{body.source} at rest",
        stand_in=body.source == "club",
        uncertainty_s=0.03,
    )


def _rest_after(speed: FloatArray, impact: int) -> float | None:
    """Sample at which speed first dies after impact: a rest, or a turning point near it."""
    fastest, at = 0.0, impact
    lowest, lowest_at = np.inf, impact
    for sample in range(impact, len(speed)):
        value = float(speed[sample])
        if value > fastest:
            fastest, at = value, sample
            lowest, lowest_at = np.inf, sample
        elif value < lowest:
            lowest, lowest_at = value, sample
        if value < STILL_SHARE * fastest and sample > at:
            rest = _extrapolate_rest(speed, sample, at, fastest, step=-1)
            turn = _turning_point(speed, sample)
            return min(rest, float(turn)) if turn is not None else rest
        if lowest < MOVING_SHARE * fastest and value > lowest + VALLEY_RISE * fastest:
            return float(lowest_at)
    return None


def _turning_point(speed: FloatArray, sample: int) -> int | None:
    """The minimum just ahead of ``sample`` if speed rises again within a few samples."""
    ahead = speed[sample : sample + 8]
    k = int(np.argmin(ahead))
    return sample + k if 0 < k < len(ahead) - 1 and ahead[-1] > 2.0 * ahead[k] + 1.0 else None
