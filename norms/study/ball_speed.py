"""Which measured ball speeds can be true: impact physics under the equipment rules, and range."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

DOUBTFUL_RATIO: Final = 1.50
"""Ball over club speed; head-on it takes a head of 209 g and the greatest restitution, 0.822 with
its tolerance of 0.008, of a ball of the greatest mass, 1.620 oz (Equipment Rules)."""
IMPOSSIBLE_RATIO: Final = 1.55
"""Beyond any legal club; a rounding of both speeds does not reach it."""
BALL_RANGE_MPS: Final = (5.0, 115.0)
"""From a chip to beyond the fastest drives measured (about 108 m/s; from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpeedJudgement:
    """What may be believed of measured speeds.

    Attributes
    ----------
    impossible : ndarray of bool, shape (s,)
        To be treated as missing.
    doubtful : ndarray of bool, shape (s,)
        Kept, and counted for the reader.
    """

    impossible: NDArray[np.bool_]
    doubtful: NDArray[np.bool_]


def judge_speeds(ball_mps: ArrayLike, club_mps: ArrayLike) -> SpeedJudgement:
    """Judge ball speeds by their range and, where the club was measured, by their ratio.

    Parameters
    ----------
    ball_mps, club_mps : array_like, shape (s,)
        NaN where missing; what is missing is neither impossible nor doubtful.
    """
    ball = np.asarray(ball_mps, dtype=np.float64)
    club = np.asarray(club_mps, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = ball / club
        outside = (ball < BALL_RANGE_MPS[0]) | (ball > BALL_RANGE_MPS[1]) | np.isinf(ball)
        impossible = outside | (ratio > IMPOSSIBLE_RATIO)
        return SpeedJudgement(
            impossible=impossible, doubtful=(ratio > DOUBTFUL_RATIO) & ~impossible
        )
