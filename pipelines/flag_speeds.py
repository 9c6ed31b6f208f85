"""Says which ball speeds of a store cannot be true, or are doubtful, and why."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from norms.records import BallSpeed
from norms.study.ball_speed import (
    BALL_RANGE_MPS,
    DOUBTFUL_RATIO,
    IMPOSSIBLE_RATIO,
    judge_speeds,
)
from pipelines.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class FlaggedSpeed:
    """A ball speed that is not believed, or only with doubt.

    Attributes
    ----------
    swing : str
    verdict : {"impossible", "doubtful"}
        An impossible speed is treated as missing by every study; a doubtful one is used.
    because : str
    """

    swing: str
    verdict: Literal["impossible", "doubtful"]
    because: str


def flagged_speeds(store: Store) -> tuple[FlaggedSpeed, ...]:
    """Every impossible or doubtful ball speed of a store, in order of swing."""
    speeds = list(store.ball_speeds().values())
    ball = [one.ball_speed_mps for one in speeds]
    club = [np.nan if one.club_speed_mps is None else one.club_speed_mps for one in speeds]
    judged = judge_speeds(ball, club)
    flagged = []
    for place, one in enumerate(speeds):
        if judged.impossible[place]:
            flagged.append(
                FlaggedSpeed(swing=one.swing, verdict="impossible", because=_because(one))
            )
        elif judged.doubtful[place]:
            flagged.append(FlaggedSpeed(swing=one.swing, verdict="doubtful", because=_because(one)))
    return tuple(sorted(flagged, key=lambda one: one.swing))


def _because(speed: BallSpeed) -> str:
    low, high = BALL_RANGE_MPS
    if not low <= speed.ball_speed_mps <= high:
        return f"{speed.ball_speed_mps:.1f} m/s is outside {low:g} to {high:g} m/s"
    ratio = speed.ball_speed_mps / (speed.club_speed_mps or np.nan)
    words = f"the ball is {ratio:.2f} times as fast as the club"
    if ratio > IMPOSSIBLE_RATIO:
        return f"{words}; no club within the equipment rules gives more than {IMPOSSIBLE_RATIO:g}"
    return f"{words}; more than {DOUBTFUL_RATIO:g} takes an unusually heavy head, met squarely"
