"""Clubs of golfers whose curves are drawn from a few known shapes: patterns with a known truth."""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from norms.vocabulary import NODES

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SHAPES: Final = 5
LEVELS: Final = ("to_12", "to_20")
SHAPED_FEATURES: Final = ("sway_travel", "lift_impact", "thrust_impact", "tempo")


class ShapedClub(NamedTuple):
    """Golfers and their swings.

    Attributes
    ----------
    pattern : ndarray of int, shape (n,)
    scores : ndarray, shape (n, 5)
        Each golfer's own, without the noise of days and swings.
    golfer, session : ndarray of int, shape (s,)
    levels : ndarray of str, shape (s,)
    curves_cm : ndarray, shape (s, 3, 301)
    features : ndarray, shape (s, 4)
        The first four scores of each swing.
    """

    pattern: IntArray
    scores: FloatArray
    golfer: IntArray
    session: IntArray
    levels: NDArray[np.str_]
    curves_cm: FloatArray
    features: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapedPlan:
    """How golfers, days and swings vary, in scores of which golfers of a pattern have spread 1.

    Attributes
    ----------
    golfers, sessions, swings : int
        Swings are of one session.
    day_sd, swing_sd : float
    level_shift : float
        By which the scores of the second level lie higher.
    """

    golfers: int = 120
    sessions: int = 2
    swings: int = 3
    day_sd: float = 0.25
    swing_sd: float = 0.4
    level_shift: float = 0.5


def known_shapes() -> FloatArray:
    """Smooth curves on three axes, zero at the start, about 1 cm in size, shape (5, 3, 301)."""
    t = np.linspace(0.0, 1.0, NODES)
    waves = np.stack([np.sin(np.pi * (k + 0.5) * t) for k in range(4)])
    mix = np.random.default_rng(11).normal(size=(SHAPES, 3, 4)) / np.sqrt([1.0, 2.0, 4.0, 8.0])
    return np.asarray(mix @ waves)


def centres_apart(distance: float) -> FloatArray:
    """Four centres, each at one distance from all others, shape (4, 5)."""
    corners = np.zeros((4, SHAPES))
    corners[np.arange(4), np.arange(4)] = distance / np.sqrt(2.0)
    return corners


def shape_club(
    rng: np.random.Generator, plan: ShapedPlan, centres: FloatArray | None = None
) -> ShapedClub:
    """Draw a club.

    Parameters
    ----------
    rng : numpy.random.Generator
    plan : ShapedPlan
    centres : ndarray, shape (k, 5), optional
        Of the patterns, each as likely; one cloud by default.
    """
    middle = np.zeros((1, SHAPES)) if centres is None else centres
    pattern = rng.integers(len(middle), size=plan.golfers)
    level = rng.integers(len(LEVELS), size=plan.golfers)
    noise = rng.normal(size=(plan.golfers, SHAPES))
    own = middle[pattern] + noise + plan.level_shift * level[:, None]
    golfer = np.repeat(np.arange(plan.golfers), plan.sessions * plan.swings)
    session = np.repeat(np.arange(plan.golfers * plan.sessions), plan.swings)
    days = plan.day_sd * rng.normal(size=(plan.golfers * plan.sessions, SHAPES))
    scores = own[golfer] + days[session] + plan.swing_sd * rng.normal(size=(len(golfer), SHAPES))
    return ShapedClub(
        pattern=pattern,
        scores=own,
        golfer=golfer,
        session=session,
        levels=np.array(LEVELS)[level[golfer]],
        curves_cm=curves_of_scores(scores),
        features=scores[:, : len(SHAPED_FEATURES)],
    )


def curves_of_scores(scores: FloatArray) -> FloatArray:
    """Curves that scores stand for, shape (..., 5) to (..., 3, 301)."""
    curves: FloatArray = np.tensordot(scores, known_shapes(), axes=1)
    return curves
