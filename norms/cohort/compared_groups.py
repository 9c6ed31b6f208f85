"""Two groups of golfers made comparable, and their features on the scale of a test."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.errors import CohortRefused
from norms.records import Cohort
from norms.statistics.group_differences import (
    Differences,
    differences_between,
    differences_within,
)

FloatArray = NDArray[np.float64]

FEWEST_GOLFERS: Final = 5
"""Fewest golfers a group may have: below, the academy's privacy minimum is broken."""
FEWEST_REPEATS: Final = 10
"""Swings beyond each golfer's first from which a group's own swing noise is told."""
LEAST_OWN_SPREAD: Final = 0.05
"""Share of the spread of means that golfers are taken to hold at least, the rest being noise."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Repeats:
    """What a group's repeated swings tell of the noise of its golfers' means.

    Attributes
    ----------
    swings : ndarray, shape (n, d)
        Swings of each golfer that give the feature.
    squares : ndarray, shape (n, d)
        Their sum of squares about the golfer's mean.
    """

    swings: FloatArray
    squares: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparedGroups:
    """Two groups in which no golfer counts twice, or the same golfers in the same order.

    ``repeats`` is None where swings are not known one by one: spreads are then compared as they
    are, noise included.
    """

    curves: tuple[FloatArray, FloatArray]
    features: tuple[FloatArray, FloatArray]
    paired: bool
    left_out: int
    repeats: tuple[Repeats, Repeats] | None = None


def comparable(question: str, first: Cohort, second: Cohort) -> ComparedGroups:
    """Two cohorts as groups to compare; see `norms.cohort.partition.answer_partition`.

    Raises
    ------
    CohortRefused
        With fewer than 5 golfers to compare in a group.
    """
    shared = set(first.golfers) & set(second.golfers)
    everyone = len(set(first.golfers) | set(second.golfers))
    paired = 2 * len(shared) >= min(len(first.golfers), len(second.golfers))
    kept = [
        [i for i, golfer in enumerate(cohort.golfers) if (golfer in shared) == paired]
        for cohort in (first, second)
    ]
    fewest = min(len(rows) for rows in kept)
    if fewest < FEWEST_GOLFERS:
        raise CohortRefused(
            f"{question}: {fewest} golfers to compare in a group; {FEWEST_GOLFERS} are needed",
            code="too_few_golfers",
        )
    repeats = [_repeats(cohort, rows) for cohort, rows in zip((first, second), kept, strict=True)]
    return ComparedGroups(
        curves=(first.curves_cm[kept[0]], second.curves_cm[kept[1]]),
        features=(first.features[kept[0]], second.features[kept[1]]),
        paired=paired,
        left_out=everyone - (len(shared) if paired else len(kept[0]) + len(kept[1])),
        repeats=(repeats[0], repeats[1]) if repeats[0] and repeats[1] else None,
    )


def _repeats(cohort: Cohort, rows: list[int]) -> Repeats | None:
    if cohort.feature_swings is None or cohort.feature_squares is None:
        return None
    return Repeats(swings=cohort.feature_swings[rows], squares=cohort.feature_squares[rows])


def tested_together(
    pair: ComparedGroups,
    curves: tuple[FloatArray, FloatArray],
    columns: list[int],
    rng: np.random.Generator,
    *,
    level: float,
    relabellings: int,
) -> Differences:
    """Curves' nodes, features' means and features' spreads in one test that keeps one level.

    Parameters
    ----------
    pair : ComparedGroups
    curves : tuple of 2 ndarrays, shape (n, nodes)
        The nodes that move.
    columns : list of int
        Features to compare.
    rng, level, relabellings
        As in `norms.statistics.group_differences.differences_between`.

    Returns
    -------
    Differences
        Three tables: nodes, means, spreads.
    """
    first, second = (group[:, columns] for group in pair.features)
    deviations = steady_deviations(pair, columns)
    tables = [curves, (first, second), deviations]
    if pair.paired:
        return differences_within(
            [a - b for a, b in tables], rng, level=level, relabellings=relabellings
        )
    return differences_between(tables, rng, level=level, relabellings=relabellings)


def steady_deviations(pair: ComparedGroups, columns: list[int]) -> tuple[FloatArray, FloatArray]:
    """Each golfer's distance from the group's median, in units of what it would have by chance.

    Parameters
    ----------
    pair : ComparedGroups
    columns : list of int
        Features to compare.

    Returns
    -------
    first, second : ndarray, shape (n, c)

    Notes
    -----
    Golfers of few swings lie far apart by noise alone. A golfer's mean has the variance of the
    golfers and its own swings' noise; were the groups' golfers alike, distances over the root of
    both would be alike too, however many swings each golfer has. Without noise this is Brown and
    Forsythe's comparison of spreads (1974, J. Am. Stat. Assoc. 69:364).
    """
    groups = [group[:, columns] for group in pair.features]
    noise = _noise_of_means(pair, columns)
    counts = [np.isfinite(group).sum(axis=0) for group in groups]
    squares = sum(_squares(group) for group in groups)
    noisy = sum(
        np.nansum(np.where(np.isfinite(g), v, 0.0), axis=0)
        for g, v in zip(groups, noise, strict=True)
    )
    freedom = np.maximum(counts[0] + counts[1] - 2, 1)
    own = np.maximum((squares - noisy) / freedom, LEAST_OWN_SPREAD * squares / freedom)
    distances = []
    for group, variance, count in zip(groups, noise, counts, strict=True):
        # A median or mean lies nearer to its own few golfers than the truth does.
        fair = np.sqrt(count / np.maximum(count - 1, 1))
        expected = np.sqrt(own + variance)
        centred = np.abs(group - np.nanmedian(group, axis=0)) * fair
        distances.append(centred / np.where(expected > 0, expected, 1.0))
    return distances[0], distances[1]


def _squares(group: FloatArray) -> FloatArray:
    return np.asarray(np.nansum((group - np.nanmean(group, axis=0)) ** 2, axis=0))


def _noise_of_means(pair: ComparedGroups, columns: list[int]) -> list[FloatArray]:
    """Variance that each golfer's own swings leave in the golfer's mean, by group."""
    if pair.repeats is None:
        return [np.zeros((len(group), len(columns))) for group in pair.features]
    swings = [one.swings[:, columns] for one in pair.repeats]
    squares = [one.squares[:, columns].sum(axis=0) for one in pair.repeats]
    repeats = [np.maximum(one - 1, 0).sum(axis=0) for one in swings]
    together = (squares[0] + squares[1]) / np.maximum(repeats[0] + repeats[1], 1)
    noise = []
    for count, total, repeated in zip(swings, squares, repeats, strict=True):
        # A group may swing less steadily than the other; of few repeats both tell together.
        own = np.where(repeated >= FEWEST_REPEATS, total / np.maximum(repeated, 1), together)
        noise.append(own / np.maximum(count, 1))
    return noise
