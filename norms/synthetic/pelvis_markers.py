"""Skin markers carried by a turning pelvis, placed so that the regression gives the true path."""

import numpy as np

from norms.synthetic.parameters import Body, SwingParameters
from norms.synthetic.steps import FloatArray, Step, sum_of_steps

# Pelvis axes as columns in canonical coordinates for a right-hander who stands square: anterior
# toward the ball (-y), cranial up (+z), right toward the trail side (-x).
SQUARE = np.array([[0.0, 0.0, -1.0], [-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


def _turn_steps(swing: SwingParameters) -> tuple[Step, ...]:
    through = swing.turn_impact_deg - swing.turn_top_deg
    return (
        Step(swing.start_s, swing.top_s, swing.turn_top_deg),
        Step(swing.top_s - 0.09, swing.impact_s + 0.12, through),
        Step(swing.impact_s - 0.06, swing.finish_s, swing.turn_finish_deg - swing.turn_impact_deg),
    )


def _list_steps(swing: SwingParameters) -> tuple[Step, ...]:
    return (
        Step(swing.start_s + 0.05, swing.top_s, swing.list_top_deg),
        Step(swing.top_s - 0.05, swing.impact_s + 0.1, swing.list_impact_deg - swing.list_top_deg),
        Step(swing.impact_s + 0.05, swing.finish_s, -swing.list_impact_deg),
    )


def _tilt_steps(swing: SwingParameters) -> tuple[Step, ...]:
    return (Step(swing.top_s - 0.05, swing.impact_s + 0.15, swing.tilt_change_deg),)


def _rotations(axis: int, angles_deg: FloatArray) -> FloatArray:
    """Right-handed rotations about coordinate ``axis``, shape (t, 3, 3)."""
    angles = np.radians(angles_deg)
    one, two = (axis + 1) % 3, (axis + 2) % 3
    out = np.zeros((len(angles), 3, 3))
    out[:, axis, axis] = 1.0
    out[:, one, one] = out[:, two, two] = np.cos(angles)
    out[:, two, one] = np.sin(angles)
    out[:, one, two] = -np.sin(angles)
    return out


def pelvis_orientation(swing: SwingParameters, body: Body, times_s: FloatArray) -> FloatArray:
    """Pelvis axes over time for a right-hander.

    Returns
    -------
    ndarray, shape (t, 3, 3)
        Columns are the pelvis' anterior, cranial and right axes in canonical coordinates.
    """
    turn = _rotations(2, sum_of_steps(_turn_steps(swing), times_s))
    # Lead side up turns the cranial axis toward the right (trail) side: + about the anterior axis.
    lists = _rotations(0, sum_of_steps(_list_steps(swing), times_s))
    # Forward tilt lowers the anterior axis: - about the axis to the right.
    tilt = _rotations(2, -body.pelvis_tilt_deg - sum_of_steps(_tilt_steps(swing), times_s))
    return np.asarray(turn @ SQUARE @ lists @ tilt)


def local_markers_cm(body: Body) -> dict[str, FloatArray]:
    """Markers in pelvis axes (anterior, cranial, right), origin at mid-ASIS, cm."""
    width, depth, rear = (
        0.1 * value for value in (body.pelvis_width_mm, body.pelvis_depth_mm, body.psis_width_mm)
    )
    return {
        "left_asis": np.array([0.0, 0.0, -width / 2]),
        "right_asis": np.array([0.0, 0.0, width / 2]),
        "left_psis": np.array([-depth, 0.0, -rear / 2]),
        "right_psis": np.array([-depth, 0.0, rear / 2]),
    }


def local_centre_cm(body: Body) -> FloatArray:
    """Midpoint of the hip joint centres in pelvis axes, origin at mid-ASIS, cm.

    One-predictor regressions of Harrington et al. 2007, J Biomech 40:595-602. Left and right
    differ in the sign of the third coordinate only, so the midpoint lies in the middle plane.
    """
    anterior_mm = -0.24 * body.pelvis_depth_mm - 9.9
    cranial_mm = -0.30 * body.pelvis_width_mm - 10.9
    return 0.1 * np.array([anterior_mm, cranial_mm, 0.0])


def pelvis_marker_paths(
    swing: SwingParameters, body: Body, centre_cm: FloatArray, times_s: FloatArray
) -> dict[str, FloatArray]:
    """Paths of the four pelvis markers around a given path of the centre, each (t, 3), cm."""
    axes = pelvis_orientation(swing, body, times_s)
    offset = local_centre_cm(body)
    return {
        role: centre_cm + axes @ (place - offset) for role, place in local_markers_cm(body).items()
    }
