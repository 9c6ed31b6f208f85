"""The path of the pelvis centre: which smooth steps each axis is made of, and when they happen.

The order of the moves follows common practice (no published source): sway
goes away and turns toward the target before the top, thrust sits back early in the downswing and
comes forward again, lift is lowest just after the top, rises through impact and drops after.
"""

import numpy as np

from norms.synthetic.parameters import SwingParameters
from norms.synthetic.steps import FloatArray, Step, rate_of_steps, sum_of_steps


def sway_steps(swing: SwingParameters) -> tuple[Step, ...]:
    """Steps of sway, cm, + toward the target."""
    turn = swing.top_s - swing.sway_lead_s
    carried = swing.impact_s + swing.sway_carry_s
    return (
        Step(swing.start_s, turn + 0.14, -swing.sway_away_cm),
        Step(turn - 0.06, carried, swing.sway_forward_cm),
        Step(carried - 0.04, swing.finish_s, -swing.sway_settle_cm),
    )


def thrust_steps(swing: SwingParameters) -> tuple[Step, ...]:
    """Steps of thrust, cm, + toward the ball."""
    top, down = swing.top_s, swing.downswing_s
    return (
        Step(swing.start_s + 0.04, top - 0.02, swing.thrust_back_cm),
        Step(top - 0.12, top + 0.55 * down, -swing.thrust_sit_cm),
        Step(top + 0.25 * down, swing.impact_s + 0.14, swing.thrust_late_cm),
        Step(swing.impact_s + 0.06, swing.finish_s - 0.04, swing.thrust_follow_cm),
    )


def lift_steps(swing: SwingParameters) -> tuple[Step, ...]:
    """Steps of lift, cm, + up."""
    low = swing.top_s + swing.lift_lag_s
    return (
        Step(swing.start_s + 0.08, swing.top_s - 0.04, -swing.lift_drop_cm),
        Step(low - 0.24, low + 0.10, -swing.lift_dip_cm),
        Step(low - 0.05, swing.impact_s + 0.12, swing.lift_rise_cm),
        Step(swing.impact_s + 0.08, swing.finish_s - 0.02, -swing.lift_settle_cm),
    )


def _axes(swing: SwingParameters) -> tuple[tuple[Step, ...], ...]:
    return (sway_steps(swing), thrust_steps(swing), lift_steps(swing))


def true_path(swing: SwingParameters, times_s: FloatArray) -> FloatArray:
    """Displacement of the pelvis centre from address.

    Parameters
    ----------
    swing : SwingParameters
    times_s : ndarray, shape (t,)

    Returns
    -------
    ndarray, shape (t, 3)
        Sway (+ toward the target), thrust (+ toward the ball), lift (+ up), cm; exactly zero up
        to the start.
    """
    return np.column_stack([sum_of_steps(steps, times_s) for steps in _axes(swing)])


def true_rate(swing: SwingParameters, times_s: FloatArray) -> FloatArray:
    """Velocity of the pelvis centre, shape (t, 3), cm/s, from the exact derivative."""
    return np.column_stack([rate_of_steps(steps, times_s) for steps in _axes(swing)])
