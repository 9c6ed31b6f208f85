"""Patterns of one club's golfers: are there families of alike swings, how many, and who is in."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.club_components import golfer_levels
from norms.cohort.club_swings import CohortSwings
from norms.cohort.pattern_description import NameOf, describe_patterns
from norms.cohort.pattern_matching import keys_for
from norms.cohort.pattern_search import PatternChoices, search_patterns
from norms.records import Cohort
from norms.records.components import Components
from norms.records.patterns import Patterns
from norms.statistics.mixtures import GaussianMixture, refit
from norms.statistics.one_thread import on_one_thread

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STRANGENESS_SWINGS: Final = (1, 3)
FOLDS: Final = 10


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
    search = search_patterns(rows, choices, rng)
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
