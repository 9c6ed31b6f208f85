"""Start, top and impact of the one swing whose downswing is fastest at a given sample.

All searches start from the downswing, the fastest stretch of a swing, and walk outwards; none
needs to know which way the target lies. Times fall between samples.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from norms.errors import SwingRefused
from norms.records import EventMark, FloatArray
from norms.swing.movers import Mover
from norms.swing.speed_profile import (
    flat_stretch,
    rest_before,
    rest_spread,
    valley_before,
    vertex_offset,
)

RETURN_WITHIN_CM: Final = {"club": 40.0, "hands": 45.0}
"""How near the club head, or the hands, must come to their place at address to be at impact.
Hands return ahead of their place at address; the club head passes the ball itself."""
IMPACT_BY_S: Final = 0.15
"""Impact follows the fastest sample by no more than this."""
PAUSE_SHARE: Final = 0.015
"""Share of the downswing's fastest speed below which the mover is at a pause."""
PAUSE_S: Final = 0.1
"""A stretch that slow for longer than this is a pause: a top without one passes in half of it."""
STOPPED_SHARE: Final = 0.05
STOPPED_S: Final = 0.15
"""A swing is stopped where its mover stays below this share of its fastest for this long."""
STIR_WITHIN_S: Final = 0.3
STIR_SHARE: Final = 0.1
"""A stir this close before the start, of this share of the backswing's fastest, is a waggle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSwing:
    """A whole swing up to impact.

    Attributes
    ----------
    peak_cm_s : float
        Fastest speed of its downswing.
    start, top, impact : EventMark
    """

    peak_cm_s: float
    start: EventMark
    top: EventMark
    impact: EventMark


def swing_around(mover: Mover, peak: int, given: Mapping[str, float]) -> OneSwing:
    """Start, top and impact around a fastest sample; each only sought where it is not given.

    Parameters
    ----------
    mover : Mover
    peak : int
    given : Mapping of str to float
        Events that the file or a person states, in seconds.

    Raises
    ------
    SwingRefused
        ``no_top``, ``no_start``, ``no_impact`` or ``swing_stopped``.
    """
    rate_hz = mover.rate_hz
    top = stated(given, "top", rate_hz) if "top" in given else _top(mover, peak)
    start = stated(given, "start", rate_hz) if "start" in given else _start(mover, peak, top.time_s)
    impact = (
        stated(given, "impact", rate_hz)
        if "impact" in given
        else _impact(mover, peak, top.time_s, start.time_s)
    )
    return OneSwing(peak_cm_s=float(mover.speed[peak]), start=start, top=top, impact=impact)


def stated(given: Mapping[str, float], event: str, rate_hz: float) -> EventMark:
    """The mark of an event that is given."""
    return EventMark(time_s=given[event], method="stated by the file", uncertainty_s=0.5 / rate_hz)


def _top(mover: Mover, peak: int) -> EventMark:
    """Where the velocity turns round before the downswing; the middle of a pause."""
    valley = valley_before(mover.speed, peak)
    if valley is None:
        raise SwingRefused(
            f"no change of direction of the {mover.source} before its fastest movement: the "
            "capture starts after the top, ends before the downswing is fast, holds no backswing, "
            "or the swing stops before the downswing; leave the file out",
            code="no_top",
        )
    stand_in = mover.source == "hands"
    first, last = flat_stretch(mover.speed, valley, PAUSE_SHARE * float(mover.speed[peak]))
    pause_s = mover.second(last - first)
    if pause_s > PAUSE_S:
        return EventMark(
            time_s=mover.second((first + last) / 2.0),
            method=f"middle of the {mover.source} pause",
            stand_in=stand_in,
            uncertainty_s=pause_s / 2.0,
            confidence="medium",
        )
    sample, spread = _reversal(mover, valley)
    return EventMark(
        time_s=mover.second(sample),
        method=f"{mover.source} reversal",
        stand_in=stand_in,
        uncertainty_s=half_width(
            max(1.0 / mover.rate_hz, 0.02 if stand_in else 0.005), mover.second(spread)
        ),
        confidence="medium" if stand_in else "high",
    )


def _reversal(mover: Mover, valley: int) -> tuple[float, float]:
    """Sample at which the velocity turns round, and the sd that noise gives it, in samples."""
    reach = max(2, round(0.02 * mover.rate_hz))
    lo, hi = max(valley - reach, 0), min(valley + reach, len(mover.speed) - 1)
    change = mover.velocity[hi] - mover.velocity[lo]
    # Where the noise outweighs the change, the reversal lies anywhere within reach.
    spread = (
        (hi - lo) * mover.noise_cm_s / max(float(np.linalg.norm(change)), mover.noise_cm_s, 1e-9)
    )
    along = mover.velocity[lo : hi + 1] @ change
    crossings = np.flatnonzero((along[:-1] < 0) & (along[1:] >= 0))
    if len(crossings) == 0:
        return float(valley), spread
    k = int(crossings[np.argmin(np.abs(crossings + lo - valley))])
    return lo + k + float(along[k] / (along[k] - along[k + 1])), spread


def half_width(of_method_s: float, noise_sd_s: float) -> float:
    """Half-width of an event: that of the method itself, widened by what noise does to it.

    A half-width counts as a rectangular distribution, of sd one over the root of three; the
    variances add (JCGM 100:2008, 4.3.7 and 5.1.2).
    """
    return float(np.sqrt(of_method_s**2 + 3.0 * noise_sd_s**2))


def _start(mover: Mover, peak: int, top_s: float) -> EventMark:
    """Where the backswing sets in, extrapolated from its first rise."""
    top = min(int(top_s * mover.rate_hz), len(mover.speed) - 1)
    # Sought from the reversal itself where the top is stated later: going back from there, the
    # reversal would be taken for a rest.
    valley = valley_before(mover.speed, peak)
    top = top if valley is None else min(top, valley)
    onset = rest_before(mover.speed, top)
    if onset is None:
        raise SwingRefused(
            f"the {mover.source} is already moving when the capture begins: there is no still "
            "address to measure from",
            code="no_start",
        )
    before = mover.speed[max(0, int(onset - STIR_WITHIN_S * mover.rate_hz)) : max(1, int(onset))]
    fastest = int(onset) + int(np.argmax(mover.speed[int(onset) : top + 1]))
    waggle = bool(before.max() > STIR_SHARE * mover.speed[fastest])
    spread = rest_spread(mover.speed, onset, fastest, mover.noise_cm_s)
    stand_in = mover.source == "hands"
    return EventMark(
        time_s=mover.second(onset),
        method=f"{mover.source} {'set in after a waggle' if waggle else 'sets in'}",
        stand_in=stand_in,
        uncertainty_s=half_width(
            max(1.0 / mover.rate_hz, 0.05 if waggle else 0.03), mover.second(spread)
        ),
        confidence="medium" if waggle or stand_in else "high",
    )


def _impact(mover: Mover, peak: int, top_s: float, start_s: float) -> EventMark:
    """Where the mover comes back nearest to its place at address."""
    first = int(np.ceil(top_s * mover.rate_hz))
    last = min(len(mover.raw_cm), peak + int(IMPACT_BY_S * mover.rate_hz) + 2)
    away = mover.raw_cm[first:last] - _place_at_address(mover, start_s)
    squared = np.einsum("ij,ij->i", away, away)
    nearest = int(np.argmin(squared))
    ends = nearest >= len(squared) - 1 and last == len(mover.raw_cm)
    # The reach of the fastest sample step allows for a low rate: between two samples the club
    # head passes the ball unseen.
    reach = RETURN_WITHIN_CM[mover.source] + 0.5 * mover.speed[peak] / mover.rate_hz
    distance = float(np.sqrt(squared[nearest]))
    if ends or distance > reach:
        raise _never_comes_back(mover, peak, top_s, distance)
    offset = 0.0 if nearest in (0, len(squared) - 1) else vertex_offset(squared, nearest)
    stand_in = mover.source == "hands"
    return EventMark(
        time_s=mover.second(first + nearest + offset),
        method=f"{mover.source} back at address",
        stand_in=stand_in,
        uncertainty_s=max(0.5 / mover.rate_hz, 0.02 if stand_in else 0.002),
        confidence="medium" if stand_in else "high",
    )


def _never_comes_back(mover: Mover, peak: int, top_s: float, distance: float) -> SwingRefused:
    slow = np.flatnonzero(mover.speed[peak:] < STOPPED_SHARE * mover.speed[peak])
    needed = int(STOPPED_S * mover.rate_hz)
    if len(slow) and len(mover.speed) - peak - int(slow[0]) > needed:
        rest_s = mover.second(peak + int(slow[0]))
        return SwingRefused(
            f"the {mover.source} comes to rest {rest_s:.2f} s into the capture without having "
            f"come nearer than {distance:.0f} cm to where it stood at address: the swing stops "
            "before impact; leave the file out",
            code="swing_stopped",
        )
    return SwingRefused(
        f"the capture ends {mover.last_s - top_s:.2f} s after the top and the {mover.source} "
        "never comes back to where it stood at address: no impact",
        code="no_impact",
    )


def _place_at_address(mover: Mover, start_s: float) -> FloatArray:
    end = int(start_s * mover.rate_hz) + 1
    first = max(0, end - max(3, int(0.2 * mover.rate_hz)))
    return np.asarray(np.median(mover.raw_cm[first:end], axis=0))
