"""Who is missing: a cohort held against the roster by level, sex and age."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.golfer_facts import (
    AGE_GROUPS,
    UNKNOWN,
    GolferFacts,
    age_group,
    golfer_facts,
    golfer_rules,
)
from norms.records import Cohort, CohortDefinition, Golfer, Level
from norms.statistics.proportions import wilson_interval

COVERAGE_CONFIDENCE: Final = 0.90
MARGINS: Final = ("level", "sex", "age")


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverageRow:
    """One category of the roster and how much of it the cohort holds.

    Attributes
    ----------
    margin : {"level", "sex", "age"}
    category : str
    roster, cohort : int
        Golfers of the category on the roster, and of these in the cohort.
    roster_share, cohort_share : float
        Of all golfers of the roster, and of the cohort, 0 to 1.
    reached, reached_low, reached_high : float
        Share of the category's golfers who are in the cohort, with a 90 % interval (Wilson).
    standing : {"missing", "as expected", "more than expected"}
        Whether that interval lies wholly below, around or above the share of the whole roster
        that is in the cohort.
    """

    margin: str
    category: str
    roster: int
    cohort: int
    roster_share: float
    cohort_share: float
    reached: float
    reached_low: float
    reached_high: float
    standing: str


def who_fits(
    golfers: Mapping[str, Golfer],
    definition: CohortDefinition,
    levels: Sequence[Level],
    day: date,
) -> tuple[tuple[str, ...], GolferFacts]:
    """Golfers of the roster whom a definition could hold on a day, with their facts.

    Consent, recorded swings and quality are set aside: this is whom the cohort speaks about, not
    whom it has.

    Parameters
    ----------
    golfers : Mapping of str to Golfer
        The roster by code.
    definition : CohortDefinition
    levels : sequence of Level
    day : datetime.date

    Returns
    -------
    codes : tuple of str
        Sorted.
    facts : GolferFacts
        Of these golfers, in the same order.
    """
    codes = sorted(golfers)
    facts = golfer_facts(golfers, [(code, day) for code in codes], levels)
    excluded = np.logical_or.reduce(list(golfer_rules(facts, definition).values()))
    return (
        tuple(code for code, out in zip(codes, excluded, strict=True) if not out),
        GolferFacts(
            levels=facts.levels[~excluded],
            sexes=facts.sexes[~excluded],
            handicaps=facts.handicaps[~excluded],
            ages=facts.ages[~excluded],
        ),
    )


def who_is_missing(
    cohort: Cohort, golfers: Mapping[str, Golfer], levels: Sequence[Level], day: date
) -> tuple[CoverageRow, ...]:
    """Hold a cohort against those of the roster whom its definition speaks about.

    Parameters
    ----------
    cohort : Cohort
    golfers : Mapping of str to Golfer
        The roster by code, golfers without consent or captures included.
    levels : sequence of Level
    day : datetime.date
        Day on which levels and ages are compared, the newest recorded day as a rule.

    Returns
    -------
    tuple of CoverageRow
        By level, sex and age, each in the order of `in_order`; empty where the roster has nobody.
    """
    codes, facts = who_fits(golfers, cohort.definition, levels, day)
    if not codes:
        return ()
    inside = np.isin(np.array(codes, dtype=str), np.array(cohort.golfers, dtype=str))
    categories = (facts.levels, facts.sexes, facts.age_groups())
    return tuple(
        row
        for margin, values in zip(MARGINS, categories, strict=True)
        for row in _margin_rows(margin, values, inside, levels)
    )


def in_order(margin: str, categories: Iterable[str], levels: Sequence[Level]) -> tuple[str, ...]:
    """Categories of a margin, each once: levels from the best player down, ages rising.

    Golfers of whom the fact is not known come last.
    """
    kinds = {"professional": 0, "handicap": 1, "none": 2}
    by_level = sorted(
        levels, key=lambda one: (kinds[one.kind], -np.inf if one.above is None else one.above)
    )
    known = {
        "level": [level.key for level in by_level],
        "sex": ["female", "male", UNKNOWN],
        "age": [*(age_group(float(low)) for low, _ in AGE_GROUPS), UNKNOWN],
    }[margin]
    return tuple(sorted(set(categories), key=known.index))


def _margin_rows(
    margin: str, values: NDArray[np.str_], inside: NDArray[np.bool_], levels: Sequence[Level]
) -> list[CoverageRow]:
    rows = []
    everyone, held = inside.size, int(np.count_nonzero(inside))
    for category in in_order(margin, values.tolist(), levels):
        of_it = values == category
        there = int(np.count_nonzero(of_it))
        reached = int(np.count_nonzero(of_it & inside))
        low, high = (float(x) for x in wilson_interval(reached, there, COVERAGE_CONFIDENCE))
        overall = held / everyone
        standing = "as expected"
        if not low <= overall <= high:
            standing = "missing" if high < overall else "more than expected"
        rows.append(
            CoverageRow(
                margin=margin,
                category=category,
                roster=there,
                cohort=reached,
                roster_share=there / everyone,
                cohort_share=reached / held if held else 0.0,
                reached=reached / there,
                reached_low=low,
                reached_high=high,
                standing=standing,
            )
        )
    return rows
