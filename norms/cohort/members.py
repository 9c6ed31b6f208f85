"""Who belongs to a cohort, and the one mean that each of them brings.

The golfer, never the swing, is the independent unit: a golfer counts once however many swings
there are, with the plain mean of the golfer's swings in the cell, swings of different days
alike. A golfer whose handicap moved to another level between two days is a member of both
levels, in each with the swings made at that level.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.roll import Attrition, Roll, cohort_rules
from norms.records import Cohort, CohortDefinition, SwingPool
from norms.vocabulary import NODES

MEMBER_RULE: Final = (
    "one golfer, one vote: the plain mean of the golfer's swings in the cell, all days alike"
)

_GOLFERS_AT_A_TIME: Final = 32


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

    Raises
    ------
    CohortRefused
        As `cohort_rules`.
    """
    chosen, attrition = np.full(roll.rows.shape, True), dict(roll.attrition)
    for rule, excluded in cohort_rules(roll, definition).items():
        attrition[rule] = int(np.count_nonzero(chosen & excluded))
        chosen &= ~excluded
    rows, codes = roll.rows[chosen], roll.golfers[chosen]
    # Swings of one golfer stand together in the roll: each run of equal codes is one golfer.
    first = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]][: codes.size])
    counts = np.diff(np.r_[first, codes.size])
    means, swings, squares = _features(roll.pool, rows, first)
    cohort = Cohort(
        definition=definition,
        golfers=tuple(str(code) for code in codes[first]),
        swing_counts=counts,
        curves_cm=_mean_curves(roll.pool, rows, first),
        feature_names=roll.pool.feature_names,
        features=means,
        feature_swings=swings,
        feature_squares=squares,
    )
    return cohort, attrition


def _mean_curves(
    pool: SwingPool, rows: NDArray[np.intp], first: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Mean curve of each run of rows, shape (n, 3, 301); a block of golfers at a time.

    Gathered rows of a block stay in the processor's cache, and no second copy of all is made.
    """
    means = np.empty((first.size, 3, NODES))
    ends = np.r_[first[1:], rows.size]
    for start in range(0, first.size, _GOLFERS_AT_A_TIME):
        block = slice(start, start + _GOLFERS_AT_A_TIME)
        begin, end = first[block][0], ends[block][-1]
        sums = np.add.reduceat(pool.curves_cm[rows[begin:end]], first[block] - begin, axis=0)
        means[block] = sums / (ends[block] - first[block])[:, np.newaxis, np.newaxis]
    return means


def _features(
    pool: SwingPool, rows: NDArray[np.intp], first: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Of each run of rows: means of the values present, NaN where none is; counts; squares."""
    shape = first.size, len(pool.feature_names)
    means, counts, squares = np.full(shape, np.nan), np.zeros(shape), np.zeros(shape)
    if first.size:
        values = pool.features[rows]
        present = ~np.isnan(values)
        counts = np.add.reduceat(present.astype(np.float64), first, axis=0)
        sums = np.add.reduceat(np.where(present, values, 0.0), first, axis=0)
        np.divide(sums, counts, out=means, where=counts > 0)
        of_golfer = np.repeat(means, np.diff(np.r_[first, rows.size]), axis=0)
        about = np.where(present, values - of_golfer, 0.0)
        squares = np.add.reduceat(about**2, first, axis=0)
    return means, counts, squares
