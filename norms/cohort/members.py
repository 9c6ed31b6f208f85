"""Who belongs to a cohort, and the one mean that each of them brings.

The golfer, never the swing, is the independent unit: a golfer counts once however many swings
there are, with the plain mean of the golfer's swings in the cell, swings of different days
alike. A golfer whose handicap moved to another level between two days is a member of both
levels, in each with the swings made at that level.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.levels import check_levels, level_of
from norms.errors import CohortRefused
from norms.records import Cohort, CohortDefinition, Golfer, Level, SwingPool
from norms.vocabulary import NODES

MEMBER_RULE: Final = (
    "one golfer, one vote: the plain mean of the golfer's swings in the cell, all days alike"
)

NOT_ON_ROSTER: Final = "golfer is not on the roster"
NO_CONSENT: Final = "golfer did not agree that swings enter norms"
OTHER_CLUB: Final = "another club"
OTHER_LEVEL: Final = "another level on the day of the swing"

Attrition = dict[str, int]
"""Swings lost by rule, in the order the rules apply; each swing at the first that excludes it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Roll:
    """The swings of a pool that may enter norms, ready to be divided into cohorts.

    Attributes
    ----------
    pool : SwingPool
    rows : ndarray of int, shape (s,)
        Admitted rows of the pool by golfer, day and swing code, so that no result depends on the
        order in which the pool was read.
    golfers, clubs, levels : ndarray of str, shape (s,)
        Golfer code, club and level key of each admitted swing, in the order of ``rows``.
    attrition : dict of str to int
        Swings of the pool that were not admitted, by rule.
    """

    pool: SwingPool
    rows: NDArray[np.intp]
    golfers: NDArray[np.str_]
    clubs: NDArray[np.str_]
    levels: NDArray[np.str_]
    attrition: Attrition


def call_roll(pool: SwingPool, golfers: Mapping[str, Golfer], levels: Sequence[Level]) -> Roll:
    """Admit the swings of a pool and give each its golfer's level as of its day.

    Parameters
    ----------
    pool : SwingPool
    golfers : Mapping of str to Golfer
        The roster by code.
    levels : sequence of Level

    Returns
    -------
    Roll

    Raises
    ------
    CohortRefused
        If the table of levels leaves a gap or overlaps, a handicap is impossible, a swing's code
        stands twice in the pool, or a curve holds a value that is not a number.
    """
    check_levels(levels)
    _check_pool(pool)
    codes, days = np.array(pool.golfers, dtype=str), np.array(pool.recorded_on, "datetime64[D]")
    order = np.lexsort((np.array(pool.swings, dtype=str), days, codes))
    known = np.array([code in golfers for code in pool.golfers], dtype=bool)
    willing = {code for code, golfer in golfers.items() if golfer.consents_norms}
    agreed = np.array([code in willing for code in pool.golfers], dtype=bool)
    rows = order[agreed[order]]
    level_keys: dict[tuple[str, date], str] = {}
    for row in rows:
        who = (pool.golfers[row], pool.recorded_on[row])
        if who not in level_keys:
            level_keys[who] = level_of(golfers[who[0]], who[1], levels).key
    return Roll(
        pool=pool,
        rows=rows,
        golfers=codes[rows],
        clubs=np.array(pool.clubs, dtype=str)[rows],
        levels=np.array([level_keys[pool.golfers[r], pool.recorded_on[r]] for r in rows], str),
        attrition={
            NOT_ON_ROSTER: int(np.count_nonzero(~known)),
            NO_CONSENT: int(np.count_nonzero(known & ~agreed)),
        },
    )


def members(roll: Roll, definition: CohortDefinition) -> tuple[Cohort, Attrition]:
    """Golfers of a roll who belong to a definition, each with the mean of their swings in it.

    Parameters
    ----------
    roll : Roll
    definition : CohortDefinition

    Returns
    -------
    cohort : Cohort
        Possibly of no golfers.
    attrition : dict of str to int
        Swings of the pool that are not in the cohort, by rule.
    """
    club = roll.clubs == definition.club
    level = np.full(club.shape, True)
    if definition.level is not None:
        level = roll.levels == definition.level.key
    chosen = club & level
    rows, codes = roll.rows[chosen], roll.golfers[chosen]
    # Swings of one golfer stand together in the roll: each run of equal codes is one golfer.
    first = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]][: codes.size])
    counts = np.diff(np.r_[first, codes.size])
    cohort = Cohort(
        definition=definition,
        golfers=tuple(str(code) for code in codes[first]),
        swing_counts=counts,
        curves_cm=_mean_curves(roll.pool, rows, first),
        feature_names=roll.pool.feature_names,
        features=_mean_features(roll.pool, rows, first),
    )
    attrition = {
        **roll.attrition,
        OTHER_CLUB: int(np.count_nonzero(~club)),
        OTHER_LEVEL: int(np.count_nonzero(club & ~level)),
    }
    return cohort, attrition


def gather(
    pool: SwingPool,
    golfers: Mapping[str, Golfer],
    definition: CohortDefinition,
    levels: Sequence[Level],
) -> tuple[Cohort, Attrition]:
    """One cohort straight from a pool; for several, `call_roll` once and `members` for each.

    Parameters
    ----------
    pool : SwingPool
    golfers : Mapping of str to Golfer
        The roster by code.
    definition : CohortDefinition
    levels : sequence of Level

    Returns
    -------
    cohort : Cohort
    attrition : dict of str to int
        Swings of the pool that are not in the cohort, by rule.

    Raises
    ------
    CohortRefused
        As `call_roll`.
    """
    return members(call_roll(pool, golfers, levels), definition)


def _mean_curves(
    pool: SwingPool, rows: NDArray[np.intp], first: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Mean curve of each run of rows, shape (n, 3, 301); axis by axis to bound the memory."""
    means = np.empty((first.size, 3, NODES))
    if first.size:
        counts = np.diff(np.r_[first, rows.size])[:, np.newaxis]
        for axis in range(3):
            means[:, axis] = np.add.reduceat(pool.curves_cm[rows, axis], first, axis=0) / counts
    return means


def _mean_features(
    pool: SwingPool, rows: NDArray[np.intp], first: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Mean of the values present in each run of rows, shape (n, d); NaN where there is none."""
    means = np.full((first.size, len(pool.feature_names)), np.nan)
    if first.size:
        values = pool.features[rows]
        present = ~np.isnan(values)
        counts = np.add.reduceat(present.astype(np.int64), first, axis=0)
        sums = np.add.reduceat(np.where(present, values, 0.0), first, axis=0)
        np.divide(sums, counts, out=means, where=counts > 0)
    return means


def _check_pool(pool: SwingPool) -> None:
    twice = [code for code, count in Counter(pool.swings).items() if count > 1]
    if twice:
        raise CohortRefused(
            f"swing {twice[0]} stands twice among the swings; keep one of them", code="swing_twice"
        )
    broken = np.flatnonzero(~np.isfinite(pool.curves_cm).all(axis=(1, 2)))
    if broken.size:
        raise CohortRefused(
            f"swing {pool.swings[broken[0]]}: its curves hold a value that is not a number; "
            "collect its capture again",
            code="curve_not_finite",
        )
