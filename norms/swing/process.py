"""One capture becomes one swing: the whole way, each step a call."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from norms.errors import Notice, SwingRefused
from norms.records import (
    BoolArray,
    Capture,
    Displacement,
    FloatArray,
    Swing,
    SwingEvents,
    SwingLabel,
)
from norms.swing.axes import shot_axes
from norms.swing.condition import fill_gaps, low_pass, seen_samples, usable_cutoff
from norms.swing.detect_events import detect_events
from norms.swing.features import measure_features
from norms.swing.normalise import motion_spline, phase_curve
from norms.swing.pelvis import hip_joint_centres, rebuild_from_rigid_body
from norms.vocabulary import CENTRE_ROLE, CLUB_ROLE, HIP_ROLES, PELVIS_ROLES, PHASES

STILL_STRETCH_S: Final = 0.25
"""Length of the stretch before the start over which the zero is averaged."""
STILL_WITHIN_CM: Final = 0.5
"""A pelvis that moves more than this within the still stretch is reported."""
LEAST_RATE_HZ, LEAST_SAMPLES = 50.0, 40


@dataclass(frozen=True, slots=True, eq=False)
class _CentrePath:
    """Pelvis centre in laboratory coordinates over the samples where it is known."""

    path_cm: FloatArray  # (t, 3), NaN where not known
    filled: BoolArray  # (t,) bool
    method: str


def process_capture(capture: Capture, label: SwingLabel) -> Swing:
    """Turn a capture into a swing.

    Parameters
    ----------
    capture : Capture
    label : SwingLabel

    Returns
    -------
    Swing

    Raises
    ------
    SwingRefused
        If the capture does not hold one whole swing whose pelvis can be measured.
    """
    _require_samples(capture)
    centre = _pelvis_centre(capture)
    events = _events(capture)
    known, first = _known_stretch(centre, events, capture.rate_hz)
    smooth = low_pass(known, capture.rate_hz, capture.conditioning.cutoff_hz)
    displacement, still_notice = _displacement(capture, smooth, first, events)
    motion = motion_spline(displacement.values_cm, capture.rate_hz)
    motion.x = motion.x + first / capture.rate_hz
    return Swing(
        label=label,
        hand=capture.hand,
        rate_hz=capture.rate_hz,
        curve=phase_curve(motion, events),
        events=events,
        features=measure_features(motion, events),
        pelvis_method=centre.method,
        axes_source=capture.axes.source,
        shot_axes=displacement.shot_axes,
        filled_share=_filled_share(centre.filled, events, capture.rate_hz),
        notices=(
            *capture.notices,
            *still_notice,
            *_notices(capture, centre, events),
        ),
    )


def _require_samples(capture: Capture) -> None:
    samples = len(capture.points_cm)
    if capture.rate_hz < LEAST_RATE_HZ:
        raise SwingRefused(
            f"the capture has {capture.rate_hz:g} samples a second; at least "
            f"{LEAST_RATE_HZ:g} are needed",
            code="rate_too_low",
        )
    if samples < LEAST_SAMPLES:
        raise SwingRefused(
            f"the capture holds {samples} samples; at least {LEAST_SAMPLES} are needed",
            code="too_short",
        )


def _longest_gap(capture: Capture) -> int:
    return round(capture.conditioning.longest_gap_s * capture.rate_hz)


def _pelvis_centre(capture: Capture) -> _CentrePath:
    """The point itself: given, midway between given hips, or by regression from four markers."""
    longest = _longest_gap(capture)
    given = capture.point(CENTRE_ROLE)
    if given is not None:
        path, filled = fill_gaps(given, longest)
        return _CentrePath(path, filled, "given centre")
    hips = [capture.point(role) for role in HIP_ROLES]
    if all(hip is not None for hip in hips):
        (left, left_filled), (right, right_filled) = (
            fill_gaps(hip, longest) for hip in hips if hip is not None
        )
        return _CentrePath((left + right) / 2.0, left_filled | right_filled, "given hips")
    return _centre_from_markers(capture, longest)


def _centre_from_markers(capture: Capture, longest: int) -> _CentrePath:
    missing = [role for role in PELVIS_ROLES if role not in capture.roles]
    if missing:
        raise SwingRefused(
            f"the capture lacks {', '.join(missing)}; the pelvis centre needs four iliac spine "
            "markers, two hip joint centres, or the centre itself",
            code="marker_missing",
        )
    indices = [capture.roles.index(role) for role in PELVIS_ROLES]
    points = capture.points_cm[:, indices]
    filled = np.zeros(len(points), dtype=bool)
    if not np.isfinite(points).all():
        parts = [fill_gaps(points[:, k], longest) for k in range(4)]
        filled = np.any([part[1] for part in parts], axis=0)
        points, rebuilt = rebuild_from_rigid_body(np.stack([part[0] for part in parts], axis=1))
        filled |= rebuilt.any(axis=1)
    known = seen_samples(points)
    if known.sum() < LEAST_SAMPLES:
        worst = PELVIS_ROLES[int(np.argmin(np.isfinite(points).all(axis=2).sum(axis=0)))]
        raise SwingRefused(
            f"{worst} is hardly ever seen, so the pelvis cannot be followed", code="marker_dropped"
        )
    left, right = hip_joint_centres(
        *(points[known, k] for k in range(4)),
        method=capture.hip_regression,
        mirrored=capture.axes.mirrored,
    )
    path = np.full((len(points), 3), np.nan)
    path[known] = (left + right) / 2.0
    return _CentrePath(path, filled & known, capture.hip_regression)


def _events(capture: Capture) -> SwingEvents:
    longest = _longest_gap(capture)
    club = capture.point(CLUB_ROLE)
    left, right = capture.point("left_hand"), capture.point("right_hand")
    hands = None
    if left is not None and right is not None:
        hands = (fill_gaps(left, longest)[0] + fill_gaps(right, longest)[0]) / 2.0
    elif left is not None or right is not None:
        hands = fill_gaps(left if left is not None else right, longest)[0]  # type: ignore[arg-type]
    return detect_events(
        rate_hz=capture.rate_hz,
        club_cm=None if club is None else fill_gaps(club, longest)[0],
        hands_cm=hands,
        prefer=capture.event_source,
        given_s=capture.events_s,
    )


def _known_stretch(
    centre: _CentrePath, events: SwingEvents, rate_hz: float
) -> tuple[FloatArray, int]:
    """Longest stretch of known centre around the swing, and its first sample.

    Raises
    ------
    SwingRefused
        If the centre is unknown anywhere between start and finish.
    """
    known = seen_samples(centre.path_cm)
    start = max(0, int(np.floor(events.address.time_s * rate_hz)))
    finish = min(len(known) - 1, int(np.ceil(events.finish.time_s * rate_hz)))
    unknown = np.flatnonzero(~known[start : finish + 1]) + start
    if len(unknown):
        raise SwingRefused(
            f"the pelvis is not seen for {len(unknown) / rate_hz:.2f} s between "
            f"{unknown[0] / rate_hz:.2f} and {(unknown[-1] + 1) / rate_hz:.2f} s, within the "
            "swing and longer than may be filled",
            code="gap_too_long",
        )
    before = np.flatnonzero(~known[:start])
    after = np.flatnonzero(~known[finish:])
    first = int(before[-1]) + 1 if len(before) else 0
    end = finish + int(after[0]) if len(after) else len(known)
    return centre.path_cm[first:end], first


def _displacement(
    capture: Capture, path_cm: FloatArray, first: int, events: SwingEvents
) -> tuple[Displacement, tuple[Notice, ...]]:
    """Path in shot axes with the still stretch at address as zero."""
    address = int(events.address.time_s * capture.rate_hz) - first
    begin = max(0, address - int(STILL_STRETCH_S * capture.rate_hz))
    still = path_cm[begin : max(address, begin) + 1]
    origin = still.mean(axis=0)
    feet = [_foot(capture, role, events) for role in ("left_foot", "right_foot")]
    axes = shot_axes(capture.axes, capture.hand, left_foot_cm=feet[0], right_foot_cm=feet[1])
    displacement = Displacement(
        values_cm=(path_cm - origin) @ axes.T,
        rate_hz=capture.rate_hz,
        shot_axes=axes,
        origin_cm=origin,
    )
    moved = float(np.ptp(still, axis=0).max())
    if moved <= STILL_WITHIN_CM:
        return displacement, ()
    notice = Notice(
        code="moving_at_address",
        message=f"the pelvis moves {moved:.1f} cm in the still stretch before the start; "
        "the zero is its mean",
    )
    return displacement, (notice,)


def _foot(capture: Capture, role: str, events: SwingEvents) -> FloatArray | None:
    """Median place of a foot over the still stretch at address."""
    path = capture.point(role)
    if path is None or capture.axes.source == "declared":
        return None
    end = int(events.address.time_s * capture.rate_hz) + 1
    stretch = path[max(0, end - int(STILL_STRETCH_S * capture.rate_hz)) : end]
    seen = stretch[seen_samples(stretch)]
    return np.asarray(np.median(seen, axis=0)) if len(seen) else None


def _filled_share(filled: BoolArray, events: SwingEvents, rate_hz: float) -> FloatArray:
    samples = np.round(np.array(events.boundaries_s) * rate_hz).astype(int)
    return np.array([filled[a : b + 1].mean() for a, b in pairwise(samples)])


def _notices(capture: Capture, centre: _CentrePath, events: SwingEvents) -> tuple[Notice, ...]:
    notices: list[Notice] = []
    shares = _filled_share(centre.filled, events, capture.rate_hz)
    if shares.any():
        parts = ", ".join(
            f"{share:.0%} of the {phase.replace('_', '-')}"
            for phase, share in zip(PHASES, shares, strict=True)
            if share > 0
        )
        notices.append(
            Notice(code="gap_filled", message=f"pelvis points were filled or rebuilt in {parts}")
        )
    cutoff = capture.conditioning.cutoff_hz
    if usable_cutoff(cutoff, capture.rate_hz) < cutoff:
        notices.append(
            Notice(
                code="cutoff_lowered",
                message=f"the filter's cutoff of {cutoff:g} Hz is too near half the rate and was "
                f"lowered to {usable_cutoff(cutoff, capture.rate_hz):g} Hz",
            )
        )
    if events.finish.method == "end of the capture":
        notices.append(
            Notice(
                code="finish_at_end",
                message="the hands do not come to rest before the capture ends; its end stands "
                "in for the finish",
            )
        )
    return tuple(notices)
