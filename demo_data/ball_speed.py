"""How ball speed comes about at the invented academy: a linear model whose truth is known.

Some features act within a golfer (a swing with more of it than the golfer's own mean sends the
ball off faster), others only tell golfers apart. One does both, in opposite directions, so that a
regression that pools swings without regard to golfers finds the wrong sign.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class BallSpeedModel:
    """Coefficients of ball speed, m/s.

    Attributes
    ----------
    base : float
        A man of 172 cm and 17 to 45 years at handicap 0, driver, features at their centres.
    female, iron : float
        Added for women, for iron 7.
    per_stroke, per_cm_height : float
        Per handicap stroke of ability, per cm of height above 172.
    per_year_over_45, per_year_under_17 : float
    centre, within, between : Mapping of str to float
        By feature: the centre, m/s per unit of (swing − the golfer's mean with this club), and
        m/s per unit of (that mean − centre).
    golfer_sd, swing_sd : float
        Standard deviations of what the model leaves to the golfer and to the swing.
    """

    base: float
    female: float
    iron: float
    per_stroke: float
    per_cm_height: float
    per_year_over_45: float
    per_year_under_17: float
    centre: Mapping[str, float]
    within: Mapping[str, float]
    between: Mapping[str, float]
    golfer_sd: float
    swing_sd: float

    def of_golfer(
        self, *, female: bool, iron: bool, ability: float, height_cm: float, age: float
    ) -> float:
        """Share of ball speed that the golfer and the club explain, m/s."""
        return (
            self.base
            + self.female * female
            + self.iron * iron
            + self.per_stroke * ability
            + self.per_cm_height * (height_cm - 172.0)
            + self.per_year_over_45 * max(0.0, age - 45.0)
            + self.per_year_under_17 * max(0.0, 17.0 - age)
        )

    def of_features(self, swing: Mapping[str, float], mean: Mapping[str, float]) -> float:
        """Share that features explain, m/s, from the swing's and the golfer's mean values."""
        return sum(
            self.within[name] * (swing[name] - mean[name])
            + self.between[name] * (mean[name] - self.centre[name])
            for name in self.centre
        )


BALL_SPEED = BallSpeedModel(
    base=70.0,
    female=-7.5,
    iron=-19.0,
    per_stroke=-0.28,
    per_cm_height=0.10,
    per_year_over_45=-0.18,
    per_year_under_17=-1.1,
    centre={"sway_travel": 10.0, "lift_rise": 5.0, "thrust_late_rise": 3.0, "tempo": 3.0},
    within={"sway_travel": 0.45, "lift_rise": 0.0, "thrust_late_rise": 0.60, "tempo": 0.0},
    between={"sway_travel": 0.0, "lift_rise": 0.50, "thrust_late_rise": -0.90, "tempo": 0.0},
    golfer_sd=2.0,
    swing_sd=0.7,
)
"""The academy's truth. Tempo is in it with nothing, as a trap for the eager."""


def club_speed_mps(
    rng: np.random.Generator, ball_mps: float, ability: float, *, iron: bool
) -> float:
    """Speed of the club head behind a ball speed; common practice: the ball leaves 1.3–1.5 × it."""
    ratio = (1.33 if iron else 1.46) - 0.0015 * ability + rng.normal(0.0, 0.012)
    return float(ball_mps / ratio)
