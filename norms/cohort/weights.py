"""Weights that bring a cohort to the membership, what they cost, and percentiles under them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.coverage import MARGINS
from norms.cohort.golfer_facts import golfer_facts
from norms.errors import CohortRefused
from norms.records import Cohort, Golfer, Level
from norms.statistics.quantiles import QuantileTable, order_statistic_ranks
from norms.statistics.raking import rake

FloatArray = NDArray[np.float64]
Targets = Mapping[str, Mapping[str, float]]

WEIGHTED_RULE: Final = (
    "weighted percentile: the value up to which the golfers' weights reach that share; its "
    "interval has the ranks of as many golfers as would know the share as well without weights"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CohortWeights:
    """One weight per golfer and what the weighting costs.

    Attributes
    ----------
    cohort_key : str
    golfers : tuple of str
        n codes, as in the cohort.
    weights : ndarray, shape (n,)
        Mean 1.
    design_effect : float
        How many times larger the variance of a mean becomes (Kish).
    effective_golfers : float
        n over the design effect.
    largest_gap : float
        Largest difference between a weighted share and its target, 0 to 1.
    messages : tuple of str
        Sentences for a page.
    """

    cohort_key: str
    golfers: tuple[str, ...]
    weights: FloatArray
    design_effect: float
    effective_golfers: float
    largest_gap: float
    messages: tuple[str, ...]


def roster_targets(
    roster: Mapping[str, Golfer],
    codes: Sequence[str],
    levels: Sequence[Level],
    day: date,
    margins: Sequence[str] = MARGINS,
) -> dict[str, dict[str, float]]:
    """Shares of levels, sexes and age groups among golfers of the roster.

    Parameters
    ----------
    roster : Mapping of str to Golfer
    codes : sequence of str
        The population, e.g. as `who_fits` gives it.
    levels : sequence of Level
    day : datetime.date
    margins : sequence of str
        Out of "level", "sex", "age".
    """
    categories = _categories(roster, codes, levels, day)
    targets: dict[str, dict[str, float]] = {}
    for margin in margins:
        names, counts = np.unique(categories[margin], return_counts=True)
        targets[margin] = {
            str(name): float(count) / len(codes) for name, count in zip(names, counts, strict=True)
        }
    return targets


def weigh_cohort(
    cohort: Cohort,
    roster: Mapping[str, Golfer],
    targets: Targets,
    levels: Sequence[Level],
    day: date,
) -> CohortWeights:
    """Rake a cohort to the margins of a target population.

    Parameters
    ----------
    cohort : Cohort
    roster : Mapping of str to Golfer
        Holds every golfer of the cohort.
    targets : mapping of str to mapping of str to float
        By margin ("level", "sex", "age"), the population's share of each category.
    levels : sequence of Level
    day : datetime.date

    Raises
    ------
    CohortRefused
        If a category of the population has no golfer in the cohort, or the other way round: no
        weight can bring back who is missing.
    """
    unknown = set(targets) - set(MARGINS)
    if unknown:
        raise CohortRefused(
            f"margin {sorted(unknown)[0]!r}: it is none of {', '.join(MARGINS)}", code="weights"
        )
    categories = _categories(roster, cohort.golfers, levels, day)
    try:
        raking = rake({margin: categories[margin].tolist() for margin in targets}, targets)
    except ValueError as fault:
        raise CohortRefused(f"{cohort.definition.label}: {fault}", code="weights") from fault
    return CohortWeights(
        cohort_key=cohort.definition.key,
        golfers=cohort.golfers,
        weights=raking.weights,
        design_effect=raking.design_effect,
        effective_golfers=raking.effective_count,
        largest_gap=raking.largest_gap,
        messages=raking.messages,
    )


def weighted_percentiles(
    values: FloatArray, weights: FloatArray, percents: Sequence[float], confidence: float = 0.90
) -> QuantileTable:
    """Percentiles of weighted golfers, each with an interval at its effective number of golfers.

    Parameters
    ----------
    values : ndarray, shape (n, k)
        One row per golfer, NaN where missing.
    weights : ndarray, shape (n,)
        Positive.
    percents : sequence of float
    confidence : float

    Returns
    -------
    QuantileTable
        With equal weights, those of `quantiles_with_intervals`. NaN where the effective number
        of golfers has no interval.

    References
    ----------
    Woodruff (1952), J. Am. Stat. Assoc. 47:635: interval of a weighted quantile from that of the
    share, here exact binomial at the effective count (Korn and Graubard 1998, Surv. Methodol.
    24:193).
    """
    shares = np.asarray(percents, dtype=float) / 100.0
    value, low, high = (np.full((shares.size, values.shape[1]), np.nan) for _ in range(3))
    for column in range(values.shape[1]):
        present = ~np.isnan(values[:, column])
        order = np.argsort(values[present, column], kind="stable")
        x, w = values[present, column][order], weights[present][order]
        if not x.size:
            continue
        # Rank r of n equal golfers stands at r / (n + 1): type 6; a weight moves it by its share.
        position = (np.cumsum(w) - w / 2.0 + w.mean() / 2.0) / (w.sum() + w.mean())
        for row, share in enumerate(shares):
            point = np.interp(share, position, x)
            effective = _effective_golfers(x <= point, w)
            ranks = order_statistic_ranks(effective, float(share), confidence)
            if ranks[0] is not None and ranks[1] is not None:
                limits = np.array(ranks, dtype=float) / (effective + 1)
                value[row, column] = point
                low[row, column], high[row, column] = np.interp(limits, position, x)
    return QuantileTable(value, low, high)


def _effective_golfers(below: NDArray[np.bool_], weights: FloatArray) -> int:
    """Golfers of equal weight who would know the share below as well; never more than there are.

    Not Kish's number: heavy golfers who sit together in a tail cost that tail more than the middle.
    """
    share = weights[below].sum() / weights.sum()
    if not 0.0 < share < 1.0:
        return int(np.floor(weights.sum() ** 2 / (weights**2).sum() + 1e-9))
    variance = (weights**2 * (below - share) ** 2).sum() / weights.sum() ** 2
    effect = max(1.0, weights.size * variance / (share * (1.0 - share)))
    return int(np.floor(weights.size / effect + 1e-9))


def _categories(
    roster: Mapping[str, Golfer], codes: Sequence[str], levels: Sequence[Level], day: date
) -> dict[str, NDArray[np.str_]]:
    facts = golfer_facts(roster, [(code, day) for code in codes], levels)
    return dict(zip(MARGINS, (facts.levels, facts.sexes, facts.age_groups()), strict=True))
