"""Weights that bring a cohort to the membership, what they cost and what they move.

Bands count every golfer once: a weight is a statement about the roster of one day, and a golfer
who is placed is placed among the golfers who were there. The weights answer another question
beside them: would the percentiles read otherwise if the golfers at hand were the membership in
level, sex and age?
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.membership import Membership, membership_of
from norms.cohort.published_limits import rounding_step
from norms.errors import CohortRefused
from norms.records import Bands, Cohort, CohortNorms, Golfer, Level
from norms.records.weighting import MarginShare, Weighting
from norms.statistics.quantiles import QuantileTable
from norms.statistics.raking import Raking, rake
from norms.statistics.weighted_quantiles import weighted_percentiles

FloatArray = NDArray[np.float64]

_ROUNDING: Final = 1e-9
"""Of a step: what floating point may add to a difference that is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightedMove:
    """One percentile of a feature as it is and under the weights, in the feature's unit.

    Attributes
    ----------
    feature : str
    percent : float
    plain, plain_low, plain_high : float
        As in the bands, every golfer once, and its interval.
    weighted, weighted_low, weighted_high : float
    """

    feature: str
    percent: float
    plain: float
    plain_low: float
    plain_high: float
    weighted: float
    weighted_low: float
    weighted_high: float

    @property
    def beyond_interval(self) -> bool:
        """Whether it moves out of the interval that it has with every golfer once."""
        return not self.plain_low <= self.weighted <= self.plain_high

    @property
    def share_of_interval(self) -> float:
        """How far it moves, in widths of that interval; infinite from an interval of no width."""
        width, move = self.plain_high - self.plain_low, abs(self.weighted - self.plain)
        if width > 0:
            return move / width
        return np.inf if move else 0.0


def weigh_cell(
    cell: CohortNorms,
    roster: Mapping[str, Golfer],
    levels: Sequence[Level],
    day: date,
    smallest_kind: int,
) -> Weighting:
    """Weigh a cell's golfers to the membership by raking, and the features' percentiles with them.

    Parameters
    ----------
    cell : CohortNorms
        With its golfers and bands.
    roster : Mapping of str to Golfer
        Holds every golfer of the cell.
    levels : sequence of Level
    day : datetime.date
        Day on which levels and ages are compared, the newest recorded day as a rule.
    smallest_kind : int
        Fewest golfers who stand for their kind alone; kinds with fewer are taken together.

    Raises
    ------
    CohortRefused
        If the cell holds enough golfers of one kind only, or no weights meet every margin.
    """
    if cell.bands is None:
        raise ValueError(f"{cell.cohort.definition.key}: a withheld cell has nothing to weigh")
    membership = membership_of(cell.cohort, roster, levels, day, smallest_kind)
    raking = weights_to(membership, cell.cohort.definition.label, smallest_kind)
    bands = cell.bands
    moved = _published(bands, _under_weights(cell.cohort, bands, raking.weights))
    return Weighting(
        cohort_key=cell.cohort.definition.key,
        golfers=len(cell.cohort.golfers),
        margins=tuple(_shares(membership)),
        not_weighed=membership.not_weighed,
        absent=membership.absent,
        # Downward, so that whoever is absent keeps the whole from being reached.
        reach=(100 * membership.reached // membership.members) / 100,
        design_effect=round(raking.design_effect, 2),
        effective_golfers=round(raking.effective_count, 1),
        percents=bands.percents,
        confidence=bands.confidence,
        feature_names=bands.feature_names,
        value=moved.value,
        low=moved.low,
        high=moved.high,
    )


def weights_to(membership: Membership, label: str, smallest_kind: int) -> Raking:
    """One weight per golfer of the cohort, with mean 1, by which it agrees with the membership.

    Parameters
    ----------
    membership : Membership
    label : str
        Of the cohort, for a refusal.
    smallest_kind : int
        As the membership was taken with.

    Raises
    ------
    CohortRefused
        As `weigh_cell`.
    """
    if not membership.margins:
        raise CohortRefused(
            f"{label}: not weighed, because it does not hold {smallest_kind} golfers of each of "
            "two levels, sexes or age groups",
            code="weights",
        )
    targets = {}
    groups = {}
    for margin in membership.margins:
        names = [" or ".join(kind) for kind in margin.kinds]
        shares = margin.shares(margin.members).tolist()
        targets[margin.name] = dict(zip(names, shares, strict=True))
        groups[margin.name] = [names[at] for at in margin.cohort]
    raking = rake(groups, targets)
    if not raking.converged:
        raise CohortRefused(
            f"{label}: no weights bring every margin to the membership ({raking.rounds} rounds "
            f"leave {100 * raking.largest_gap:.2g} percentage points); some combination of level, "
            "sex and age holds no golfer; record some there",
            code="weights",
        )
    return raking


def weighted_moves(weighting: Weighting, bands: Bands) -> tuple[WeightedMove, ...]:
    """Every percentile that the weights leave golfers enough for, beside the unweighted one.

    Parameters
    ----------
    weighting : Weighting
    bands : Bands
        Of the same cell.
    """
    return tuple(
        WeightedMove(
            feature=feature,
            percent=percent,
            plain=float(bands.feature[row, column]),
            plain_low=float(bands.feature_low[row, column]),
            plain_high=float(bands.feature_high[row, column]),
            weighted=float(weighting.value[row, column]),
            weighted_low=float(weighting.low[row, column]),
            weighted_high=float(weighting.high[row, column]),
        )
        for column, feature in enumerate(weighting.feature_names)
        for row, percent in enumerate(weighting.percents)
        if np.isfinite(weighting.value[row, column])
    )


def _shares(membership: Membership) -> list[MarginShare]:
    # Whole percents: from them, no count of members who are not in the cohort can be had.
    return [
        MarginShare(margin=margin.name, categories=kind, membership=of_members, cohort=of_cohort)
        for margin in membership.margins
        for kind, of_members, of_cohort in zip(
            margin.kinds,
            np.round(margin.shares(margin.members), 2).tolist(),
            np.round(margin.shares(margin.cohort), 2).tolist(),
            strict=True,
        )
    ]


def _under_weights(cohort: Cohort, bands: Bands, weights: FloatArray) -> QuantileTable:
    columns = [cohort.feature_names.index(name) for name in bands.feature_names]
    return weighted_percentiles(
        cohort.features[:, columns], weights, bands.percents, bands.confidence
    )


def _published(bands: Bands, found: QuantileTable) -> QuantileTable:
    """As far from the published percentiles as a whole number of steps, limits outward.

    So that no number is one golfer's own, and equal weights move nothing.
    """
    step = rounding_step(bands.feature_high - bands.feature_low, (0,))
    low = bands.feature_low + step * np.floor((found.low - bands.feature_low) / step + _ROUNDING)
    high = bands.feature_high + step * np.ceil((found.high - bands.feature_high) / step - _ROUNDING)
    value = bands.feature + step * np.round((found.value - bands.feature) / step)
    return QuantileTable(np.clip(value, low, high), low, high)
