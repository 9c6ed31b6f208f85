"""The roll: which stored swings may enter norms, and what each cohort's rules exclude."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.golfer_facts import GolferFacts, golfer_facts, golfer_rules
from norms.cohort.levels import check_levels
from norms.errors import CohortRefused
from norms.records import CohortDefinition, Exclusion, Golfer, Level, SwingPool

NOT_ON_ROSTER: Final = "golfer is not on the roster"
NO_GUARDIAN: Final = "golfer is under age, and no guardian's word on norms is recorded"
NO_CONSENT: Final = "golfer did not agree that swings enter norms"
PERSON_DECIDED: Final = "left out by a person's decision"
OTHER_CLUB: Final = "another club"
OTHER_LAB: Final = "recorded at another lab"
OTHER_DAYS: Final = "recorded on a day outside the range"
LOW_QUALITY: Final = "too large a share of a phase was filled"

Mask = NDArray[np.bool_]
Attrition = dict[str, int]
"""Swings lost by rule, in the order the rules apply; each swing at the first that excludes it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Roll:
    """The swings of a pool that may enter norms, ready to be divided into cohorts.

    Attributes
    ----------
    pool : SwingPool
    rows : ndarray of int, shape (s,)
        Admitted rows of the pool by golfer, day and swing code, so that no result depends on the
        order in which the pool was read.
    golfers, clubs, labs : ndarray of str, shape (s,)
        Of each admitted swing, in the order of ``rows``.
    days : ndarray of datetime64[D], shape (s,)
    facts : GolferFacts
        The golfer's level, handicap, sex and age on the day of each admitted swing.
    refused : Mapping of str to ndarray of bool
        By rule that keeps swings out of every cohort, the rows of the whole pool it concerns.
    exclusions : tuple of Exclusion
    attrition : dict of str to int
        Swings of the pool that were not admitted, by rule.
    """

    pool: SwingPool
    rows: NDArray[np.intp]
    golfers: NDArray[np.str_]
    clubs: NDArray[np.str_]
    labs: NDArray[np.str_]
    days: NDArray[np.datetime64]
    facts: GolferFacts
    refused: Mapping[str, Mask]
    exclusions: tuple[Exclusion, ...]
    attrition: Attrition

    @property
    def levels(self) -> NDArray[np.str_]:
        """Level key of the golfer on the day of each admitted swing, shape (s,)."""
        return self.facts.levels


def call_roll(
    pool: SwingPool,
    golfers: Mapping[str, Golfer],
    levels: Sequence[Level],
    exclusions: Sequence[Exclusion] = (),
) -> Roll:
    """Admit the swings of a pool and give each its golfer's facts as of its day.

    Parameters
    ----------
    pool : SwingPool
    golfers : Mapping of str to Golfer
        The roster by code.
    levels : sequence of Level
    exclusions : sequence of Exclusion
        What persons decided to leave out.

    Returns
    -------
    Roll

    Raises
    ------
    CohortRefused
        If the table of levels leaves a gap or overlaps, a handicap is impossible, a swing's code
        stands twice in the pool, or a curve holds a value that is not a number.
    """
    check_levels(levels)
    _check_pool(pool)
    codes, days = np.array(pool.golfers, dtype=str), np.array(pool.recorded_on, "datetime64[D]")
    refused = _refused_rows(pool, golfers, exclusions)
    lost, attrition = np.full(codes.shape, False), Attrition()
    for rule, concerned in refused.items():
        attrition[rule] = int(np.count_nonzero(concerned & ~lost))
        lost |= concerned
    order = np.lexsort((np.array(pool.swings, dtype=str), days, codes))
    rows = order[~lost[order]]
    return Roll(
        pool=pool,
        rows=rows,
        golfers=codes[rows],
        clubs=np.array(pool.clubs, dtype=str)[rows],
        labs=np.array(pool.labs, dtype=str)[rows],
        days=days[rows],
        facts=golfer_facts(golfers, [(pool.golfers[r], pool.recorded_on[r]) for r in rows], levels),
        refused=refused,
        exclusions=tuple(exclusions),
        attrition=attrition,
    )


def _refused_rows(
    pool: SwingPool, golfers: Mapping[str, Golfer], exclusions: Sequence[Exclusion]
) -> dict[str, Mask]:
    """Rows of the pool that enter no cohort, by rule, in the order the rules apply."""
    known = np.array([code in golfers for code in pool.golfers], dtype=bool)
    willing = {code for code, golfer in golfers.items() if golfer.consents_norms}
    agreed = np.array([code in willing for code in pool.golfers], dtype=bool)
    waiting = {code for code, golfer in golfers.items() if golfer.needs_guardian} - willing
    no_word = np.array([code in waiting for code in pool.golfers], dtype=bool)
    refused = {NOT_ON_ROSTER: ~known}
    if waiting:
        refused[NO_GUARDIAN] = no_word
    refused[NO_CONSENT] = known & ~agreed & ~no_word
    if exclusions:
        decided = [excluded_rows(pool, exclusion) for exclusion in exclusions]
        refused[PERSON_DECIDED] = np.logical_or.reduce(decided)
    return refused


def excluded_rows(pool: SwingPool, exclusion: Exclusion) -> Mask:
    """Rows of the pool that a decision leaves out, shape (s,)."""
    if exclusion.golfer is not None:
        return np.array([code == exclusion.golfer for code in pool.golfers], dtype=bool)
    return np.array([code == exclusion.swing for code in pool.swings], dtype=bool)


def cohort_rules(roll: Roll, definition: CohortDefinition) -> dict[str, Mask]:
    """Admitted swings that a definition excludes, by rule, each of shape (s,), in order.

    Raises
    ------
    CohortRefused
        If the definition asks for a quality that the pool does not know.
    """
    d = definition
    rules: dict[str, Mask] = {OTHER_CLUB: roll.clubs != d.club}
    rules |= golfer_rules(roll.facts, d)
    if d.labs:
        rules[OTHER_LAB] = ~np.isin(roll.labs, d.labs)
    if (d.recorded_from, d.recorded_to) != (None, None):
        early = roll.days < np.datetime64(d.recorded_from or "0001-01-01", "D")
        rules[OTHER_DAYS] = early | (roll.days > np.datetime64(d.recorded_to or "9999-12-31", "D"))
    if d.largest_filled_share is not None:
        if roll.pool.filled_share is None:
            raise CohortRefused(
                f"{d.label}: asks for a largest filled share, which these swings do not state; "
                "leave the rule out",
                code="quality_unknown",
            )
        rules[LOW_QUALITY] = roll.pool.filled_share[roll.rows] > d.largest_filled_share
    return rules


def _check_pool(pool: SwingPool) -> None:
    twice = [code for code, count in Counter(pool.swings).items() if count > 1]
    if twice:
        raise CohortRefused(
            f"swing {twice[0]} stands twice among the swings; keep one of them", code="swing_twice"
        )
    broken = np.flatnonzero(~np.isfinite(pool.curves_cm).all(axis=(1, 2)))
    if broken.size:
        raise CohortRefused(
            f"swing {pool.swings[broken[0]]}: its curves hold a value that is not a number; "
            "collect its capture again",
            code="curve_not_finite",
        )
