"""The findings inside an edition's annexes, as the records that they were."""

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

from norms.cohort.sufficiency import Sufficiency
from norms.records import (
    Annex,
    Edition,
    LabTerms,
    MeasurementError,
    PartitionAnswer,
    Screening,
    WholeCurveBands,
)
from norms.records.annex import AnnexKind
from norms.records.club_centiles import ClubCentiles
from norms.records.plain import put_together
from norms.records.weighting import Weighting

Found = TypeVar("Found")


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagCount:
    """Golfers of a cohort who stand out in one respect; nobody is named."""

    subject: str
    reason: str
    method: str
    golfers: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreeningCounts:
    """Screening of one cohort, counted.

    Attributes
    ----------
    cohort_key : str
    golfers, flagged : int
        Screened, and with at least one flag.
    noise_cm : float
    counts : tuple of FlagCount
    """

    cohort_key: str
    golfers: int
    flagged: int
    noise_cm: float
    counts: tuple[FlagCount, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sufficiencies:
    """Grades of every cell, in the order of the edition."""

    cells: tuple[Sufficiency, ...]


def count_flags(screening: Screening) -> ScreeningCounts:
    """A screening without its golfers."""
    counts = Counter((flag.subject, flag.reason, flag.method) for flag in screening.flags)
    return ScreeningCounts(
        cohort_key=screening.cohort_key,
        golfers=len(screening.golfers),
        flagged=len(screening.flagged()),
        noise_cm=screening.noise_cm,
        counts=tuple(
            FlagCount(subject=subject, reason=reason, method=method, golfers=golfers)
            for (subject, reason, method), golfers in sorted(counts.items())
        ),
    )


def whole_curve_bands(edition: Edition) -> dict[str, WholeCurveBands]:
    """Whole-curve bands by cohort key, where there are any."""
    return findings_of(edition, "whole_curve", WholeCurveBands)


def screening_counts(edition: Edition) -> dict[str, ScreeningCounts]:
    """Screening by cohort key."""
    return findings_of(edition, "screening", ScreeningCounts)


def partition_answers(edition: Edition) -> dict[str, PartitionAnswer]:
    """Answers by question."""
    return findings_of(edition, "partition", PartitionAnswer)


def club_centiles(edition: Edition) -> dict[str, ClubCentiles]:
    """Centiles by handicap, by club."""
    return findings_of(edition, "centiles", ClubCentiles)


def sufficiencies(edition: Edition) -> tuple[Sufficiency, ...]:
    """Grades of the cells; none in an edition without annexes."""
    found = findings_of(edition, "sufficiency", Sufficiencies)
    return found[""].cells if "" in found else ()


def noise_budgets(edition: Edition) -> dict[str, MeasurementError]:
    """Measurement error by club; empty for an edition built before it was kept."""
    return findings_of(edition, "noise", MeasurementError)


def lab_terms_in(edition: Edition) -> list[LabTerms]:
    """How labs are put in the terms of the reference lab, by club and lab."""
    return list(findings_of(edition, "lab_terms", LabTerms).values())


def weightings(edition: Edition) -> dict[str, Weighting]:
    """What weights to the membership do, by cohort key."""
    return findings_of(edition, "weighting", Weighting)


def withheld_findings(edition: Edition, kind: AnnexKind) -> dict[str, str]:
    """Why there is no finding, by subject."""
    return {
        annex.subject: annex.withheld
        for annex in edition.annexes
        if annex.kind == kind and annex.withheld is not None
    }


def findings_of(edition: Edition, kind: AnnexKind, record: type[Found]) -> dict[str, Found]:
    """The records of one kind by subject, those withheld left out."""
    kind_of_record: Any = record
    return {
        annex.subject: _record_in(annex, kind_of_record)
        for annex in edition.annexes
        if annex.kind == kind and annex.withheld is None
    }


@lru_cache(maxsize=512)
def _record_in(annex: Annex, record: Any) -> Any:
    """The record in an annex; put together once, because many placements ask for it."""
    return put_together(record, annex.document, annex.arrays)
