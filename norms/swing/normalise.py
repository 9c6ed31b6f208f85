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


def seconds_at(events: SwingEvents, nodes: FloatArray) -> FloatArray:
    """Seconds at which nodes lie; the inverse of ``nodes_at``.

    Parameters
    ----------
    events : SwingEvents
    nodes : ndarray
        From 0 (start) over 100 (top) and 200 (impact) to 300 (finish), fractions allowed.

    Returns
    -------
    ndarray
        Seconds from the first sample of the capture; NaN outside 0 to 300.
    """
    return _turned(nodes, _event_nodes(), np.array(events.boundaries_s))


def nodes_at(events: SwingEvents, seconds: FloatArray) -> FloatArray:
    """Nodes, with fractions, at which seconds lie; NaN before the start and after the finish."""
    return _turned(seconds, np.array(events.boundaries_s), _event_nodes())


def _event_nodes() -> FloatArray:
    return np.array(list(EVENT_NODES.values()), dtype=float)


def _turned(values: FloatArray, known: FloatArray, wanted: FloatArray) -> FloatArray:
    return np.asarray(np.interp(values, known, wanted, left=np.nan, right=np.nan))


def motion_spline(values_cm: FloatArray, rate_hz: float) -> CubicSpline:
    """Cubic spline through samples, shape (t, 3), as a function of seconds."""
    return CubicSpline(np.arange(len(values_cm)) / rate_hz, values_cm)


def phase_curve(motion: CubicSpline, events: SwingEvents) -> PhaseCurve:
    """The three curves on their phase nodes."""
    times = node_times(events)
    return PhaseCurve(values_cm=motion(times).T, times_s=times)
