"""The director's jobs: draft, review, approve, retire, compare and check standards."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from norms.cohort.annex_contents import noise_budgets
from norms.cohort.edition import verify_edition
from norms.errors import StandardRefused
from norms.records import CohortDefinition, Edition
from norms.records.standard import (
    Decision,
    QuantityErrors,
    Standard,
    StandardFinding,
)
from norms.standards.asked import RangeAsked, RequirementAsked, StandardAsked
from norms.standards.evidence import evidence_cell
from norms.standards.life import approve, retire, submit
from norms.standards.quantities import quantity_errors
from norms.standards.resolve import for_whom, resolve
from norms.standards.validate import check_standard
from pipelines.files import write_whole
from pipelines.settings import levels_of, settings_of
from pipelines.standard_file import StandardFile, read_standard
from pipelines.store import Store
from pipelines.write_standard import USUAL_PERCENTILES, draft_text, refuse_existing


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftRequest:
    """What a draft is to hold; ranges are drafted as percentiles and edited by hand after.

    Attributes
    ----------
    file : Path
        Must not exist yet.
    name, title : str
    edition, evidence : str
        Edition, and key of its cohort.
    requirements : sequence of RequirementAsked
        Quantities and their ranges; the usual percentiles where a range is empty.
    review_on : datetime.date
    rationale : str
        May be written later, by hand.
    golfers : CohortDefinition or None
        Narrower rules of for whom it is.
    """

    file: Path
    name: str
    title: str
    edition: str
    evidence: str
    requirements: Sequence[RequirementAsked]
    review_on: date
    rationale: str = ""
    golfers: CohortDefinition | None = None


def draft_standard(
    store: Store, request: DraftRequest
) -> tuple[Standard, tuple[StandardFinding, ...]]:
    """Write a standard as a file to be edited, with its limits read off the edition.

    Returns
    -------
    standard : Standard
    findings : tuple of StandardFinding
        Everything that a review would refuse or warn of.

    Raises
    ------
    StandardRefused
        If the file exists, or the edition does not bear what is asked.
    """
    refuse_existing(request.file)
    edition = store.edition(request.edition)
    standard, faults = resolve(_asked(request, edition), edition)
    if standard is None:
        raise StandardRefused("\n".join(one.message for one in faults), code=faults[0].code)
    findings = check_standard(standard, edition, standard_errors(edition, standard))
    write_whole(request.file, draft_text(standard, edition, request.golfers), None)
    return standard, findings


def _asked(request: DraftRequest, edition: Edition) -> StandardAsked:
    usual = RangeAsked(low_percentile=USUAL_PERCENTILES[0], high_percentile=USUAL_PERCENTILES[1])
    return StandardAsked(
        name=request.name,
        title=request.title,
        edition=request.edition,
        edition_hash=edition.content_hash,
        evidence=request.evidence,
        requirements=tuple(
            one if one.range.ways else replace(one, range=usual) for one in request.requirements
        ),
        rationale=request.rationale,
        review_on=request.review_on,
        golfers=request.golfers,
    )


def narrowed(store: Store, request: DraftRequest, facts: Mapping[str, Any]) -> DraftRequest:
    """The request for some of the evidence's golfers alone.

    Parameters
    ----------
    store : Store
    request : DraftRequest
    facts : Mapping of str to value
        Sex, age and handicap as in `CohortDefinition`; what they do not say stays as it is in
        the evidence. A range of handicap takes the place of the evidence's levels.

    Raises
    ------
    StandardRefused
        If the edition has no such cohort, or it is withheld.
    """
    if not facts:
        return request
    edition = store.edition(request.edition)
    cell = evidence_cell(edition, request.evidence)
    whole = for_whom(_asked(request, edition), cell)
    if {"handicap_above", "handicap_to"} & set(facts):
        whole = replace(whole, levels=())
    return replace(request, golfers=replace(whole, title=None, **facts))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadStandard:
    """A file of a standard, resolved and held against its evidence."""

    file: StandardFile
    standard: Standard
    edition: Edition
    findings: tuple[StandardFinding, ...]


def read_and_check(store: Store, path: Path) -> ReadStandard:
    """Read a standard's file and hold it against its edition.

    Raises
    ------
    StandardRefused
        With file and line, one line for every fault.
    """
    file = read_standard(path, levels_of(store))
    edition = store.edition(file.asked.edition)
    standard, faults = resolve(file.asked, edition)
    file.refuse(faults)
    if standard is None:
        raise StandardRefused(f"{path}: cannot be resolved", code="standard_file")
    findings = check_standard(standard, edition, standard_errors(edition, standard))
    file.refuse(findings)
    return ReadStandard(file=file, standard=standard, edition=edition, findings=findings)


def review_standard(
    store: Store, path: Path, *, role: str, reason: str, on: date
) -> tuple[ReadStandard, Decision]:
    """Put a standard up for review: from now on the store holds its text.

    Raises
    ------
    StandardRefused
    """
    read = read_and_check(store, path)
    decisions = store.standards.decisions(read.standard.name)
    decision = submit(read.standard, read.findings, decisions, role=role, reason=reason, on=on)
    store.standards.submit(read.standard, decision)
    return read, decision


def approve_standard(
    store: Store, name: str, *, role: str, reason: str, on: date, override: str | None = None
) -> Decision:
    """Approve a standard that is in review.

    Raises
    ------
    StandardRefused
        As `norms.standards.life.approve`.
    """
    kept = store.standards.standard(name)
    edition = edition_of(store, kept.standard)
    findings = check_standard(kept.standard, edition, standard_errors(edition, kept.standard))
    decision = approve(
        kept.standard,
        edition,
        findings,
        kept.decisions,
        role=role,
        reason=reason,
        on=on,
        override=override,
        one_person=settings_of(store).one_person,
    )
    store.standards.decide(name, decision)
    return decision


def retire_standard(store: Store, name: str, *, role: str, reason: str, on: date) -> Decision:
    """Take a standard out of use; what was judged by it keeps its name and hash.

    Raises
    ------
    StandardRefused
    """
    kept = store.standards.standard(name)
    decision = retire(kept.standard, kept.decisions, role=role, reason=reason, on=on)
    store.standards.decide(name, decision)
    return decision


def edition_of(store: Store, standard: Standard) -> Edition:
    """The edition a standard rests on, refused where the store's has other numbers, or was changed.

    Numbers computed anew when a golfer was erased are let pass: what was approved stays approved.

    Raises
    ------
    StandardRefused
    """
    edition = store.edition(standard.edition)
    hashes = (standard.edition_hash, edition.content_hash)
    if not store.erasures.only_erased_since(standard.edition, *hashes):
        raise StandardRefused(
            f"standard {standard.name}: rests on edition {standard.edition} with fingerprint "
            f"{standard.edition_hash[:12]}, the store's has {edition.content_hash[:12]}; restore "
            "that edition, or retire the standard",
            code="other_edition",
        )
    if not verify_edition(edition):
        raise StandardRefused(
            f"standard {standard.name}: the numbers of edition {edition.name} are not those its "
            "fingerprint was taken over; restore the store from a copy",
            code="edition_changed",
        )
    return edition


def standing_of(store: Store, name: str) -> tuple[Standard, Decision]:
    """A standard and the last decision on it, for a page."""
    kept = store.standards.standard(name)
    return kept.standard, kept.decisions[-1]


def standard_errors(edition: Edition, standard: Standard) -> QuantityErrors | None:
    """Measurement error of a standard's quantities; None without a noise budget of its club."""
    noise = noise_budgets(edition).get(standard.golfers.club)
    if noise is None:
        return None
    return quantity_errors(noise, [one.quantity for one in standard.requirements])
