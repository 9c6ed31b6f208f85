"""One capture becomes one swing: the whole way, each step a call."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from norms.errors import Notice, SwingRefused
from norms.records import (
    Capture,
    Displacement,
    EventCorrection,
    FilterFacts,
    FloatArray,
    Swing,
    SwingEvents,
    SwingLabel,
)
from norms.swing.address import address_zero, foot_at_address
from norms.swing.axes import shot_axes
from norms.swing.condition import fill_gaps, low_pass, seen_samples, usable_cutoff
from norms.swing.correct_events import corrected_times, with_corrections
from norms.swing.detect_events import detect_events
from norms.swing.features import measure_features
from norms.swing.filled import filled_notices, filled_share
from norms.swing.filter_error import filter_facts
from norms.swing.normalise import motion_spline, phase_curve
from norms.swing.pelvis_path import PelvisPath, longest_gap, pelvis_path
from norms.swing.residual_analysis import choose_cutoff
from norms.swing.spikes import without_spikes
from norms.vocabulary import CLUB_ROLE, FOOT_ROLES, HAND_ROLES

LEAST_RATE_HZ, LEAST_SAMPLES = 50.0, 40


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """A capture on its way to a swing, before phases and features.

    Attributes
    ----------
    centre : PelvisPath
    events : SwingEvents
    raw_cm : ndarray, shape (t, 3)
        Sway, thrust and lift before the filter, over the samples where they are known; zero is
        that of the filtered motion.
    displacement : Displacement
        The same, filtered.
    first : int
        Sample of the capture at which they begin.
    filtering : FilterFacts
    notices : tuple of Notice
    """

    centre: PelvisPath
    events: SwingEvents
    raw_cm: FloatArray
    displacement: Displacement
    first: int
    filtering: FilterFacts
    notices: tuple[Notice, ...]

    def motion(self) -> CubicSpline:
        """Sway, thrust and lift as a function of seconds of the capture."""
        rate_hz = self.displacement.rate_hz
        spline = motion_spline(self.displacement.values_cm, rate_hz)
        spline.x = spline.x + self.first / rate_hz
        return spline


def process_capture(
    capture: Capture, label: SwingLabel, corrections: Sequence[EventCorrection] = ()
) -> Swing:
    """Turn a capture into a swing.

    Parameters
    ----------
    capture : Capture
    label : SwingLabel
    corrections : sequence of EventCorrection, optional
        A person's word on events, which goes before the file's and before what is found.

    Returns
    -------
    Swing

    Raises
    ------
    SwingRefused
        If the capture does not hold one whole swing whose pelvis can be measured.
    """
    return swing_from(measure_capture(capture, corrections), capture, label)


def swing_from(measured: Measured, capture: Capture, label: SwingLabel) -> Swing:
    """The swing of a measured capture: its curves on phase nodes, and its features."""
    motion = measured.motion()
    return Swing(
        label=label,
        hand=capture.hand,
        rate_hz=capture.rate_hz,
        curve=phase_curve(motion, measured.events),
        events=measured.events,
        features=measure_features(motion, measured.events),
        pelvis_method=measured.centre.method,
        axes_source=capture.axes.source,
        shot_axes=measured.displacement.shot_axes,
        filled_share=filled_share(measured.centre, measured.events, capture.rate_hz),
        notices=measured.notices,
        filtering=measured.filtering,
    )


def measure_capture(capture: Capture, corrections: Sequence[EventCorrection] = ()) -> Measured:
    """Events and filtered displacement of a capture; see ``process_capture``."""
    _require_samples(capture)
    capture, spike_notices = without_spikes(capture)
    centre = pelvis_path(capture)
    events, event_notices = _events(capture, corrections)
    known, first = _known_stretch(centre.path_cm, events, capture.rate_hz)
    left, right = (foot_at_address(capture, role, events) for role in FOOT_ROLES)
    axes = shot_axes(capture.axes, capture.hand, left_foot_cm=left, right_foot_cm=right)
    raw = known @ axes.T
    cutoff_hz, how, cutoff_notices = _cutoff(capture, raw)
    smooth = low_pass(raw, capture.rate_hz, cutoff_hz)
    origin, still_notices = address_zero(smooth, first, events, capture.rate_hz)
    bounds = [round(time * capture.rate_hz) - first for time in events.boundaries_s]
    return Measured(
        centre=centre,
        events=events,
        raw_cm=raw - origin,
        displacement=Displacement(
            values_cm=smooth - origin,
            rate_hz=capture.rate_hz,
            shot_axes=axes,
        ),
        first=first,
        filtering=filter_facts(
            raw,
            smooth,
            capture.rate_hz,
            cutoff_hz,
            method=how,
            within=slice(max(bounds[0], 0), bounds[3] + 1),
        ),
        notices=(
            *capture.notices,
            *spike_notices,
            *event_notices,
            *still_notices,
            *cutoff_notices,
            *filled_notices(centre, events, capture.rate_hz),
            *_finish_notice(events),
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


def _events(
    capture: Capture, corrections: Sequence[EventCorrection]
) -> tuple[SwingEvents, tuple[Notice, ...]]:
    hands = [path for role in HAND_ROLES if (path := _clean(capture, role)) is not None]
    corrected = corrected_times(corrections)
    try:
        events, notices = detect_events(
            rate_hz=capture.rate_hz,
            last_s=(len(capture.points_cm) - 1) / capture.rate_hz,
            club_cm=_clean(capture, CLUB_ROLE),
            hands_cm=sum(hands[1:], hands[0]) / len(hands) if hands else None,
            prefer=capture.event_source,
            given_s={**capture.events_s, **corrected},
        )
    except SwingRefused as refusal:
        if not corrected:
            raise
        told = " and ".join(f"{event} at {time_s:g} s" for event, time_s in corrected.items())
        raise SwingRefused(
            f"with {told} as corrected: {refusal.message}", code=refusal.code
        ) from refusal
    return with_corrections(events, corrections), notices


def _clean(capture: Capture, role: str) -> FloatArray | None:
    """Path of a role without short gaps, None where the capture lacks it."""
    path = capture.point(role)
    return None if path is None else fill_gaps(path, longest_gap(capture))[0]


def _known_stretch(
    path_cm: FloatArray, events: SwingEvents, rate_hz: float
) -> tuple[FloatArray, int]:
    """Longest stretch of known centre around the swing, and its first sample.

    Raises
    ------
    SwingRefused
        If the centre is unknown anywhere between start and finish.
    """
    known = seen_samples(path_cm)
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
    return path_cm[first:end], first


def _cutoff(capture: Capture, raw_cm: FloatArray) -> tuple[float, str, tuple[Notice, ...]]:
    """The cutoff wanted, how it came about, and what is to be said of it."""
    if capture.conditioning.cutoff == "fixed":
        cutoff_hz = capture.conditioning.cutoff_hz
        usable = usable_cutoff(cutoff_hz, capture.rate_hz)
        if usable == cutoff_hz:
            return cutoff_hz, "fixed", ()
        said = (
            f"the filter's cutoff of {cutoff_hz:g} Hz is too near half the rate and was lowered "
            f"to {usable:g} Hz"
        )
        return cutoff_hz, "fixed", (Notice(code="cutoff_lowered", message=said),)
    try:
        chosen = choose_cutoff(raw_cm, capture.rate_hz)
    except ValueError as error:
        raise SwingRefused(
            f"residual analysis cannot choose a cutoff ({error}); state cutoff_hz under "
            "[conditioning] in the profile",
            code="cutoff_unknown",
        ) from error
    said = f"residual analysis chose a cutoff of {chosen.cutoff_hz:.1f} Hz"
    notice = Notice(code="cutoff_chosen", message=said, severity="note")
    return chosen.cutoff_hz, "residual analysis", (notice,)


def _finish_notice(events: SwingEvents) -> tuple[Notice, ...]:
    if events.finish.method != "end of the capture":
        return ()
    said = "the hands do not come to rest before the capture ends; its end stands in for the finish"
    return (Notice(code="finish_at_end", message=said),)
