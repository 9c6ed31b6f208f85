"""What is true of an invented swing: its events, its features, its path.

Features are found by looking at a dense grid of the exact path, one plain expression after the
other. The measuring side is not imported: two independent readings of one definition check each
other.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from norms.records._arrays import freeze_fields, set_field
from norms.synthetic.parameters import SwingParameters
from norms.synthetic.path import true_path, true_rate
from norms.synthetic.steps import FloatArray

DENSE_HZ = 20_000.0
"""Grid on which extremes are sought; a time of an extreme is then known to 0.05 ms."""


def true_events(swing: SwingParameters) -> dict[str, float]:
    """Seconds of address, start, top, impact and finish.

    Address, the last still instant, is the start itself: everything is still until the club
    leaves the ball.
    """
    return {
        "address": swing.start_s,
        "start": swing.start_s,
        "top": swing.top_s,
        "impact": swing.impact_s,
        "finish": swing.finish_s,
    }


def _grid(begin_s: float, end_s: float, rate_hz: float) -> FloatArray:
    return np.linspace(begin_s, end_s, int(np.ceil((end_s - begin_s) * rate_hz)) + 1)


def true_features(swing: SwingParameters, *, rate_hz: float = DENSE_HZ) -> dict[str, float]:
    """Every feature of the swing, by brute force on a dense grid.

    Parameters
    ----------
    swing : SwingParameters
    rate_hz : float, optional
        Density of the grid. 2,000 is enough for values in cm (to 0.001), not for times.

    Returns
    -------
    dict of str to float
        By catalogue name, in the catalogue's unit. A feature that the path cannot give (sway
        that never turns before impact, a direction that never moves fast) is absent.
    """
    back = _grid(swing.start_s, swing.top_s, rate_hz)
    down = _grid(swing.top_s, swing.impact_s, rate_hz)
    after = _grid(swing.impact_s, swing.finish_s, rate_hz)
    back_cm, down_cm, after_cm = (true_path(swing, times) for times in (back, down, after))
    down_rate = true_rate(swing, down)
    shot = np.concatenate([back, down[1:]])
    shot_cm = np.concatenate([back_cm, down_cm[1:]])

    top, impact, finish = down_cm[0], down_cm[-1], after_cm[-1]
    sway_back, lift_low = shot_cm[:, 0].min(), shot_cm[:, 2].min()
    sway_back_s = shot[shot_cm[:, 0].argmin()]
    lift_low_s = shot[shot_cm[:, 2].argmin()]
    fastest = down_rate.max(axis=0)
    fastest_at = 100.0 * (down[down_rate.argmax(axis=0)] - swing.top_s) / swing.downswing_s

    features = {
        "sway_top": top[0],
        "sway_back": sway_back,
        "sway_turn_lead": swing.top_s - sway_back_s,
        "sway_impact": impact[0],
        "sway_travel": impact[0] - sway_back,
        "sway_rate_max": fastest[0],
        "sway_rate_max_at": fastest_at[0],
        "sway_slowing": 1.0 - down_rate[-1, 0] / fastest[0] if fastest[0] > 0 else np.nan,
        "sway_drift": after_cm[:, 0].max() - impact[0],
        "sway_settle": after_cm[:, 0].max() - finish[0],
        "thrust_top": top[1],
        "thrust_back_max": back_cm[:, 1].max(),
        "thrust_sit_back": down_cm[:, 1].min() - top[1],
        "thrust_impact": impact[1],
        "thrust_late_rise": impact[1] - down_cm[:, 1].min(),
        "thrust_rate_impact": down_rate[-1, 1],
        "lift_top": top[2],
        "lift_low": lift_low,
        "lift_low_after_top": lift_low_s - swing.top_s,
        "lift_impact": impact[2],
        "lift_rise": impact[2] - lift_low,
        "lift_rate_max": fastest[2],
        "lift_rate_max_at": fastest_at[2],
        "lift_after": finish[2] - after_cm[:, 2].max(),
        "turn_order": lift_low_s - sway_back_s,
        "path_length": np.linalg.norm(np.diff(shot_cm, axis=0), axis=1).sum(),
        "backswing_time": swing.backswing_s,
        "downswing_time": swing.downswing_s,
        "tempo": swing.backswing_s / swing.downswing_s,
    }
    absent: set[str] = set()
    if sway_back_s in (shot[0], shot[-1]):
        absent |= {"sway_turn_lead", "turn_order"}
    if lift_low_s in (shot[0], shot[-1]):
        absent |= {"lift_low_after_top", "turn_order"}
    if fastest[0] <= 0:
        absent |= {"sway_rate_max_at", "sway_slowing"}
    if fastest[2] <= 0:
        absent |= {"lift_rate_max_at"}
    return {name: float(value) for name, value in features.items() if name not in absent}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SwingTruth:
    """All that is true of one swing.

    Attributes
    ----------
    parameters : SwingParameters
    events_s : Mapping of str to float
        By event name, seconds from the first sample.
    features : Mapping of str to float
        By catalogue name, in the catalogue's unit.
    times_s : ndarray, shape (t,)
        Seconds of the capture's samples.
    path_cm : ndarray, shape (t, 3)
        Sway, thrust and lift at those samples.
    """

    parameters: SwingParameters
    events_s: Mapping[str, float]
    features: Mapping[str, float]
    times_s: FloatArray
    path_cm: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, {"times_s": (None,), "path_cm": (len(self.times_s), 3)})
        set_field(self, "events_s", dict(self.events_s))
        set_field(self, "features", dict(self.features))


def swing_truth(swing: SwingParameters, times_s: FloatArray) -> SwingTruth:
    """Gather the truth of a swing sampled at ``times_s``."""
    return SwingTruth(
        parameters=swing,
        events_s=true_events(swing),
        features=true_features(swing),
        times_s=times_s,
        path_cm=true_path(swing, times_s),
    )
