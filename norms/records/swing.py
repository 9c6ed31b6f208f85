"""What one capture becomes: displacement, events, phase curve, features, and the swing itself."""

from collections.abc import Mapping
from dataclasses import dataclass

from norms.errors import Notice
from norms.records._arrays import FloatArray, freeze_fields, frozen_array, set_field
from norms.records.capture import SwingLabel
from norms.vocabulary import EVENTS, NODES, Hand


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
    origin_cm : ndarray, shape (3,)
        The zero, in laboratory coordinates.
    """

    values_cm: FloatArray
    rate_hz: float
    shot_axes: FloatArray
    origin_cm: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, {"values_cm": (None, 3), "shot_axes": (3, 3), "origin_cm": (3,)})


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
    """

    time_s: float
    method: str
    stand_in: bool = False
    uncertainty_s: float = 0.0


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
    """

    values: Mapping[str, float]
    missing: Mapping[str, str]

    def __post_init__(self) -> None:
        set_field(self, "values", dict(self.values))
        set_field(self, "missing", dict(self.missing))
        both = self.values.keys() & self.missing.keys()
        if both:
            raise ValueError(f"features both given and missing: {sorted(both)}")


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

    def __post_init__(self) -> None:
        set_field(self, "shot_axes", frozen_array("shot_axes", self.shot_axes, (3, 3)))
        set_field(self, "filled_share", frozen_array("filled_share", self.filled_share, (3,)))

    @property
    def warned(self) -> bool:
        """Whether the swing was accepted with warnings."""
        return any(notice.severity == "warning" for notice in self.notices)
