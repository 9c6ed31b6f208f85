"""What one capture becomes: displacement, events, phase curve, features, and the swing itself."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from norms.errors import Notice
from norms.records._arrays import FloatArray, freeze_fields, frozen_array, set_field
from norms.records.capture import SwingLabel
from norms.vocabulary import AXES, EVENTS, NODES, Event, Hand


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Displacement:
    """Sway, thrust and lift of the pelvis centre over time.

    Attributes
    ----------
    values_cm : ndarray, shape (t, 3)
        Columns sway (+ toward the target), thrust (+ toward the ball), lift (+ up); zero is the
        mean position over a still stretch at address.
    rate_hz : float
    shot_axes : ndarray, shape (3, 3)
        Rows are unit vectors in laboratory coordinates: toward the target, toward the ball, up.
    """

    values_cm: FloatArray
    rate_hz: float
    shot_axes: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, {"values_cm": (None, 3), "shot_axes": (3, 3)})


Confidence = Literal["high", "medium", "low"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMark:
    """One event of a swing.

    Attributes
    ----------
    time_s : float
        Seconds from the first sample.
    method : str
        How it was found, in plain words, e.g. ``"club reversal"``.
    stand_in : bool
        True where the method stands in for the one that the definition names.
    uncertainty_s : float
        Half-width within which the event is believed to lie.
    confidence : {"high", "medium", "low"}
        ``"high"``: the event as defined, standing out clearly, or stated by a person or the
        file. ``"medium"``: a stand-in, or something beside it (a waggle, a pause) makes the
        place a matter of convention. ``"low"``: only a bound.
    """

    time_s: float
    method: str
    stand_in: bool = False
    uncertainty_s: float = 0.0
    confidence: Confidence = "high"


@dataclass(frozen=True, slots=True, kw_only=True)
class EventCorrection:
    """A person's word on when an event was, kept with who said it and why.

    Attributes
    ----------
    event : {"start", "top", "impact", "finish"}
    time_s : float
        Seconds from the first sample of the capture.
    person : str
        Who corrects; a role or a code.
    reason : str
    """

    event: Event
    time_s: float
    person: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingEvents:
    """Address, start, top, impact and finish, in strictly rising time from start on."""

    address: EventMark
    start: EventMark
    top: EventMark
    impact: EventMark
    finish: EventMark

    def __post_init__(self) -> None:
        times = [self.mark(event).time_s for event in EVENTS]
        if not (times[0] <= times[1] < times[2] < times[3] < times[4]):
            raise ValueError(f"events out of order: {dict(zip(EVENTS, times, strict=True))}")

    def mark(self, event: str) -> EventMark:
        """The mark of one event by name."""
        mark: EventMark = getattr(self, event)
        return mark

    @property
    def boundaries_s(self) -> tuple[float, float, float, float]:
        """Times of start, top, impact and finish: the boundaries of the three phases."""
        return (self.start.time_s, self.top.time_s, self.impact.time_s, self.finish.time_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PhaseCurve:
    """The three curves on 301 phase nodes; node 0 start, 100 top, 200 impact, 300 finish.

    Attributes
    ----------
    values_cm : ndarray, shape (3, 301)
        Sway, thrust, lift.
    times_s : ndarray, shape (301,)
        Second of each node from the first sample of the capture, strictly rising, so that node
        and second can be turned into one another.
    """

    values_cm: FloatArray
    times_s: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, {"values_cm": (3, NODES), "times_s": (NODES,)})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeatureValues:
    """The features of one swing; a missing one has a reason instead of a value.

    Attributes
    ----------
    values : Mapping of str to float
        Finite values by feature name, in the catalogue's unit.
    missing : Mapping of str to str
        Reason by feature name, for features the curve cannot give.
    uncertainty : Mapping of str to float
        Standard uncertainty by feature name, in the catalogue's unit, from noise, events and
        filter (``norms.swing.uncertainty``); empty where it was not computed.
    """

    values: Mapping[str, float]
    missing: Mapping[str, str]
    uncertainty: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        set_field(self, "values", dict(self.values))
        set_field(self, "missing", dict(self.missing))
        set_field(self, "uncertainty", dict(self.uncertainty))
        both = self.values.keys() & self.missing.keys()
        if both:
            raise ValueError(f"features both given and missing: {sorted(both)}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilterFacts:
    """What the filter did to one swing, and how well position and rate are known after it.

    Attributes
    ----------
    cutoff_hz : float
        The cutoff in force.
    cutoff_method : str
        ``"fixed"`` by the profile, ``"residual analysis"``, or ``"lowered"`` to a share of the
        Nyquist frequency.
    noise_sd_cm : ndarray, shape (3,)
        Noise of a raw sample of the pelvis centre, by axis.
    position_sd_cm, rate_sd_cm_s : ndarray, shape (3,)
        What the filter leaves of that noise in position and rate.
    rate_bias_cm_s : ndarray, shape (3,)
        Largest rate that the filter is believed to have taken off the motion between start and
        finish.
    """

    cutoff_hz: float
    cutoff_method: str
    noise_sd_cm: FloatArray
    position_sd_cm: FloatArray
    rate_sd_cm_s: FloatArray
    rate_bias_cm_s: FloatArray

    def __post_init__(self) -> None:
        names = ("noise_sd_cm", "position_sd_cm", "rate_sd_cm_s", "rate_bias_cm_s")
        freeze_fields(self, dict.fromkeys(names, (len(AXES),)))

    @property
    def rate_bound_cm_s(self) -> FloatArray:
        """Bound on the error of a rate anywhere in the swing: bias plus two sd of noise."""
        bound: FloatArray = self.rate_bias_cm_s + 2.0 * self.rate_sd_cm_s
        return bound


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Swing:
    """One swing, as stored.

    Attributes
    ----------
    label : SwingLabel
    hand : {"right", "left"}
    rate_hz : float
        Rate of the capture.
    curve : PhaseCurve
    events : SwingEvents
    features : FeatureValues
    pelvis_method : str
        How the hip joint centres were obtained, e.g. ``"harrington"`` or ``"given"``.
    axes_source : str
        ``"declared"`` or ``"feet_line"``.
    shot_axes : ndarray, shape (3, 3)
    filled_share : ndarray, shape (3,)
        Share of samples of the pelvis points that were filled or rebuilt, by phase, 0 to 1.
    notices : tuple of Notice
    filtering : FilterFacts or None
        None for a swing stored before these were kept.
    """

    label: SwingLabel
    hand: Hand
    rate_hz: float
    curve: PhaseCurve
    events: SwingEvents
    features: FeatureValues
    pelvis_method: str
    axes_source: str
    shot_axes: FloatArray
    filled_share: FloatArray
    notices: tuple[Notice, ...] = ()
    filtering: FilterFacts | None = None

    def __post_init__(self) -> None:
        set_field(self, "shot_axes", frozen_array("shot_axes", self.shot_axes, (3, 3)))
        set_field(self, "filled_share", frozen_array("filled_share", self.filled_share, (3,)))

    @property
    def warned(self) -> bool:
        """Whether the swing was accepted with warnings."""
        return any(notice.severity == "warning" for notice in self.notices)
