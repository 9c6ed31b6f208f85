"""Look-alikes: earlier golfers whose swings are nearest, and what changed for them since."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """What a store knows of golfers over time, arranged once for many placements.

    Attributes
    ----------
    pool : SwingPool
    sessions : Mapping of str to Mapping
        Rows of the pool by club, golfer and day.
    speeds : Mapping of str to Mapping
        Mean ball speed by club and golfer, m/s.
    levels : Mapping of str to str
        Label of the level by golfer. Who has none may not be held against others, and is no
        look-alike.
    shown : frozenset of str
        Golfers who agreed to be named, by code, on another golfer's page.
    """

    pool: SwingPool
    sessions: Mapping[str, Mapping[str, Mapping[date, list[int]]]]
    speeds: Mapping[str, Mapping[str, float]]
    levels: Mapping[str, str]
    shown: frozenset[str] = frozenset()


def history_of(
    pool: SwingPool,
    ball_speeds: Mapping[str, BallSpeed],
    levels: Mapping[str, str],
    *,
    shown: Collection[str] = (),
) -> History:
    """Arrange stored swings, ball speeds by swing and levels by golfer."""
    sessions: dict[str, dict[str, dict[date, list[int]]]] = {}
    speeds: dict[str, dict[str, list[float]]] = {}
    for row, (golfer, club, day) in enumerate(
        zip(pool.golfers, pool.clubs, pool.recorded_on, strict=True)
    ):
        of_golfer = sessions.setdefault(club, {}).setdefault(golfer, {})
        of_golfer.setdefault(day, []).append(row)
        if pool.swings[row] in ball_speeds:
            measured = ball_speeds[pool.swings[row]].ball_speed_mps
            speeds.setdefault(club, {}).setdefault(golfer, []).append(measured)
    means = {
        club: {golfer: float(np.mean(found)) for golfer, found in of_club.items()}
        for club, of_club in speeds.items()
    }
    return History(
        pool=pool,
        sessions=sessions,
        speeds=means,
        levels=dict(levels),
        shown=frozenset(shown),
    )


def find_look_alikes(
    mean: GolferMean,
    club: Cohort,
    components: Components,
    history: History,
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
    history : History
        Who swung before the day of these swings is an earlier golfer; what they did later tells
        of change.
    smallest_cell : int
        Fewest golfers shown together.

    Returns
    -------
    LookAlikes
        Withheld where fewer earlier golfers are in the cell than may be shown.
    """
    wanted = max(GROUP_SHOWN, smallest_cell)
    day = mean.swing.label.recorded_on
    sessions = history.sessions.get(mean.swing.label.club, {})
    earlier = np.array(
        [
            code != mean.swing.label.golfer
            and code in history.levels
            and code in sessions
            and min(sessions[code]) < day
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
    speeds = history.speeds.get(mean.swing.label.club, {})
    return LookAlikes(
        group=tuple(
            LookAlike(
                golfer=club.golfers[place] if club.golfers[place] in history.shown else None,
                level=history.levels.get(club.golfers[place]),
                ball_speed_mps=speeds.get(club.golfers[place]),
                distance=float(distances[place]),
                next_change_cm=_next_change(history.pool, sessions[club.golfers[place]], centre),
            )
            for place in np.argsort(distances, kind="stable")[:wanted].tolist()
        )
    )


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
