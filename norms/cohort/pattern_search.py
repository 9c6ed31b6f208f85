"""The search for patterns among scores: how many, believed or not, and why."""

from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records.patterns import PatternCount
from norms.statistics.cluster_stability import (
    STABLE,
    best_mixture,
    cluster_jaccard,
    one_cloud_test,
)
from norms.statistics.mixtures import GaussianMixture, fit_mixture

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FEWEST_SURE: Final = 0.80
"""Mean probability of their own pattern below which golfers of a pattern shade into the others."""
MOST_IN_CLOUD_TEST: Final = 3
"""Parts that one cloud is tested against: where there are more, three already improve on one."""
SEARCH_TOLERANCE: Final = 1e-6
"""Log-likelihood of one golfer at which a division has settled: a criterion good to 0.01."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternChoices:
    """Decisions of the search for patterns, taken before the data are seen.

    Attributes
    ----------
    most : int
        Largest number of patterns looked for.
    cloud_level : float
        Chance of finding patterns in one Gaussian cloud.
    simulations, resamples, starts : int
    smallest : int
        Fewest golfers of a pattern.
    seed : int
    """

    most: int = 6
    cloud_level: float = 0.01
    simulations: int = 99
    resamples: int = 50
    starts: int = 15
    smallest: int = 5
    seed: int = 20_260


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatternSearch:
    """What the search found: a mixture of one part where there are no types.

    Attributes
    ----------
    mixture : GaussianMixture
    labels : ndarray of int, shape (n,)
    stability : ndarray, shape (k,)
        Mean Jaccard similarity of each part on resampling.
    believed : bool
        Whether the parts are patterns.
    reason : str
    counts : tuple of PatternCount
    cloud_p : float
    simulations : int
    """

    mixture: GaussianMixture
    labels: IntArray
    stability: FloatArray
    believed: bool
    reason: str
    counts: tuple[PatternCount, ...]
    cloud_p: float
    simulations: int


def search_patterns(
    rows: FloatArray, choices: PatternChoices, rng: np.random.Generator
) -> PatternSearch:
    """Search the numbers of patterns by criterion, null test, stability and clearness together.

    Parameters
    ----------
    rows : ndarray, shape (n, c)
        Scores, level taken off.
    choices : PatternChoices
    rng : numpy.random.Generator
    """
    one = best_mixture(rows, 1, rng, starts=1)
    assert one is not None, "one part always fits where there are more golfers than components"
    cloud = partial(_one_cloud, one, rows)
    several = _several(rows, one.bic, choices, rng)
    cloud_count = PatternCount(
        patterns=1, bic=one.bic, least_stability=float("nan"), least_sure=1.0, smallest=len(rows)
    )
    counts = (cloud_count, *(count for count, _, _ in several))
    better = [fit for count, fit, _ in several if count.bic < one.bic]
    if not better:
        reason = "One cloud, no types: no number of patterns describes the golfers better."
        return cloud(reason, counts, 1.0, 0)
    most = min(choices.most, MOST_IN_CLOUD_TEST)
    test = one_cloud_test(rows, most, rng, simulations=choices.simulations, starts=4)
    if test.p > choices.cloud_level:
        reason = (
            f"One cloud, no types: a single cloud improves as much in {100 * test.p:.0f} of 100 "
            "simulated cohorts."
        )
        return cloud(reason, counts, test.p, choices.simulations)
    believed = [
        (count, fit, stability)
        for count, fit, stability in several
        if count.bic < one.bic
        and count.smallest >= choices.smallest
        and count.least_stability >= STABLE
        and count.least_sure >= FEWEST_SURE
    ]
    if not believed:
        reason = (
            "One cloud, no types: the golfers are not one even cloud, but no division of them is "
            "both stable and clear."
        )
        return cloud(reason, counts, test.p, choices.simulations)
    count, fit, stability = min(believed, key=lambda one: one[0].bic)
    return PatternSearch(
        mixture=fit,
        labels=labels_of(fit, rows),
        stability=stability,
        believed=True,
        reason=(
            f"{count.patterns} patterns: a single cloud improves as much in fewer than "
            f"{100 * choices.cloud_level:.0f} of 100 simulated cohorts, and every pattern returns "
            f"when golfers are resampled (least similarity {count.least_stability:.2f})."
        ),
        counts=counts,
        cloud_p=test.p,
        simulations=choices.simulations,
    )


def _one_cloud(
    one: GaussianMixture,
    rows: FloatArray,
    reason: str,
    counts: tuple[PatternCount, ...],
    p: float,
    simulations: int,
) -> PatternSearch:
    return PatternSearch(
        mixture=one,
        labels=np.zeros(len(rows), dtype=np.int64),
        stability=np.ones(1),
        believed=False,
        reason=reason,
        counts=counts,
        cloud_p=p,
        simulations=simulations,
    )


def _several(
    rows: FloatArray, bic_of_one: float, choices: PatternChoices, rng: np.random.Generator
) -> list[tuple[PatternCount, GaussianMixture, FloatArray]]:
    """Every number of patterns with its mixture, and its stability where the criterion allows."""
    found = []
    for k in range(2, choices.most + 1):
        fit = best_mixture(rows, k, rng, starts=choices.starts, tolerance=SEARCH_TOLERANCE)
        if fit is None:
            continue
        labels = labels_of(fit, rows)
        sizes = np.bincount(labels, minlength=k)
        own = fit.memberships(rows)[np.arange(len(rows)), labels]
        sure = min(float(own[labels == part].mean()) if sizes[part] else 0.0 for part in range(k))
        stability = np.full(k, np.nan)
        if fit.bic < bic_of_one and sizes.min() >= choices.smallest:
            relabel = partial(_relabel, k=k, fit=fit, rng=rng)
            stability = cluster_jaccard(rows, labels, relabel, rng, resamples=choices.resamples)
        count = PatternCount(
            patterns=k,
            bic=fit.bic,
            least_stability=float(stability.min()),
            least_sure=sure,
            smallest=int(sizes.min()),
        )
        found.append((count, fit, stability))
    return found


def _relabel(
    rows: FloatArray, *, k: int, fit: GaussianMixture, rng: np.random.Generator
) -> IntArray:
    again = fit_mixture(rows, k, fit.family, rng, starts=6, tolerance=1e-5)
    return np.zeros(len(rows), dtype=np.int64) if again is None else labels_of(again, rows)


def labels_of(mixture: GaussianMixture, rows: FloatArray) -> IntArray:
    """The most likely part of each row."""
    labels: IntArray = mixture.memberships(rows).argmax(axis=1).astype(np.int64)
    return labels
