"""What a cohort may ask of a golfer on a day: level, handicap, sex, age."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.levels import level_for
from norms.records import CohortDefinition, Golfer, Level

OTHER_LEVEL: Final = "another level on the day of the swing"
OTHER_SEX: Final = "another sex, or none on the roster"
OTHER_AGE: Final = "another age in the year of the swing, or no year of birth on the roster"
OTHER_HANDICAP: Final = "handicap on the day outside the range, or none"

AGE_GROUPS: Final = ((0, 17), (18, 34), (35, 49), (50, 64), (65, 200))
UNKNOWN: Final = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GolferFacts:
    """Facts of golfers, each on a day of their own.

    Attributes
    ----------
    levels, sexes : ndarray of str, shape (n,)
        Level key; sex, or ``"unknown"``.
    handicaps, ages : ndarray, shape (n,)
        NaN where there is none; a playing professional has no handicap.
    """

    levels: NDArray[np.str_]
    sexes: NDArray[np.str_]
    handicaps: NDArray[np.float64]
    ages: NDArray[np.float64]

    def age_groups(self) -> NDArray[np.str_]:
        """Age group of each golfer, in words."""
        return np.array([age_group(age) for age in self.ages], dtype=str)


def golfer_facts(
    golfers: Mapping[str, Golfer], days: Sequence[tuple[str, date]], levels: Sequence[Level]
) -> GolferFacts:
    """Facts of golfers as they were on days.

    Parameters
    ----------
    golfers : Mapping of str to Golfer
        The roster by code.
    days : sequence of (str, datetime.date)
        Golfer and day; the same pair is looked up once.
    levels : sequence of Level

    Raises
    ------
    CohortRefused
        If a handicap is impossible.
    """
    known = {who: _facts(golfers[who[0]], who[1], levels) for who in set(days)}
    rows = [known[who] for who in days]
    return GolferFacts(
        levels=np.array([row[0] for row in rows], dtype=str),
        sexes=np.array([row[1] for row in rows], dtype=str),
        handicaps=np.array([row[2] for row in rows], dtype=float),
        ages=np.array([row[3] for row in rows], dtype=float),
    )


def _facts(golfer: Golfer, day: date, levels: Sequence[Level]) -> tuple[str, str, float, float]:
    handicap = golfer.handicap_on(day)
    level = level_for(handicap, levels, professional=golfer.professional)
    index = np.nan if handicap is None or golfer.professional else handicap
    # The roster holds no more than the year of birth: age is what the golfer turns that year.
    age = np.nan if golfer.birth_year is None else float(day.year - golfer.birth_year)
    return level.key, golfer.sex or UNKNOWN, index, age


def golfer_rules(facts: GolferFacts, definition: CohortDefinition) -> dict[str, NDArray[np.bool_]]:
    """Who a definition's rules about golfers exclude, by rule; the level's rule always stands."""
    d = definition
    wanted = [level.key for level in d.levels] or ([d.level.key] if d.level else None)
    everyone = np.full(facts.levels.shape, False)
    rules = {OTHER_LEVEL: everyone if wanted is None else ~np.isin(facts.levels, wanted)}
    if d.sex is not None:
        rules[OTHER_SEX] = facts.sexes != d.sex
    if (d.age_from, d.age_to) != (None, None):
        rules[OTHER_AGE] = ~_within(facts.ages, d.age_from, d.age_to)
    if (d.handicap_above, d.handicap_to) != (None, None):
        inside = _within(facts.handicaps, d.handicap_above, d.handicap_to)
        rules[OTHER_HANDICAP] = ~(inside & (facts.handicaps != d.handicap_above))
    return rules


def unmet_rules(
    definition: CohortDefinition,
    day: date,
    levels: Sequence[Level],
    *,
    golfer: Golfer | None,
    handicap: float | None,
) -> tuple[str, ...]:
    """Rules about golfers that one golfer does not meet on a day, or is not known to meet.

    Parameters
    ----------
    definition : CohortDefinition
    day : datetime.date
    levels : sequence of Level
    golfer : Golfer or None
        None for someone who is not on the roster.
    handicap : float or None
        Declared for the day; goes before the roster's.

    Raises
    ------
    CohortRefused
        If the handicap is impossible.
    """
    if golfer is not None:
        level, sex, index, age = _facts(golfer, day, levels)
    else:
        level, sex, index, age = UNKNOWN, UNKNOWN, np.nan, np.nan
    if handicap is not None:
        level, index = level_for(handicap, levels).key, handicap
    facts = GolferFacts(
        levels=np.array([level]),
        sexes=np.array([sex]),
        handicaps=np.array([index]),
        ages=np.array([age]),
    )
    rules = golfer_rules(facts, definition)
    return tuple(rule for rule, excluded in rules.items() if excluded[0])


def _within(
    values: NDArray[np.float64], low: float | None, high: float | None
) -> NDArray[np.bool_]:
    """Inside both ends; a missing value is inside nothing."""
    inside: NDArray[np.bool_] = np.isfinite(values)
    inside &= values >= (-np.inf if low is None else low)
    inside &= values <= (np.inf if high is None else high)
    return inside


def age_group(age: float) -> str:
    """Group of an age in years, in words; ``"unknown"`` for NaN."""
    if np.isnan(age):
        return UNKNOWN
    low, high = next(group for group in AGE_GROUPS if age <= group[1])
    if low == 0:
        return f"under {high + 1}"
    return f"{low} and over" if high == AGE_GROUPS[-1][1] else f"{low} to {high}"
