"""The swings behind a cohort as arrays: whose, on which day, and a few of each golfer."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from norms.cohort.roll import Roll, cohort_rules
from norms.records import CohortDefinition

FloatArray = NDArray[np.float64]


class CohortSwings(NamedTuple):
    """Swings of a cohort, golfer by golfer in order of code.

    Attributes
    ----------
    golfer : ndarray of int, shape (s,)
        Place of the golfer among the cohort's.
    session : ndarray of int, shape (s,)
        A golfer's day in a lab, numbered over the cohort.
    levels : ndarray of str, shape (s,)
        The golfer's level on the day.
    curves_cm : ndarray, shape (s, 3, 301)
    """

    golfer: NDArray[np.int64]
    session: NDArray[np.int64]
    levels: NDArray[np.str_]
    curves_cm: FloatArray

    def first_few(self, most: int, rng: np.random.Generator) -> FloatArray:
        """Mean curve of up to ``most`` swings of each golfer, shape (n, 3, 301).

        Taken, in random order, from the golfer's session of most swings, and from the others
        only where it holds too few, as a newcomer's swings usually come from one session.
        """
        sizes = np.bincount(self.session)[self.session]
        order = np.lexsort((rng.random(len(self.golfer)), self.session, -sizes, self.golfer))
        golfers = self.golfer[order]
        starts = np.flatnonzero(np.r_[True, golfers[1:] != golfers[:-1]])
        rank = np.arange(len(golfers)) - np.repeat(starts, np.diff(np.r_[starts, len(golfers)]))
        chosen = order[rank < most]
        counts = np.bincount(self.golfer[chosen])
        sums = np.zeros((len(counts), *self.curves_cm.shape[1:]))
        np.add.at(sums, self.golfer[chosen], self.curves_cm[chosen])
        means: FloatArray = sums / counts[:, None, None]
        return means


def cohort_swings(roll: Roll, definition: CohortDefinition) -> CohortSwings:
    """Swings of a roll that belong to a definition.

    Parameters
    ----------
    roll : Roll
    definition : CohortDefinition

    Returns
    -------
    CohortSwings
    """
    chosen = np.full(roll.rows.shape, True)
    for excluded in cohort_rules(roll, definition).values():
        chosen &= ~excluded
    golfers = roll.golfers[chosen]
    days = np.char.add(np.char.add(golfers, roll.days[chosen].astype(str)), roll.labs[chosen])
    return CohortSwings(
        golfer=np.unique(golfers, return_inverse=True)[1].astype(np.int64),
        session=np.unique(days, return_inverse=True)[1].astype(np.int64),
        levels=roll.levels[chosen],
        curves_cm=roll.pool.curves_cm[roll.rows[chosen]],
    )
