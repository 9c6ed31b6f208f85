"""Patterns of one club's golfers: are there families of alike swings, how many, and who is in."""

from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.club_components import golfer_levels
from norms.cohort.club_swings import CohortSwings
from norms.cohort.pattern_description import NameOf, describe_patterns
from norms.cohort.pattern_matching import keys_for
from norms.records import Cohort
from norms.records.components import Components
from norms.records.patterns import PatternCount, Patterns
from norms.statistics.cluster_stability import (
    STABLE,
    best_mixture,
    cluster_jaccard,
    one_cloud_test,
)
from norms.statistics.mixtures import GaussianMixture, fit_mixture, refit
from norms.statistics.one_thread import on_one_thread

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FEWEST_SURE: Final = 0.80
"""Mean probability of their own pattern below which golfers of a pattern shade into the others."""
STRANGENESS_SWINGS: Final = (1, 3)
FOLDS: Final = 10
MOST_IN_CLOUD_TEST: Final = 3
"""Parts that one cloud is tested against: where there are more, three already improve on one."""
SEARCH_TOLERANCE: Final = 1e-6
"""Log-likelihood of one golfer at which a division has settled: a criterion good to 0.01."""
NONE_FITS: Final = 0.05
"""Share of golfers of the cohort's kind to whom it is said, wrongly, that no pattern fits."""


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


@on_one_thread
def find_patterns(
    cohort: Cohort,
    swings: CohortSwings,
    components: Components,
    choices: PatternChoices,
    name_of: NameOf,
    previous: tuple[str, Components, Patterns] | None = None,
) -> Patterns:
    """Patterns among the scores of golfers' mean curves, level taken off.

    A division is believed only where one Gaussian cloud would not improve as much (parametric
    bootstrap), every pattern returns when golfers are resampled (mean Jaccard similarity of 0.75,
    Hennig's mark), and its golfers are told apart from the others. Of the divisions so believed,
    that of the smallest BIC is taken. One cloud is an answer like any other.

    Parameters
    ----------
    cohort : Cohort
        A club's golfers of every level.
    swings : CohortSwings
        Theirs.
    components : Components
        Of the same golfers.
    choices : PatternChoices
    name_of : callable
        Makes a plain name from distinguishing features.
    previous : (str, Components, Patterns), optional
        An edition's name and what it found, to keep keys and names.

    Returns
    -------
    Patterns
    """
    rng = np.random.default_rng(choices.seed)
    levels = golfer_levels(swings)
    shifts = np.array([components.level_shift(level) for level in levels])
    rows = components.scores(cohort.curves_cm) - shifts
    search = _search(rows, choices, rng)
    mixture, labels = search.mixture, search.labels
    keys = keys_for(cohort, levels, labels if search.believed else None, previous)
    found = describe_patterns(
        cohort,
        levels,
        components.levels,
        rows,
        labels,
        mixture.means,
        search.stability,
        keys.keys,
        name_of,
    )
    agreement, by_chance = _agreement(swings, components, levels, mixture, labels)
    return Patterns(
        club=components.club,
        golfers=len(rows),
        reason=search.reason,
        found=found if search.believed else (),
        counts=search.counts,
        cloud_p=search.cloud_p,
        simulations=search.simulations,
        levels=components.levels,
        level_golfers=tuple(levels.count(level) for level in components.levels),
        family=mixture.family,
        weights=mixture.weights,
        means=mixture.means,
        covariances=mixture.covariances,
        memberships=mixture.memberships(rows),
        strangeness=_strangeness(cohort, swings, components, shifts, mixture, rows, rng),
        strangeness_swings=STRANGENESS_SWINGS,
        agreement=agreement,
        agreement_by_chance=by_chance,
        matched=keys.matched,
        changes=keys.changes,
    )


def mixture_of(patterns: Patterns) -> GaussianMixture:
    """The frozen mixture, to be applied to a newcomer."""
    return GaussianMixture(
        family=patterns.family,
        weights=patterns.weights,
        means=patterns.means,
        covariances=patterns.covariances,
        log_likelihood=float("nan"),
        parameters=0,
        rows=patterns.golfers,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Search:
    mixture: GaussianMixture
    labels: IntArray
    stability: FloatArray
    believed: bool
    reason: str
    counts: tuple[PatternCount, ...]
    cloud_p: float
    simulations: int


def _search(rows: FloatArray, choices: PatternChoices, rng: np.random.Generator) -> _Search:
    one = best_mixture(rows, 1, rng, starts=1)
    assert one is not None, "one part always fits where there are more golfers than components"
    cloud = partial(_one_cloud, one, rows)
    several = _several(rows, one.bic, choices, rng)
    counts = tuple(count for count, _, _ in several)
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
    return _Search(
        mixture=fit,
        labels=_labels(fit, rows),
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
) -> _Search:
    return _Search(
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
        labels = _labels(fit, rows)
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
    return np.zeros(len(rows), dtype=np.int64) if again is None else _labels(again, rows)


def _labels(mixture: GaussianMixture, rows: FloatArray) -> IntArray:
    labels: IntArray = mixture.memberships(rows).argmax(axis=1).astype(np.int64)
    return labels


def _strangeness(
    cohort: Cohort,
    swings: CohortSwings,
    components: Components,
    shifts: FloatArray,
    mixture: GaussianMixture,
    rows: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Minus log density of each golfer under the mixture of the golfers of the other folds."""
    n = len(cohort.golfers)
    fold = rng.permutation(n) % FOLDS
    seen = {m: components.scores(swings.first_few(m, rng)) - shifts for m in STRANGENESS_SWINGS}
    strange = np.empty((len(STRANGENESS_SWINGS), n))
    for part in range(FOLDS):
        out = fold == part
        if not out.any():
            continue
        others = refit(rows[~out], mixture)
        for place, m in enumerate(STRANGENESS_SWINGS):
            strange[place, out] = -others.log_density(seen[m][out], components.noise(m))
    return strange


def _agreement(
    swings: CohortSwings,
    components: Components,
    levels: list[str],
    mixture: GaussianMixture,
    labels: IntArray,
) -> tuple[float, float]:
    """Share of single swings in their golfer's pattern, as it is and as it would be by chance.

    Each golfer counts once.
    """
    shifts = np.array([components.level_shift(level) for level in levels])
    scores = components.scores(swings.curves_cm) - shifts[swings.golfer]
    alone = mixture.memberships(scores, components.noise(1)).argmax(axis=1)
    counts = np.bincount(swings.golfer).astype(float)
    agrees = np.bincount(swings.golfer, weights=alone == labels[swings.golfer]) / counts
    shares = np.bincount(labels, minlength=len(mixture.weights)) / len(labels)
    each = np.bincount(alone, weights=1.0 / counts[swings.golfer], minlength=len(shares))
    return float(agrees.mean()), float((each / len(labels) * shares).sum())
