"""The ball speed of one swing."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BallSpeed:
    """Ball speed, and club speed where it was measured, in m/s; ``swing`` is the swing's code."""

    swing: str
    ball_speed_mps: float
    club_speed_mps: float | None = None
