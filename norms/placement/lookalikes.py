"""Look-alikes: earlier golfers whose swings are nearest, and what changed for them since."""

from collections.abc import Mapping
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.profile_parts import parts_of
from norms.placement.golfer_mean import GolferMean
from norms.records import BallSpeed, Cohort, SwingPool
from norms.records.centiles import SMALLEST_GROUP
from norms.records.components import Components
from norms.records.golfer_place import LookAlike, LookAlikes

FloatArray = NDArray[np.float64]

GROUP_SHOWN: Final = 5
"""Golfers shown as one group; never fewer than the smallest group of which anything is shown."""


def find_look_alikes(
    mean: GolferMean,
    club: Cohort,
    components: Components,
    pool: SwingPool,
    ball_speeds: Mapping[str, BallSpeed],
    levels: Mapping[str, str],
    *,
    smallest_cell: int = SMALLEST_GROUP,
) -> LookAlikes:
    """The nearest earlier golfers of a club by the scores of their mean curves.

    Parameters
    ----------
    mean : GolferMean
    club : Cohort
        The club's cell of all levels.
    components : Components
    pool : SwingPool
        Stored swings: what a golfer did before the day of these swings makes them an earlier
        golfer, and what they did later tells of change.
    ball_speeds : Mapping of str to BallSpeed
        By swing code.
    levels : Mapping of str to str
        Label of the level by golfer.
    smallest_cell : int
        Fewest golfers shown together.

    Returns
    -------
    LookAlikes
        Withheld where fewer earlier golfers are in the cell than may be shown.
    """
    wanted = max(GROUP_SHOWN, smallest_cell)
    day = mean.swing.label.recorded_on
    sessions = _sessions(pool, mean.swing.label.club)
    earlier = np.array(
        [
            code != mean.swing.label.golfer and code in sessions and min(sessions[code]) < day
            for code in club.golfers
        ],
        dtype=bool,
    )
    if earlier.sum() < wanted:
        return LookAlikes(
            withheld=f"{earlier.sum()} earlier golfers; look-alikes are shown in groups of "
            f"{wanted} or more"
        )
    own = components.scores(mean.swing.curve.values_cm)
    distances = np.linalg.norm(components.scores(club.curves_cm) - own, axis=1)
    distances[~earlier] = np.inf
    centre = club.curves_cm.mean(axis=0)
    speeds = _mean_speeds(pool, mean.swing.label.club, ball_speeds)
    return LookAlikes(
        group=tuple(
            LookAlike(
                golfer=club.golfers[place],
                level=levels.get(club.golfers[place]),
                ball_speed_mps=speeds.get(club.golfers[place]),
                distance=float(distances[place]),
                next_change_cm=_next_change(pool, sessions[club.golfers[place]], centre),
            )
            for place in np.argsort(distances, kind="stable")[:wanted].tolist()
        )
    )


def _sessions(pool: SwingPool, club: str) -> dict[str, dict[date, list[int]]]:
    """Rows of the pool by golfer and day, for one club."""
    sessions: dict[str, dict[date, list[int]]] = {}
    for row, (golfer, of_club, day) in enumerate(
        zip(pool.golfers, pool.clubs, pool.recorded_on, strict=True)
    ):
        if of_club == club:
            sessions.setdefault(golfer, {}).setdefault(day, []).append(row)
    return sessions


def _next_change(
    pool: SwingPool, sessions: Mapping[date, list[int]], centre: FloatArray
) -> float | None:
    """Change of the overall deviation from the first session to the last one."""
    if len(sessions) < 2:
        return None
    first, last = (
        float(parts_of(pool.curves_cm[sessions[day]].mean(axis=0) - centre).overall)
        for day in (min(sessions), max(sessions))
    )
    return last - first


def _mean_speeds(
    pool: SwingPool, club: str, ball_speeds: Mapping[str, BallSpeed]
) -> dict[str, float]:
    found: dict[str, list[float]] = {}
    for swing, golfer, of_club in zip(pool.swings, pool.golfers, pool.clubs, strict=True):
        if of_club == club and swing in ball_speeds:
            found.setdefault(golfer, []).append(ball_speeds[swing].ball_speed_mps)
    return {golfer: float(np.mean(speeds)) for golfer, speeds in found.items()}
