"""Where each curve is farthest, as a value, a second of the capture and a phase node.

With the second a person finds the moment in the film of the swing; with the node it is found on
every chart of norms.
"""

from dataclasses import dataclass

from norms.records import Swing
from norms.swing.features import AxisMotion
from norms.swing.normalise import curve_spline, node_at
from norms.vocabulary import AXES, AXIS_ENDS, Axis


@dataclass(frozen=True, slots=True, kw_only=True)
class Farthest:
    """A curve's farthest place toward one of its ends, between start and finish.

    Attributes
    ----------
    axis : {"sway", "thrust", "lift"}
    toward : str
        The end, in the words of ``AXIS_ENDS``.
    value_cm : float
        From address, signed.
    time_s : float
        Seconds from the first sample of the capture.
    node : float
        From 0 (start) to 300 (finish), with fractions.
    """

    axis: Axis
    toward: str
    value_cm: float
    time_s: float
    node: float


def farthest_places(swing: Swing) -> tuple[Farthest, ...]:
    """Both ends of the three curves of a swing, in the order of time."""
    motion = curve_spline(swing.curve)
    start_s, _, _, finish_s = swing.events.boundaries_s
    places = []
    for k, axis in enumerate(AXES):
        one = AxisMotion(motion, k)
        highest, lowest = one.highest(start_s, finish_s), one.lowest(start_s, finish_s)
        for toward, found in zip(AXIS_ENDS[axis], (highest, lowest), strict=True):
            places.append(
                Farthest(
                    axis=axis,
                    toward=toward,
                    value_cm=found.value,
                    time_s=found.time_s,
                    node=node_at(swing.events, found.time_s),
                )
            )
    return tuple(sorted(places, key=lambda place: place.time_s))
