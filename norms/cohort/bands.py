"""Percentile bands of a cohort over its golfers, and when a cohort is too small to show any."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from norms.errors import CohortRefused
from norms.records import Bands, Cohort
from norms.statistics.quantiles import QuantileTable, quantiles_with_intervals, smallest_n
from norms.vocabulary import BAND_PERCENTS, NODES

PRIVACY_MINIMUM: Final = 5
"""Fewest golfers of whom any number is shown; a stricter academy may ask for more."""

BAND_OF: Final = (
    "observed means of golfers: the spread between golfers plus what is left of the swing-to-swing "
    "spread in each golfer's mean"
)
"""What a band is a band of; wider than the spread of golfers' true means where swings are few."""


def check_rules(percents: Sequence[float], confidence: float, smallest_cell: int) -> None:
    """Refuse rules under which no honest band can be built.

    Raises
    ------
    CohortRefused
        If the percentiles do not rise strictly between 0 and 100, the confidence lies outside
        0.5 to 1, or the smallest cell is below the privacy minimum.
    """
    ends = [0.0, *percents, 100.0]
    if len(ends) < 3 or any(not low < high for low, high in pairwise(ends)):
        raise CohortRefused(
            f"percentiles {list(percents)}: they must rise strictly between 0 and 100",
            code="percents",
        )
    if not 0.5 <= confidence < 1.0:
        raise CohortRefused(
            f"confidence {confidence}: allowed is 0.5 to below 1; 0.9 is usual", code="confidence"
        )
    if smallest_cell < PRIVACY_MINIMUM:
        raise CohortRefused(
            f"smallest cell {smallest_cell}: at least {PRIVACY_MINIMUM} golfers are needed so "
            "that no golfer can be read off",
            code="smallest_cell",
        )


def golfers_needed(
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> dict[float, int]:
    """Golfers from which each percentile is shown.

    Returns
    -------
    dict of float to int
        By percentile: the number at which its exact interval exists, or the smallest cell.
    """
    return {p: max(smallest_cell, smallest_n(p / 100.0, confidence)) for p in percents}


def withheld_reason(
    golfers: int,
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> str | None:
    """Why a cohort of this many golfers shows no bands, in one sentence, or None.

    It is withheld below the smallest cell, and where not even the best supported percentile, the
    median as a rule, has an interval.
    """
    needed = golfers_needed(percents, confidence, smallest_cell)
    if golfers >= min(needed.values()):
        return None
    steps = [
        f"{needed[p]} for {_percentile_words(p, percents)}"
        for p in sorted(percents, key=lambda p: abs(p - 50.0))
        if p <= 50.0 or 100.0 - p not in percents
    ]
    who = "1 golfer" if golfers == 1 else f"{golfers} golfers"
    return f"{who}, where the least is {', '.join(steps)}."


def bands_of(
    cohort: Cohort,
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
    *,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> Bands:
    """Percentiles of the golfers' means at every node and of every feature, with intervals.

    Quantiles are of Hyndman and Fan's type 6; each has a distribution-free interval between two
    order statistics. A percentile without an interval at this number of golfers is NaN, and so is
    every percentile of a feature that fewer golfers than the smallest cell have.

    Parameters
    ----------
    cohort : Cohort
        n golfers.
    percents : sequence of float
        q percentiles, rising.
    confidence : float
        Of each limit's two-sided interval, for one node or feature at a time.
    smallest_cell : int
        Fewest golfers of whom any number is shown.

    Returns
    -------
    Bands

    Raises
    ------
    CohortRefused
        If the rules are not valid, or the cohort is too small to show anything.
    """
    check_rules(percents, confidence, smallest_cell)
    n = len(cohort.golfers)
    withheld = withheld_reason(n, percents, confidence, smallest_cell)
    if withheld:
        raise CohortRefused(f"{cohort.definition.label}: {withheld}", code="withheld")
    curves = quantiles_with_intervals(cohort.curves_cm.reshape(n, -1), percents, confidence)
    counted = np.count_nonzero(~np.isnan(cohort.features), axis=0)
    shown = np.where(counted >= smallest_cell, cohort.features, np.nan)
    features = quantiles_with_intervals(shown, percents, confidence)
    shape = (len(percents), 3, NODES)
    curve, curve_low, curve_high = QuantileTable(*(table.reshape(shape) for table in curves))
    return Bands(
        percents=tuple(float(p) for p in percents),
        golfers=n,
        swings=int(cohort.swing_counts.sum()),
        confidence=confidence,
        curve_cm=curve,
        curve_low_cm=curve_low,
        curve_high_cm=curve_high,
        feature_names=cohort.feature_names,
        feature_golfers=counted,
        feature=features.value,
        feature_low=features.low,
        feature_high=features.high,
    )


def _percentile_words(p: float, percents: Sequence[float]) -> str:
    if p == 50.0:
        return "the median"
    if 100.0 - p in percents:
        return f"the {p:g}–{100.0 - p:g} range"
    return f"percentile {p:g}"
