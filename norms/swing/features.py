"""Every feature of the catalogue from the three curves and the event times of one swing.

One short function each, on the cubic spline through the filtered samples, so that a feature
does not depend on the number of phase nodes. A feature that the curve cannot give raises
``Missing`` with the reason and is stored as missing, never as zero.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from scipy.interpolate import CubicSpline, PPoly

from norms.records import FeatureValues, FloatArray, SwingEvents
from norms.swing.catalogue import FEATURE_NAMES
from norms.swing.normalise import node_at
from norms.vocabulary import EVENT_NODES

FEWEST_SAMPLES_FOR_RATE: Final = 6
"""A phase with fewer samples has no rate worth stating."""


class Missing(Exception):
    """A feature the curve cannot give; the message is the reason stored with the swing."""


@dataclass(frozen=True, slots=True)
class Extreme:
    """A highest or lowest value, when it is reached, and whether at an end of the stretch."""

    value: float
    time_s: float
    at_end: bool


class AxisMotion:
    """One curve as a function of seconds, with its extremes over a stretch of time."""

    def __init__(self, motion: CubicSpline, axis: int) -> None:
        self._position = PPoly(motion.c[:, :, axis], motion.x)
        self.rate = self._position.derivative()

    def at(self, time_s: float) -> float:
        """Value at a second, in cm."""
        return float(self._position(time_s))

    def lowest(self, from_s: float, to_s: float) -> Extreme:
        """Lowest value in a stretch."""
        return _extreme(self._position, from_s, to_s, sign=-1.0)

    def highest(self, from_s: float, to_s: float) -> Extreme:
        """Highest value in a stretch."""
        return _extreme(self._position, from_s, to_s, sign=1.0)

    def fastest(self, from_s: float, to_s: float) -> Extreme:
        """Largest rate in a stretch, cm/s."""
        return _extreme(self.rate, from_s, to_s, sign=1.0)


def _extreme(curve: PPoly, from_s: float, to_s: float, *, sign: float) -> Extreme:
    """Highest (sign 1) or lowest (sign -1) value of a piecewise polynomial over a stretch.

    The best of the ends, the breakpoints and the turning points of the pieces around the best
    breakpoint, which are roots of a quadratic or linear derivative and need no search.
    """
    first, last = np.searchsorted(curve.x, [from_s, to_s], side="right")
    times = np.concatenate(([from_s], curve.x[first:last], [to_s]))
    best = int(np.argmax(sign * curve(times)))
    around = np.searchsorted(curve.x, times[best], side="right") - 1
    pieces = [k for k in (around - 1, around, around + 1) if 0 <= k < curve.c.shape[1]]
    turns = [
        float(curve.x[k] + root)
        for k in pieces
        for root in _derivative_roots(curve.c[:, k])
        if 0.0 <= root <= curve.x[k + 1] - curve.x[k] and from_s < curve.x[k] + root < to_s
    ]
    candidates = np.array([times[best], *turns])
    values = curve(candidates)
    k = int(np.argmax(sign * values))
    time = float(candidates[k])
    return Extreme(value=float(values[k]), time_s=time, at_end=time in (from_s, to_s))


def _derivative_roots(coefficients: FloatArray) -> list[float]:
    """Real roots of the derivative of a cubic or a quadratic given highest power first."""
    if len(coefficients) == 3:
        a, b = 2.0 * coefficients[0], coefficients[1]
        return [float(-b / a)] if a != 0 else []
    a, b, c = 3.0 * coefficients[0], 2.0 * coefficients[1], coefficients[2]
    if a == 0:
        return [float(-c / b)] if b != 0 else []
    root = b * b - 4.0 * a * c
    if root < 0:
        return []
    # The stable form: no difference of nearly equal numbers.
    q = -0.5 * (b + np.copysign(np.sqrt(root), b))
    return [float(r) for r in ([q / a] if q == 0 else [q / a, c / q])]


class Measured:
    """What the feature functions read: the three curves, the boundaries, shared extremes."""

    def __init__(self, motion: CubicSpline, events: SwingEvents) -> None:
        self.motion = motion
        self.sway, self.thrust, self.lift = (AxisMotion(motion, axis) for axis in range(3))
        self.start, self.top, self.impact, self.finish = events.boundaries_s
        self._events = events
        self._spacing = float(motion.x[1] - motion.x[0])

    @cached_property
    def sway_low(self) -> Extreme:
        """Farthest back between start and impact."""
        return self.sway.lowest(self.start, self.impact)

    @cached_property
    def sway_after(self) -> Extreme:
        """Farthest forward in the follow-through."""
        return self.sway.highest(self.impact, self.finish)

    @cached_property
    def sway_fastest(self) -> Extreme:
        """Fastest forward rate of the downswing."""
        return self.forward_rate(self.sway, "sway never moves toward the target")

    @cached_property
    def thrust_low(self) -> Extreme:
        """Lowest thrust of the downswing."""
        return self.thrust.lowest(self.top, self.impact)

    @cached_property
    def lift_low(self) -> Extreme:
        """Lowest lift between start and impact."""
        return self.lift.lowest(self.start, self.impact)

    @cached_property
    def lift_fastest(self) -> Extreme:
        """Fastest upward rate of the downswing."""
        return self.forward_rate(self.lift, "lift never rises")

    def forward_rate(self, axis: AxisMotion, never: str) -> Extreme:
        """Largest rate of the downswing, refused where it is not positive."""
        self.require_downswing_samples()
        fastest = axis.fastest(self.top, self.impact)
        if fastest.value <= 0:
            raise Missing(f"{never} in the downswing")
        return fastest

    def require_downswing_samples(self) -> None:
        """Refuse rates where the downswing holds too few samples."""
        samples = (self.impact - self.top) / self._spacing
        if samples < FEWEST_SAMPLES_FOR_RATE:
            raise Missing(f"the downswing holds {samples:.0f} samples, too few for a rate")

    def percent_of_downswing(self, time_s: float) -> float:
        """Position within the downswing, 0 at the top, 100 at impact."""
        return node_at(self._events, time_s) - EVENT_NODES["top"]


def _sway_turn_s(m: Measured) -> float:
    if m.sway_low.at_end:
        raise Missing("sway does not turn between start and impact")
    return m.sway_low.time_s


def _lift_low_s(m: Measured) -> float:
    if m.lift_low.at_end:
        raise Missing("lift has no lowest point between start and impact")
    return m.lift_low.time_s


def _sway_slowing(m: Measured) -> float:
    return 1.0 - float(m.sway.rate(m.impact)) / m.sway_fastest.value


def _thrust_rate_impact(m: Measured) -> float:
    m.require_downswing_samples()
    return float(m.thrust.rate(m.impact))


def _path_length(m: Measured) -> float:
    """Arc length by Simpson's rule on the spline's speed, at most 2.5 ms apart."""
    steps = 2 * max(50, int(np.ceil((m.impact - m.start) / 0.005)))
    times = np.linspace(m.start, m.impact, steps + 1)
    velocity = m.motion(times, 1)
    speed = np.sqrt((velocity**2).sum(axis=1))
    weights = np.ones(steps + 1)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    return float((times[1] - times[0]) / 3.0 * (weights @ speed))


FUNCTIONS: Final[dict[str, Callable[[Measured], float]]] = {
    "sway_top": lambda m: m.sway.at(m.top),
    "sway_back": lambda m: m.sway_low.value,
    "sway_turn_lead": lambda m: m.top - _sway_turn_s(m),
    "sway_impact": lambda m: m.sway.at(m.impact),
    "sway_travel": lambda m: m.sway.at(m.impact) - m.sway_low.value,
    "sway_rate_max": lambda m: m.sway_fastest.value,
    "sway_rate_max_at": lambda m: m.percent_of_downswing(m.sway_fastest.time_s),
    "sway_slowing": _sway_slowing,
    "sway_drift": lambda m: m.sway_after.value - m.sway.at(m.impact),
    "sway_settle": lambda m: m.sway_after.value - m.sway.at(m.finish),
    "thrust_top": lambda m: m.thrust.at(m.top),
    "thrust_back_max": lambda m: m.thrust.highest(m.start, m.top).value,
    "thrust_sit_back": lambda m: m.thrust_low.value - m.thrust.at(m.top),
    "thrust_impact": lambda m: m.thrust.at(m.impact),
    "thrust_late_rise": lambda m: m.thrust.at(m.impact) - m.thrust_low.value,
    "thrust_rate_impact": _thrust_rate_impact,
    "lift_top": lambda m: m.lift.at(m.top),
    "lift_low": lambda m: m.lift_low.value,
    "lift_low_after_top": lambda m: _lift_low_s(m) - m.top,
    "lift_impact": lambda m: m.lift.at(m.impact),
    "lift_rise": lambda m: m.lift.at(m.impact) - m.lift_low.value,
    "lift_rate_max": lambda m: m.lift_fastest.value,
    "lift_rate_max_at": lambda m: m.percent_of_downswing(m.lift_fastest.time_s),
    "lift_after": lambda m: m.lift.at(m.finish) - m.lift.highest(m.impact, m.finish).value,
    "turn_order": lambda m: _lift_low_s(m) - _sway_turn_s(m),
    "path_length": _path_length,
    "backswing_time": lambda m: m.top - m.start,
    "downswing_time": lambda m: m.impact - m.top,
    "tempo": lambda m: (m.top - m.start) / (m.impact - m.top),
}


def measure_features(motion: CubicSpline, events: SwingEvents) -> FeatureValues:
    """All features of one swing.

    Parameters
    ----------
    motion : CubicSpline
        Sway, thrust and lift in cm as a function of seconds (``normalise.motion_spline``).
    events : SwingEvents

    Returns
    -------
    FeatureValues
        Every name of the catalogue stands either in ``values`` or in ``missing``.
    """
    measured = Measured(motion, events)
    values: dict[str, float] = {}
    missing: dict[str, str] = {}
    for name in FEATURE_NAMES:
        try:
            values[name] = float(FUNCTIONS[name](measured))
        except Missing as reason:
            missing[name] = str(reason)
    return FeatureValues(values=values, missing=missing)
