"""How the golfers of the invented academy swing: level, pattern, golfer, day and swing."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from norms.synthetic import Body, SwingParameters


class Trait(NamedTuple):
    """How one parameter varies: mean at handicap 0, change per stroke, standard deviations.

    ``golfer_sd`` is the spread between golfers of one level and pattern; day and swing are what
    remains within a golfer. The value is kept between ``lowest`` and ``highest``.
    """

    mean: float
    per_stroke: float
    golfer_sd: float
    day_sd: float
    swing_sd: float
    lowest: float
    highest: float


# Means follow common practice (no published source): about 2 in back, 4 to 6 in forward for the
# best and less for weak players, about 1 in of thrust, tempo near 3 to 1.
TRAITS: dict[str, Trait] = {
    "backswing_s": Trait(0.79, 0.0015, 0.065, 0.019, 0.026, 0.55, 1.20),
    "downswing_s": Trait(0.262, 0.0010, 0.019, 0.0065, 0.0091, 0.20, 0.42),
    "follow_through_s": Trait(0.75, 0.0, 0.06, 0.026, 0.039, 0.55, 1.00),
    "sway_away_cm": Trait(5.2, -0.01, 0.85, 0.52, 0.84, 0.8, 14.0),
    "sway_forward_cm": Trait(13.0, -0.15, 1.23, 0.78, 1.2, 3.0, 22.0),
    "sway_settle_cm": Trait(1.6, 0.0, 0.45, 0.33, 0.46, 0.1, 6.0),
    "sway_lead_s": Trait(0.095, -0.0016, 0.014, 0.0091, 0.013, -0.02, 0.20),
    "sway_carry_s": Trait(0.12, 0.001, 0.016, 0.01, 0.016, 0.05, 0.25),
    "thrust_back_cm": Trait(2.3, 0.03, 0.65, 0.39, 0.65, 0.1, 8.0),
    "thrust_sit_cm": Trait(2.4, -0.02, 0.45, 0.29, 0.46, 0.2, 6.0),
    "thrust_late_cm": Trait(3.4, 0.06, 1.3, 0.58, 0.97, 0.4, 12.0),
    "thrust_follow_cm": Trait(-1.2, -0.02, 1.0, 0.52, 0.78, -8.0, 8.0),
    "lift_drop_cm": Trait(2.6, -0.02, 0.59, 0.36, 0.58, 0.2, 8.0),
    "lift_dip_cm": Trait(1.8, -0.01, 0.36, 0.23, 0.36, 0.4, 6.0),
    "lift_rise_cm": Trait(6.8, -0.05, 0.98, 0.58, 0.97, 2.0, 14.0),
    "lift_settle_cm": Trait(1.9, 0.0, 0.5, 0.26, 0.39, 0.1, 6.0),
    "lift_lag_s": Trait(0.030, 0.0004, 0.008, 0.0052, 0.0078, -0.02, 0.09),
    "turn_top_deg": Trait(-46.0, 0.15, 5.0, 1.9, 2.6, -65.0, -20.0),
    "turn_impact_deg": Trait(42.0, -0.40, 5.0, 1.9, 2.6, 10.0, 60.0),
    "turn_finish_deg": Trait(95.0, -0.2, 6.0, 2.6, 3.9, 60.0, 120.0),
    "list_top_deg": Trait(-7.0, 0.0, 2.0, 0.65, 1.0, -15.0, 0.0),
    "list_impact_deg": Trait(10.0, -0.1, 2.5, 0.78, 1.3, 0.0, 20.0),
    "tilt_change_deg": Trait(-9.0, -0.1, 3.0, 1.0, 1.3, -25.0, 5.0),
    "hands_lead_s": Trait(0.008, 0.0, 0.004, 0.0, 0.002, 0.0, 0.020),
    "start_s": Trait(0.62, 0.0, 0.03, 0.0, 0.03, 0.53, 0.80),
    "still_s": Trait(0.38, 0.0, 0.02, 0.0, 0.02, 0.32, 0.50),
}

PATTERN_SHIFTS: dict[str, dict[str, float]] = {
    # goes back early and far, forward as far, and on toward the ball after impact
    "shifting": {
        "sway_away_cm": 2.6,
        "sway_forward_cm": 4.8,
        "sway_lead_s": 0.03,
        "thrust_follow_cm": 1.4,
    },
    # stays centred, lifts early and far, and backs away from the ball after impact
    "rising": {
        "sway_away_cm": -2.0,
        "sway_forward_cm": -1.9,
        "thrust_back_cm": 0.8,
        "thrust_sit_cm": -1.0,
        "thrust_follow_cm": -1.2,
        "lift_rise_cm": 3.2,
        "lift_lag_s": -0.03,
    },
    # drops in the backswing, sits back from the ball on the way down, and stays low
    "sitting": {
        "sway_away_cm": -0.6,
        "sway_forward_cm": -2.6,
        "thrust_back_cm": -1.2,
        "thrust_sit_cm": 2.4,
        "lift_drop_cm": 2.0,
        "lift_rise_cm": -2.0,
    },
}
"""Families that differ in shape; their mean over the golfers is near that of `TRAITS`."""
IRON_SHARE = 0.25
"""How much of a family's way an iron shows: so little that the families run into one cloud."""
IRON_SHIFTS: dict[str, float] = {
    "backswing_s": -0.03,
    "sway_away_cm": -0.8,
    "sway_forward_cm": -1.2,
    "thrust_late_cm": -0.3,
}

