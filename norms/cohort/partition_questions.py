"""Which groups an edition asks about: sex, hand, age and club, each held to one common level."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from hashlib import sha256
from itertools import combinations
from typing import Final

import numpy as np

from norms.cohort.bands import PRIVACY_MINIMUM
from norms.cohort.partition import answer_partition
from norms.errors import CohortRefused
from norms.records import Cohort, CohortDefinition, Golfer, PartitionAnswer

JUNIOR_TO: Final = 17
SENIOR_FROM: Final = 50
"""Ages at which golf's own age groups change: common practice, not a finding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartitionQuestion:
    """Two cohorts that might need norms of their own.

    Attributes
    ----------
    key : str
        E.g. ``"driver/sex"``.
    words : str
    first, second : Cohort
    """

    key: str
    words: str
    first: Cohort
    second: Cohort


def partition_questions(
    cohorts: Sequence[Cohort], golfers: Mapping[str, Golfer], day: date
) -> tuple[PartitionQuestion, ...]:
    """The questions an edition asks, in order of key.

    Parameters
    ----------
    cohorts : sequence of Cohort
        One for each club, golfers of every level.
    golfers : Mapping of str to Golfer
        The roster by code.
    day : datetime.date
        Ages are those reached in the year of this day.
    """
    questions = [
        question for cohort in cohorts for question in _within_club(cohort, golfers, day.year)
    ]
    for first, second in combinations(cohorts, 2):
        clubs = first.definition.club, second.definition.club
        questions.append(
            PartitionQuestion(
                key=f"{clubs[0]} or {clubs[1]}/club",
                words=f"club: {clubs[0]} or {clubs[1]}",
                first=first,
                second=second,
            )
        )
    return tuple(sorted(questions, key=lambda question: question.key))


def _within_club(
    cohort: Cohort, golfers: Mapping[str, Golfer], year: int
) -> Iterator[PartitionQuestion]:
    club = cohort.definition.club
    ages = {code: _age(golfers[code], year) for code in cohort.golfers}

    def group(title: str, belongs: Callable[[str], bool]) -> Cohort:
        return _group(cohort, title, [belongs(code) for code in cohort.golfers])

    adults = group(
        f"ages {JUNIOR_TO + 1} to {SENIOR_FROM - 1}",
        lambda code: JUNIOR_TO < ages[code] < SENIOR_FROM,
    )
    pairs = (
        (
            "sex",
            group("women", lambda code: golfers[code].sex == "female"),
            group("men", lambda code: golfers[code].sex == "male"),
        ),
        (
            "hand",
            group("left-handed", lambda code: golfers[code].hand == "left"),
            group("right-handed", lambda code: golfers[code].hand == "right"),
        ),
        ("juniors", group(f"to age {JUNIOR_TO}", lambda code: ages[code] <= JUNIOR_TO), adults),
        (
            "seniors",
            group(f"from age {SENIOR_FROM}", lambda code: ages[code] >= SENIOR_FROM),
            adults,
        ),
    )
    for name, first, second in pairs:
        yield PartitionQuestion(
            key=f"{club}/{name}", words=f"{name}, among {club} swings", first=first, second=second
        )


def _age(golfer: Golfer, year: int) -> float:
    return np.nan if golfer.birth_year is None else float(year - golfer.birth_year)


def _group(cohort: Cohort, title: str, belongs: Sequence[bool]) -> Cohort:
    """Golfers of a cohort who belong to a group, as a cohort of its own."""
    keep = np.array(belongs, dtype=bool)
    club = cohort.definition.club
    named = CohortDefinition(key=f"{club}/{title}", club=club, name=title, title=title)
    return replace(cohort.of_golfers(keep), definition=named)


def answer_question(
    question: PartitionQuestion,
    handicaps: Mapping[str, float],
    *,
    questions: int,
    noise_cm: float,
    level: float,
    seed: int,
    relabellings: int,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> PartitionAnswer:
    """Answer one of several questions so that all together keep to one level.

    Each question is held to ``level`` over the number of questions (Bonferroni). Holm's larger
    steps would not hold here: a question answered "own" for one feature may still ask in vain for
    others, so it cannot be counted as settled.

    Parameters
    ----------
    question : PartitionQuestion
    handicaps : Mapping of str to float
        Golfers' handicaps: groups of different level differ for that reason too.
    questions : int
        How many are asked together.
    noise_cm : float
        Nodes whose spread is below it are not compared.
    level : float
        Chance of a false "own" in any of the questions, curves and features together.
    seed, relabellings : int
        The question's own seed is drawn from ``seed`` and its key.
    smallest_cell : int

    Raises
    ------
    CohortRefused
        With fewer golfers in a group than the smallest cell.
    """
    fewest = min(len(question.first.golfers), len(question.second.golfers))
    if fewest < smallest_cell:
        raise CohortRefused(
            f"{question.words}: {fewest} golfers in a group; {smallest_cell} are needed",
            code="too_few_golfers",
        )
    answer = answer_partition(
        question.words,
        question.first,
        question.second,
        noise_cm=noise_cm,
        seed=_own_seed(seed, question.key),
        level=level / questions,
        relabellings=relabellings,
    )
    return replace(
        answer,
        questions=questions,
        median_handicaps=(
            _median_handicap(question.first, handicaps),
            _median_handicap(question.second, handicaps),
        ),
    )


def _own_seed(seed: int, key: str) -> int:
    """A seed that does not change when other questions come or go."""
    return int.from_bytes(sha256(f"{seed} {key}".encode()).digest()[:4], "big")


def _median_handicap(cohort: Cohort, handicaps: Mapping[str, float]) -> float | None:
    known = [handicaps[code] for code in cohort.golfers if code in handicaps]
    return float(np.median(known)) if known else None
