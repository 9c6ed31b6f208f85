"""Club head and hands on an inclined plane, reversing and passing the ball at exact times.

Both move around a fixed hub. The club head keeps to one curve in the plane, told by one angle, so
that where the angle reverses the head stands still and turns round. The two move by like laws but
not as one rigid body: the hands may reverse before the club (``hands_lead_s``), and the distance
between grip and head is not held constant.
"""

import numpy as np

from norms.synthetic.parameters import Body, SwingParameters
from norms.synthetic.steps import FloatArray

TOP_CURVATURE = 10.0
"""Second derivative at the top of the backswing's law; of its possible 0 to 12, an early stop."""
HANDS_TURN_RAD = 2.0
HANDS_SPEED_AT_IMPACT = 1.2
"""Slope of the hands' downswing law at impact: they are past their fastest by then."""
CLUB_THROUGH = 1.25
"""Turn of the club after impact, in turns of its backswing."""
HALF_GRIP_CM = 4.0
HEAD_HEIGHT_CM = 2.0
FOLD = 0.35
"""Share of the reach that is lost where the club is folded back over the shoulder."""


def _back(u: FloatArray) -> FloatArray:
    """Backswing law 0→1 with zero slope at both ends and curvature −TOP_CURVATURE at the top."""
    p = 12.0 - TOP_CURVATURE
    q = 12.0 - 2.0 * p
    return u * u * (p / 2 + u * ((q - p) / 3 - u * q / 4))


def _down(u: FloatArray, curvature: float, slope: float) -> FloatArray:
    """Downswing law 0→1 with zero slope at the top, given curvature there and slope at impact."""
    a = curvature / 2
    c = slope - 3.0 + a
    return u * u * (a + u * ((1.0 - a - c) + u * c))


def _club_slope(curvature: float) -> float:
    """Slope at impact of the cubic downswing law."""
    return 3.0 - curvature / 2


def _phases(
    times_s: FloatArray, start_s: float, top_s: float, impact_s: float, finish_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Progress through the three phases, each clipped to 0..1, shape (t,)."""
    bounds = ((start_s, top_s), (top_s, impact_s), (impact_s, finish_s))
    back, down, after = (
        np.clip((times_s - begin) / (end - begin), 0.0, 1.0) for begin, end in bounds
    )
    return back, down, after


def club_angle(swing: SwingParameters, body: Body, times_s: FloatArray) -> FloatArray:
    """Angle of the club head about the hub, radians, 0 at the ball, negative in the backswing."""
    back, down, after = _phases(times_s, swing.start_s, swing.top_s, swing.impact_s, swing.finish_s)
    # Equal second derivatives on both sides of the top keep a low-pass filter from moving it.
    curvature = TOP_CURVATURE * (swing.downswing_s / swing.backswing_s) ** 2
    slope = _club_slope(curvature)
    reach_m = 0.01 * body.reach_cm
    turn = swing.club_speed_mps * swing.downswing_s / (reach_m * slope)
    exponent = slope * swing.follow_through_s / swing.downswing_s / CLUB_THROUGH
    through = CLUB_THROUGH * (1.0 - (1.0 - after) ** exponent)
    return turn * (-_back(back) + _down(down, curvature, slope) + through)


def hands_angle(swing: SwingParameters, times_s: FloatArray) -> FloatArray:
    """Angle of the hands about the hub, radians, 0 at address, negative in the backswing."""
    top_s = swing.top_s - swing.hands_lead_s
    back, down, after = _phases(times_s, swing.start_s, top_s, swing.impact_s, swing.finish_s)
    down_s = swing.impact_s - top_s
    curvature = TOP_CURVATURE * (down_s / (top_s - swing.start_s)) ** 2
    # Slows along (1 - u)(1 - u/2): nearly straight at the end, so that the rest begins clearly.
    first = HANDS_SPEED_AT_IMPACT * swing.follow_through_s / down_s
    through = first * after * (1.0 - after * (0.75 - after / 6))
    return HANDS_TURN_RAD * (-_back(back) + _down(down, curvature, HANDS_SPEED_AT_IMPACT) + through)


def _hub_cm(body: Body) -> FloatArray:
    """Hub for a right-hander; the ball lies where the reach meets the ground in front of it."""
    height = HEAD_HEIGHT_CM + body.reach_cm * np.sin(np.radians(body.plane_deg))
    return np.array([0.0, -18.0, height])


def _on_plane(body: Body, radius_cm: FloatArray | float, angle: FloatArray) -> FloatArray:
    """Points of the swing plane at a radius and angle about the hub, shape (t, 3), cm."""
    slope = np.radians(body.plane_deg)
    up_plane = np.array([0.0, np.cos(slope), np.sin(slope)])
    toward_target = np.array([1.0, 0.0, 0.0])
    sideways = (radius_cm * np.sin(angle))[:, None] * toward_target
    down = (radius_cm * np.cos(angle))[:, None] * up_plane
    return np.asarray(_hub_cm(body) + sideways - down)


def club_head_path(swing: SwingParameters, body: Body, times_s: FloatArray) -> FloatArray:
    """Path of the club head for a right-hander, shape (t, 3), cm."""
    angle = club_angle(swing, body, times_s)
    radius = body.reach_cm * (1.0 - FOLD * np.sin(angle / 2) ** 2)
    return _on_plane(body, radius, angle)


def hand_paths(swing: SwingParameters, body: Body, times_s: FloatArray) -> dict[str, FloatArray]:
    """Paths of both hands for a right-hander, whose left hand holds the end of the grip."""
    angle = hands_angle(swing, times_s)
    return {
        "left_hand": _on_plane(body, body.arm_cm - HALF_GRIP_CM, angle),
        "right_hand": _on_plane(body, body.arm_cm + HALF_GRIP_CM, angle),
    }