_NAMES = tuple(TRAITS)
_TABLE = np.array([TRAITS[name] for name in _NAMES])


def _row(shifts: Mapping[str, float]) -> np.ndarray:
    return np.array([shifts.get(name, 0.0) for name in _NAMES])


class Habit:
    """One golfer's way of swinging: their deviation from level and pattern, drawn once.

    Parameters
    ----------
    rng : numpy.random.Generator
    pattern : str
    """

    def __init__(self, rng: np.random.Generator, pattern: str) -> None:
        self._pattern = _row(PATTERN_SHIFTS[pattern])
        self._own = _TABLE[:, 2] * rng.standard_normal(len(_NAMES))

    def day(self, rng: np.random.Generator) -> np.ndarray:
        """Deviation of one day, one value for each trait."""
        return np.asarray(_TABLE[:, 3] * rng.standard_normal(len(_NAMES)))

    def swing(
        self, rng: np.random.Generator, day: np.ndarray, ability: float, *, iron: bool
    ) -> SwingParameters:
        """Draw one swing of a day; ability in handicap strokes."""
        value = _TABLE[:, 0] + _TABLE[:, 1] * ability + self._own + day
        value = value + self._pattern * (IRON_SHARE if iron else 1.0)
        value = value + _row(IRON_SHIFTS if iron else {})
        value = value + _TABLE[:, 4] * rng.standard_normal(len(_NAMES))
        value = np.clip(value, _TABLE[:, 5], _TABLE[:, 6])
        return SwingParameters(**dict(zip(_NAMES, value.tolist(), strict=True)))


def invent_body(rng: np.random.Generator, height_cm: float, *, iron: bool) -> Body:
    """Draw a golfer's build for a club; the same generator state gives the same pelvis."""
    scale = height_cm / 172.0
    width, depth, rear, tilt = rng.normal((240.0, 150.0, 92.0, 18.0), (12.0, 9.0, 6.0, 4.0))
    return Body(
        pelvis_width_mm=width * scale,
        pelvis_depth_mm=depth * scale,
        psis_width_mm=rear * scale,
        pelvis_tilt_deg=tilt,
        hip_height_cm=0.50 * height_cm,
        stance_cm=(34.0 if iron else 46.0) * scale,
        arm_cm=66.0 * scale,
        reach_cm=66.0 * scale + (94.0 if iron else 110.0),
        plane_deg=58.0 if iron else 49.0,
    )
