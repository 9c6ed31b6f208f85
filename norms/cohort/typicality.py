"""How far each golfer of a cell lies from the others, for a newcomer to be ranked among."""

from typing import Final

import numpy as np

from norms.cohort.club_swings import CohortSwings
from norms.cohort.profile_parts import parts_of
from norms.errors import CohortRefused
from norms.records import Cohort
from norms.records.patterns import Typicality

SWINGS_SEEN: Final = (1, 2, 3, 5)
"""Numbers of swings by which golfers are seen: one swing lies farther out than a mean of five."""


def fit_typicality(
    cohort: Cohort, swings: CohortSwings, *, smallest_cell: int, seed: int
) -> Typicality:
    """Overall deviation of each golfer, by one swing and by several, from the other golfers.

    Parameters
    ----------
    cohort : Cohort
    swings : CohortSwings
        Theirs.
    smallest_cell : int
        Fewest golfers of whom anything is said.
    seed : int
        Of the choice of swings.

    Returns
    -------
    Typicality

    Raises
    ------
    CohortRefused
        If there are too few golfers.
    """
    n = len(cohort.golfers)
    if n < max(smallest_cell, 3):
        raise CohortRefused(
            f"{cohort.definition.label}: {n} golfers; {max(smallest_cell, 3)} are needed to say "
            "how unusual one is",
            code="too_few_golfers",
        )
    rng = np.random.default_rng(seed)
    total = cohort.curves_cm.sum(axis=0)
    others = (total - cohort.curves_cm) / (n - 1)
    overall = [parts_of(swings.first_few(m, rng) - others).overall for m in SWINGS_SEEN]
    usual = np.log(np.maximum(parts_of(cohort.curves_cm - others).overall, 1e-6))
    return Typicality(
        cohort_key=cohort.definition.key,
        swings=SWINGS_SEEN,
        overall_cm=np.array(overall),
        log_mean=float(usual.mean()),
        log_sd=float(usual.std(ddof=1)),
    )


def swings_seen(swings: int, seen: tuple[int, ...] = SWINGS_SEEN) -> int:
    """Place of the largest number of swings that is not above the newcomer's."""
    return max(place for place, number in enumerate(seen) if number <= max(swings, seen[0]))
