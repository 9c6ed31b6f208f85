"""Swings and golfers lost rule by rule, and who was left out by name and reason."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from norms.cohort.roll import (
    LOW_QUALITY,
    NO_CONSENT,
    NO_GUARDIAN,
    NOT_ON_ROSTER,
    PERSON_DECIDED,
    Roll,
    cohort_rules,
    excluded_rows,
)
from norms.records import CohortDefinition


@dataclass(frozen=True, slots=True, kw_only=True)
class AttritionStep:
    """What one rule cost, the rules being applied one after another.

    Attributes
    ----------
    rule : str
        In words.
    swings, golfers : int
        Lost to this rule and to none before it; a golfer is lost with the last of their swings.
    swings_left, golfers_left : int
        Still there after it.
    """

    rule: str
    swings: int
    golfers: int
    swings_left: int
    golfers_left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A golfer of whom swings were left out, and why.

    Attributes
    ----------
    golfer : str
    rule : str
    swings : int
    reason, decided_by : str or None
        Of a person's decision.
    """

    golfer: str
    rule: str
    swings: int
    reason: str | None = None
    decided_by: str | None = None


def attrition_of(roll: Roll, definition: CohortDefinition) -> tuple[AttritionStep, ...]:
    """Golfers and swings that each rule costs, from the whole pool down to the cohort.

    Parameters
    ----------
    roll : Roll
    definition : CohortDefinition

    Returns
    -------
    tuple of AttritionStep
        The last step leaves the golfers and swings of the cohort.
    """
    rules = dict(roll.refused)
    for rule, excluded in cohort_rules(roll, definition).items():
        rules[rule] = np.full(len(roll.pool.swings), False)
        rules[rule][roll.rows[excluded]] = True
    return attrition_steps(np.array(roll.pool.golfers, dtype=str), rules.items())


def left_out(roll: Roll, definition: CohortDefinition | None = None) -> tuple[LeftOut, ...]:
    """Who was left out and why: not on the roster, no consent, a person's decision, quality.

    Another club or level is no exclusion and is not listed; see `attrition_of` for those.

    Parameters
    ----------
    roll : Roll
    definition : CohortDefinition, optional
        With it, what its rule of quality costs of its own swings; without it, what is left out of
        every cohort.
    """
    if definition is not None:
        return tuple(_left_out_for_quality(roll, definition))
    return tuple(_left_out_of_every_cohort(roll))


def _left_out_of_every_cohort(roll: Roll) -> Iterator[LeftOut]:
    codes = np.array(roll.pool.golfers, dtype=str)
    for rule in (NOT_ON_ROSTER, NO_GUARDIAN, NO_CONSENT):
        if rule in roll.refused:
            yield from _per_golfer(codes[roll.refused[rule]], rule)
    for exclusion in roll.exclusions:
        concerned = excluded_rows(roll.pool, exclusion)
        owners = codes[concerned]
        # A decision outlives the swings it was about; it stays listed, with no swings.
        yield LeftOut(
            golfer=exclusion.golfer or (str(owners[0]) if owners.size else ""),
            rule=PERSON_DECIDED,
            swings=int(owners.size),
            reason=exclusion.reason + ("" if exclusion.golfer else f" (swing {exclusion.swing})"),
            decided_by=exclusion.decided_by,
        )


def _left_out_for_quality(roll: Roll, definition: CohortDefinition) -> Iterator[LeftOut]:
    chosen = np.full(roll.rows.shape, True)
    for rule, excluded in cohort_rules(roll, definition).items():
        if rule == LOW_QUALITY:
            yield from _per_golfer(roll.golfers[chosen & excluded], rule)
        chosen &= ~excluded


def _per_golfer(codes: NDArray[np.str_], rule: str) -> Iterator[LeftOut]:
    for code, count in zip(*np.unique(codes, return_counts=True), strict=True):
        yield LeftOut(golfer=str(code), rule=rule, swings=int(count))


def attrition_steps(
    golfers: NDArray[np.str_], rules: Iterable[tuple[str, NDArray[np.bool_]]]
) -> tuple[AttritionStep, ...]:
    """Apply rules one after another and count what each costs.

    Parameters
    ----------
    golfers : ndarray of str, shape (s,)
        Golfer of each swing.
    rules : iterable of (str, ndarray of bool, shape (s,))
        A rule in words and the swings it excludes, in the order in which they apply.
    """
    _, codes = np.unique(golfers, return_inverse=True)
    left = np.full(codes.shape, True)
    steps = []
    for rule, excluded in rules:
        before = left
        left = before & ~excluded
        golfers_left = np.unique(codes[left]).size
        steps.append(
            AttritionStep(
                rule=rule,
                swings=int(np.count_nonzero(before & excluded)),
                golfers=int(np.unique(codes[before]).size - golfers_left),
                swings_left=int(np.count_nonzero(left)),
                golfers_left=int(golfers_left),
            )
        )
    return tuple(steps)
