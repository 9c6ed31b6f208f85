"""What an edition holds beside its bands: whole-curve bands, partitions, centiles, weights."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from functools import partial
from math import isfinite
from typing import Any, Final

from norms.cohort.annex_contents import Sufficiencies, count_flags
from norms.cohort.annex_making import annex_of, attempt
from norms.cohort.club_centiles import CentileRows, centile_rows, club_handicaps, fit_club_centiles
from norms.cohort.edition import amended, club_cohorts
from norms.cohort.levels import levels_in
from norms.cohort.partition_questions import (
    PartitionQuestion,
    answer_question,
    partition_questions,
)
from norms.cohort.roll import Roll
from norms.cohort.screening import screen_cohort
from norms.cohort.simultaneous_bands import build_whole_curve_bands
from norms.cohort.sufficiency import edition_sufficiency
from norms.cohort.weights import weigh_cell
from norms.errors import CohortRefused
from norms.records import Annex, Cohort, CohortNorms, Edition, Golfer, Screening
from norms.records.annex import AnnexKind
from norms.records.centiles import CentilePlan
from norms.statistics.one_thread import on_one_thread

NOISE_CM: Final = 0.1
"""Least noise assumed of markers on the skin: common practice. What a filter leaves of a marker's
jitter is less, but says nothing of skin that moves over bone."""
NOISE_ASSUMED: Final = "common practice for markers on the skin"


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnexChoices:
    """Everything that decides a number of an annex and is not decided by the edition.

    Attributes
    ----------
    noise_cm : float
        The lab's noise: no spread of curves is believed to be smaller.
    noise_source : str
        Where it comes from, in words.
    whole_curve_level : float
        Share of new golfers' whole curves that a band is to hold.
    partition_level : float
        Chance of a false "own" in any of the partition questions.
    relabellings, seed : int
        Of the permutation tests.
    timing_features : tuple of str
        Features that say when rather than how far.
    """

    noise_cm: float = NOISE_CM
    noise_source: str = NOISE_ASSUMED
    whole_curve_level: float = 0.90
    partition_level: float = 0.05
    relabellings: int = 4_999
    seed: int = 20_260
    timing_features: tuple[str, ...] = ()


@on_one_thread
def with_annexes(
    edition: Edition, roll: Roll, golfers: Mapping[str, Golfer], choices: AnnexChoices
) -> Edition:
    """The edition with everything that is known beside its bands, and a hash over all of it.

    Parameters
    ----------
    edition : Edition
        As `norms.cohort.edition.build_edition` builds it.
    roll : Roll
        Of the same pool, roster, levels and exclusions.
    golfers : Mapping of str to Golfer
        The roster by code.
    choices : AnnexChoices

    Returns
    -------
    Edition
        A finding that cannot be had is an annex too, with the reason. Flagged golfers and golfers'
        handicaps are evidence, which stays in the academy.
    """
    clubs = club_cohorts(edition)
    newest = max(roll.pool.recorded_on)
    handicaps = {c.definition.club: club_handicaps(roll, c.definition.club) for c in clubs}
    smallest_cell = _smallest_cell(edition)
    plan = centile_plan(smallest_cell, choices)
    screenings = _screenings(edition.cells, choices)
    annexes = [
        *(_whole_curve_annex(cell, choices) for cell in edition.cells),
        *_screening_annexes(screenings),
        *_partition_annexes(
            partition_questions(clubs, golfers, newest), handicaps, smallest_cell, choices
        ),
        *(
            _centile_annex(c, centile_rows(c, handicaps[c.definition.club], golfers, newest), plan)
            for c in clubs
        ),
        _sufficiency_annex(edition),
        *_weighting_annexes(edition, golfers, newest, smallest_cell),
    ]
    parameters = {**edition.parameters, "annexes": asdict(choices)}
    return amended(
        edition,
        annexes=tuple(annexes),
        parameters=parameters,
        evidence={**edition.evidence, **_evidence(screenings, handicaps)},
    )


def centile_plan(smallest_cell: int, choices: AnnexChoices) -> CentilePlan:
    """Plan under which no group smaller than the academy's smallest cell stands for a centile."""
    usual = CentilePlan()
    return replace(
        usual,
        fewest_near=max(usual.fewest_near, 2 * smallest_cell),
        fewest_each_side=max(usual.fewest_each_side, smallest_cell),
        spread_floor_cm=choices.noise_cm,
    )


