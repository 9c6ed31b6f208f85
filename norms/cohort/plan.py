"""What more golfers would buy, and whom to recruit next."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from norms.cohort.coverage import MARGINS, who_fits, who_is_missing
from norms.cohort.levels import ALL_LEVELS, levels_in
from norms.cohort.sufficiency import Sufficiency, cell_sufficiency, established_from
from norms.errors import CohortRefused
from norms.records import Cohort, CohortNorms, Edition, Golfer, Level
from norms.statistics.quantiles import order_statistic_ranks

FloatArray = NDArray[np.float64]

PLANNED_GOLFERS: Final = (15, 30, 60, 120, 250, 500)
FEWEST_PILOTS: Final = 10
"""Fewer golfers say too little of their own spread; the club's golfers of all levels stand in."""

WIDTH_RULE: Final = (
    "Expected width of the interval on a percentile: distance between the two order statistics "
    "that bound it, read off the golfers at hand against normal scores, and continued beyond the "
    "outermost of them with their standard deviation."
)
ORDER_RULE: Final = (
    "First the groups that fewest further golfers lift to their next grade, of those whom the "
    "roster can supply; then those it cannot. Within a group, golfers of the levels, sexes and "
    "ages that are missing most."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Width:
    """Expected width of one percentile's interval at one number of golfers.

    Attributes
    ----------
    feature : str
    percent : float
    golfers : int
    width : float or None
        In the feature's unit; None where this many golfers have no interval.
    """

    feature: str
    percent: float
    golfers: int
    width: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recruiting:
    """One group of an edition, what it lacks and who could supply it.

    Attributes
    ----------
    sufficiency : Sufficiency
    needed : int
        Golfers to the next grade; 0 where established.
    invite : tuple of str
        Golfers on the roster who fit, agreed to norms and have no swing in the group, those of
        missing kinds first.
    to_ask : int
        Golfers who fit but have not agreed to norms.
    missing : tuple of str
        Kinds of golfers of whom the group holds fewer than of others, in words.
    """

    sufficiency: Sufficiency
    needed: int
    invite: tuple[str, ...]
    to_ask: int
    missing: tuple[str, ...]

    @property
    def beyond_roster(self) -> int:
        """Golfers needed whom the roster cannot supply."""
        return max(0, self.needed - len(self.invite))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Recruiting plan of an edition, and what it would buy in one group.

    Attributes
    ----------
    edition : str
    rows : tuple of Recruiting
        In the order in which to recruit.
    widths_of : str
        Key of the group whose intervals are foreseen.
    spread_from : str
        Key of the group whose golfers stand for the spread.
    pilots : int
        Golfers of that group.
    widths : tuple of Width
    width_rule, order_rule : str
    """

    edition: str
    rows: tuple[Recruiting, ...]
    widths_of: str
    spread_from: str
    pilots: int
    widths: tuple[Width, ...]
    width_rule: str = WIDTH_RULE
    order_rule: str = ORDER_RULE


def expected_width(values: FloatArray, golfers: int, percent: float, confidence: float) -> float:
    """Width that the interval on a percentile is expected to have at a number of golfers.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One value for each golfer at hand, at least 3 of them not NaN.
    golfers : int
        Number foreseen.
    percent : float
        Strictly between 0 and 100.
    confidence : float

    Returns
    -------
    float
        NaN where this many golfers have no interval.

    References
    ----------
    Expected order statistics: Blom (1958), rank r of n near the normal score of
    (r - 3/8) / (n + 1/4).
    """
    low, high = order_statistic_ranks(golfers, percent / 100.0, confidence)
    if low is None or high is None:
        return float("nan")
    present = np.sort(values[~np.isnan(values)])
    at = _blom_scores(np.arange(1, present.size + 1), present.size)
    wanted = _blom_scores(np.array([low, high]), golfers)
    inside = np.interp(wanted, at, present)
    beyond = wanted - np.clip(wanted, at[0], at[-1])
    limits = inside + beyond * present.std(ddof=1)
    return float(limits[1] - limits[0])


def _blom_scores(ranks: NDArray[Any], n: int) -> FloatArray:
    scores: FloatArray = ndtri((ranks - 0.375) / (n + 0.25))
    return scores


def plan_edition(
    edition: Edition,
    roster: Mapping[str, Golfer],
    day: date,
    *,
    cohort: str | None = None,
    features: Sequence[str],
    golfers: Sequence[int] = PLANNED_GOLFERS,
) -> Plan:
    """Foresee interval widths and say whom to recruit next.

    Parameters
    ----------
    edition : Edition
        With its golfers.
    roster : Mapping of str to Golfer
    day : datetime.date
        Day on which levels and ages of the roster count.
    cohort : str, optional
        Key of the group whose widths are foreseen; by default the first to recruit for.
    features : sequence of str
        Features whose widths are foreseen.
    golfers : sequence of int
        Numbers of golfers to foresee.

    Returns
    -------
    Plan

    Raises
    ------
    CohortRefused
        If the edition has no such group or feature, or came without its golfers.
    """
    if edition.imported:
        raise CohortRefused(
            f"edition {edition.name} came without its golfers, so that nothing says what more of "
            "them would buy; name an edition of your own (norms build makes one)",
            code="no_golfers",
        )
    levels = levels_in(edition)
    rows = sorted(
        (_recruiting(cell, edition, roster, levels, day) for cell in edition.cells), key=_turn
    )
    chosen = _cell(edition, cohort or rows[0].sufficiency.cohort_key)
    source = _spread_source(edition, chosen)
    return Plan(
        edition=edition.name,
        rows=tuple(rows),
        widths_of=chosen.definition.key,
        spread_from=source.definition.key,
        pilots=len(source.golfers),
        widths=_widths(source, edition, features, golfers),
    )


def _stated(edition: Edition) -> dict[str, Any]:
    return dict(edition.parameters)


def _turn(row: Recruiting) -> tuple[bool, bool, int, str]:
    return (row.needed == 0, row.beyond_roster > 0, row.needed, row.sufficiency.cohort_key)


def _recruiting(
    cell: CohortNorms,
    edition: Edition,
    roster: Mapping[str, Golfer],
    levels: Sequence[Level],
    day: date,
) -> Recruiting:
    grade = cell_sufficiency(cell, edition)
    cohort = cell.cohort
    rows = who_is_missing(cohort, roster, levels, day)
    missing = {(row.margin, row.category) for row in rows if row.standing == "missing"}
    codes, facts = who_fits(roster, cohort.definition, levels, day)
    kinds = zip(facts.levels, facts.sexes, facts.age_groups(), strict=True)
    lacking = {
        code: sum((margin, str(kind)) in missing for margin, kind in zip(MARGINS, own, strict=True))
        for code, own in zip(codes, kinds, strict=True)
    }
    absent = sorted(set(codes) - set(cohort.golfers), key=lambda code: (-lacking[code], code))
    invite = tuple(code for code in absent if roster[code].consents_norms)
    return Recruiting(
        sufficiency=grade,
        needed=grade.more_to_show or grade.more_to_establish,
        invite=invite,
        to_ask=len(absent) - len(invite),
        missing=tuple(f"{margin} {category}" for margin, category in sorted(missing)),
    )


def _cell(edition: Edition, key: str) -> Cohort:
    cell = edition.cell(key)
    if cell is None:
        keys = ", ".join(one.cohort.definition.key for one in edition.cells)
        raise CohortRefused(
            f"edition {edition.name} has no group {key!r}; it has {keys}", code="unknown_cohort"
        )
    return cell.cohort


def _spread_source(edition: Edition, cohort: Cohort) -> Cohort:
    if len(cohort.golfers) >= FEWEST_PILOTS:
        return cohort
    everyone = edition.cell(f"{cohort.definition.club}/{ALL_LEVELS}")
    if everyone is None or len(everyone.cohort.golfers) < FEWEST_PILOTS:
        raise CohortRefused(
            f"{cohort.definition.label}: fewer than {FEWEST_PILOTS} golfers at hand, here and over "
            "all levels of the club, say nothing of the spread; record more first",
            code="no_pilots",
        )
    return everyone.cohort


def _widths(
    source: Cohort, edition: Edition, features: Sequence[str], golfers: Sequence[int]
) -> tuple[Width, ...]:
    stated = _stated(edition)
    percents, confidence = stated["percents"], stated["confidence"]
    numbers = sorted({*golfers, established_from(percents, confidence, stated["smallest_cell"])})
    widths = []
    for feature in features:
        if feature not in source.feature_names:
            raise CohortRefused(
                f"edition {edition.name} has no feature {feature!r}; it has "
                f"{', '.join(source.feature_names)}",
                code="unknown_feature",
            )
        values = source.features[:, source.feature_names.index(feature)]
        if np.count_nonzero(~np.isnan(values)) < FEWEST_PILOTS:
            continue
        for percent in percents:
            for number in numbers:
                width = expected_width(values, number, percent, confidence)
                widths.append(
                    Width(
                        feature=feature,
                        percent=percent,
                        golfers=number,
                        width=None if np.isnan(width) else width,
                    )
                )
    return tuple(widths)


def plan_document(plan: Plan) -> dict[str, Any]:
    """A plan as plain JSON values; it names golfers to invite and stays inside the academy."""
    document: dict[str, Any] = asdict(plan)
    for row, recruiting in zip(document["rows"], plan.rows, strict=True):
        row["beyond_roster"] = recruiting.beyond_roster
    return document
