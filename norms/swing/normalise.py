"""Time made comparable: each phase of the swing stretched onto its own 101 nodes.

Piecewise linear in time, so that every event falls exactly on its node and node and second can
be turned into one another; real durations are kept in the node times.
"""

import numpy as np
from scipy.interpolate import CubicSpline

from norms.records import FloatArray, PhaseCurve, SwingEvents
from norms.vocabulary import EVENT_NODES, NODES_PER_PHASE


def node_times(events: SwingEvents) -> FloatArray:
    """Seconds of the 301 nodes: equally spaced within each phase, boundaries shared."""
    bounds = events.boundaries_s
    parts = [
        np.linspace(bounds[i], bounds[i + 1], NODES_PER_PHASE)[(1 if i else 0) :] for i in range(3)
    ]
    return np.concatenate(parts)


def node_at(events: SwingEvents, second: float) -> float:
    """The node, with fractions, at which a second lies; the inverse of ``node_times``.

    Parameters
    ----------
    events : SwingEvents
    second : float
        From the first sample of the capture.

    Returns
    -------
    float
        From 0 (start) over 100 (top) and 200 (impact) to 300 (finish); NaN outside.
    """
    nodes = list(EVENT_NODES.values())
    return float(np.interp(second, events.boundaries_s, nodes, left=np.nan, right=np.nan))


def motion_spline(values_cm: FloatArray, rate_hz: float) -> CubicSpline:
    """Cubic spline through samples, shape (t, 3), as a function of seconds."""
    return CubicSpline(np.arange(len(values_cm)) / rate_hz, values_cm)


def curve_spline(curve: PhaseCurve) -> CubicSpline:
    """The three curves between their nodes, as a function of seconds of the capture."""
    return CubicSpline(curve.times_s, curve.values_cm, axis=1)


def phase_curve(motion: CubicSpline, events: SwingEvents) -> PhaseCurve:
    """The three curves on their phase nodes."""
    times = node_times(events)
    return PhaseCurve(values_cm=motion(times).T, times_s=times)