def _smallest_cell(edition: Edition) -> int:
    stated: dict[str, Any] = dict(edition.parameters)
    return int(stated["smallest_cell"])


def _finding(kind: AnnexKind, subject: str, make: Callable[[], object]) -> Annex:
    return annex_of(kind, subject, attempt(make))


def _centile_annex(cohort: Cohort, rows: CentileRows, plan: CentilePlan) -> Annex:
    return _finding(
        "centiles", cohort.definition.club, lambda: fit_club_centiles(cohort, rows, plan)
    )


def _whole_curve_annex(cell: CohortNorms, choices: AnnexChoices) -> Annex:
    key = cell.cohort.definition.key
    if cell.bands is None:
        return Annex(kind="whole_curve", subject=key, withheld=cell.withheld)
    return _finding(
        "whole_curve",
        key,
        lambda: build_whole_curve_bands(
            cell.cohort, noise_cm=choices.noise_cm, level=choices.whole_curve_level
        ),
    )


def _partition_annexes(
    questions: Sequence[PartitionQuestion],
    handicaps: Mapping[str, Mapping[str, float]],
    smallest_cell: int,
    choices: AnnexChoices,
) -> list[Annex]:
    answer = partial(
        answer_question,
        questions=len(questions),
        noise_cm=choices.noise_cm,
        level=choices.partition_level,
        seed=choices.seed,
        relabellings=choices.relabellings,
        smallest_cell=smallest_cell,
    )
    return [
        _finding(
            "partition",
            question.key,
            partial(answer, question, handicaps[question.first.definition.club]),
        )
        for question in questions
    ]


def _screenings(
    cells: Sequence[CohortNorms], choices: AnnexChoices
) -> dict[str, Screening | CohortRefused]:
    """Screening of every cell that shows bands, by cohort key, or why there is none."""
    found: dict[str, Screening | CohortRefused] = {}
    for cell in cells:
        if cell.bands is None:
            continue
        key = cell.cohort.definition.key
        try:
            found[key] = screen_cohort(
                cell.cohort, noise_cm=choices.noise_cm, timing_features=choices.timing_features
            )
        except CohortRefused as refusal:
            found[key] = refusal
    return found


def _screening_annexes(screenings: Mapping[str, Screening | CohortRefused]) -> list[Annex]:
    return [
        annex_of(
            "screening", key, found if isinstance(found, CohortRefused) else count_flags(found)
        )
        for key, found in screenings.items()
    ]


def _sufficiency_annex(edition: Edition) -> Annex:
    graded = Sufficiencies(cells=edition_sufficiency(edition))
    return annex_of("sufficiency", "", graded)


def _weighting_annexes(
    edition: Edition, golfers: Mapping[str, Golfer], day: date, smallest_cell: int
) -> list[Annex]:
    levels = levels_in(edition)
    return [
        _finding(
            "weighting",
            cell.cohort.definition.key,
            partial(weigh_cell, cell, golfers, levels, day, smallest_cell),
        )
        for cell in edition.cells
        if cell.bands is not None
    ]


def _evidence(
    screenings: Mapping[str, Screening | CohortRefused],
    handicaps: Mapping[str, Mapping[str, float]],
) -> dict[str, object]:
    """What names golfers: who is flagged and why, and the handicaps behind the centiles."""
    return {
        "flags": {
            key: [
                {name: _plain(value) for name, value in asdict(flag).items()}
                for flag in found.flags
            ]
            for key, found in screenings.items()
            if isinstance(found, Screening)
        },
        "handicaps": {club: dict(sorted(known.items())) for club, known in handicaps.items()},
    }


def _plain(value: object) -> object:
    """A limit that does not exist has no number."""
    return None if isinstance(value, float) and not isfinite(value) else value
