"""From a standard as written to one with limits, with every fault found on the way."""

from collections.abc import Iterable

import numpy as np

from norms.cohort.definitions import check_definition
from norms.errors import NormsError, StandardRefused
from norms.records import CohortDefinition, CohortNorms, Edition, FloatArray
from norms.records.standard import Requirement, Standard, StandardFinding
from norms.standards.asked import CAUTIONS, RequirementAsked, StandardAsked
from norms.standards.evidence import (
    Rules,
    centile_limits,
    edition_rules,
    evidence_cell,
    evidence_values,
    norm_of,
    percentile_limit,
)
from norms.standards.quantities import quantity_label
from norms.standards.review_plan import refuse_plan

_WAYS = {
    "numbers": "low and high",
    "percentiles": "low_percentile and high_percentile",
    "centiles": "low_centile and high_centile",
}


def resolve(
    asked: StandardAsked, edition: Edition
) -> tuple[Standard | None, tuple[StandardFinding, ...]]:
    """Read every limit off the edition.

    Parameters
    ----------
    asked : StandardAsked
    edition : Edition
        With its golfers.

    Returns
    -------
    standard : Standard or None
        None where anything was refused.
    findings : tuple of StandardFinding
        All refused.
    """
    try:
        _check_whole(asked, edition)
        cell = evidence_cell(edition, asked.evidence)
        golfers = for_whom(asked, cell)
    except NormsError as refusal:
        return None, (_refused(refusal.message, refusal.code, key=_key_of(refusal.code)),)
    found, faults = [], list(_doubles(asked.requirements))
    for place, one in enumerate(asked.requirements):
        try:
            found.append(_requirement(one, edition, cell))
        except StandardRefused as refusal:
            faults.append(_refused(refusal.message, refusal.code, place))
    if faults:
        return None, tuple(faults)
    return _standard(asked, edition, golfers, found), ()


def for_whom(asked: StandardAsked, cell: CohortNorms) -> CohortDefinition:
    """The golfers a standard speaks of.

    Without narrower rules these are the golfers of the evidence; on which days, at which lab and
    how well the evidence was recorded is not asked of a golfer.

    Raises
    ------
    CohortRefused
        If the narrower rules contradict themselves.
    """
    evidence = cell.cohort.definition
    narrower = asked.golfers
    if narrower is not None:
        check_definition(narrower)
        return narrower
    return CohortDefinition(
        key=asked.name,
        name=asked.name,
        title=evidence.label,
        club=evidence.club,
        levels=evidence.levels or ((evidence.level,) if evidence.level else ()),
        handicap_above=evidence.handicap_above,
        handicap_to=evidence.handicap_to,
        sex=evidence.sex,
        age_from=evidence.age_from,
        age_to=evidence.age_to,
    )


def _check_whole(asked: StandardAsked, edition: Edition) -> None:
    if asked.edition_hash is not None and asked.edition_hash != edition.content_hash:
        raise StandardRefused(
            f"was drafted on an edition {asked.edition} with fingerprint "
            f"{asked.edition_hash[:12]}, the one here has {edition.content_hash[:12]}; draft it "
            "anew, or name the edition it rests on",
            code="other_edition",
        )
    if not asked.requirements:
        raise StandardRefused("asks for nothing; state at least one requirement", code="empty")
    if not 0.0 < asked.wrong_rate <= 0.2:
        raise StandardRefused(
            f"wrong_rate {asked.wrong_rate:g}: above 0 and at most 0.2 is allowed; 0.05 is usual",
            code="wrong_rate",
        )
    refuse_plan(asked.swings, asked.days, asked.window_days)


def _key_of(code: str) -> str | None:
    return {
        "other_edition": "edition_hash",
        "wrong_rate": "wrong_rate",
        "plan": "swings",
        "window": "window_days",
        "evidence": "evidence",
        "evidence_withheld": "evidence",
        "definition": "golfers",
    }.get(code)


def _doubles(requirements: Iterable[RequirementAsked]) -> Iterable[StandardFinding]:
    seen: dict[str, int] = {}
    for place, one in enumerate(requirements):
        key = one.quantity.key
        if key in seen:
            yield _refused(
                f"{quantity_label(one.quantity)} is asked for twice, in requirement "
                f"{seen[key] + 1} too; keep one of them",
                "asked_twice",
                place,
            )
        seen.setdefault(key, place)


def _requirement(asked: RequirementAsked, edition: Edition, cell: CohortNorms) -> Requirement:
    ways = asked.range.ways
    if len(ways) != 1:
        given = " and ".join(_WAYS[way] for way in ways) or "nothing"
        raise StandardRefused(
            f"{quantity_label(asked.quantity)}: the range is set by {given}; set it in exactly "
            f"one way: {', or '.join(_WAYS.values())}",
            code="range",
        )
    rules = edition_rules(edition)
    values = evidence_values(cell, [asked.quantity])[:, 0]
    _refuse_few(asked, values, rules)
    low, high = _limits(asked, edition, cell, values, rules)
    if low is not None and high is not None and not low < high:
        raise StandardRefused(
            f"{quantity_label(asked.quantity)}: the range from {low:g} to {high:g} is empty; "
            "exchange or correct the two",
            code="range",
        )
    low_percent, high_percent = asked.range.percents
    return Requirement(
        quantity=asked.quantity,
        low=low,
        high=high,
        set_by=ways[0],
        low_percent=low_percent,
        high_percent=high_percent,
        at_handicap=asked.range.at_handicap if ways == ("centiles",) else None,
        reason=asked.range.reason,
        priority=asked.priority,
        norm=norm_of(values, rules),
    )


def _limits(
    asked: RequirementAsked,
    edition: Edition,
    cell: CohortNorms,
    values: FloatArray,
    rules: Rules,
) -> tuple[float | None, float | None]:
    if asked.range.ways == ("centiles",):
        return centile_limits(edition, cell.cohort.definition.club, asked.quantity, asked.range)
    if asked.range.ways == ("numbers",):
        if not (asked.range.reason or "").strip():
            raise StandardRefused(
                f"{quantity_label(asked.quantity)}: numbers of one's own need a reason; state it",
                code="no_reason",
            )
        return asked.range.low, asked.range.high
    low, high = asked.range.percents
    return (
        None if low is None else percentile_limit(values, low, rules),
        None if high is None else percentile_limit(values, high, rules),
    )


def _refuse_few(
    asked: RequirementAsked,
    values: FloatArray,
    rules: Rules,
) -> None:
    having = int(np.isfinite(values).sum())
    if having < rules.smallest_cell:
        raise StandardRefused(
            f"{quantity_label(asked.quantity)}: {having} golfers of the evidence have it and "
            f"{rules.smallest_cell} are needed; choose a larger cohort, or ask for something else",
            code="cell_too_small",
        )


def _standard(
    asked: StandardAsked,
    edition: Edition,
    golfers: CohortDefinition,
    requirements: Iterable[Requirement],
) -> Standard:
    own = [caution for caution in asked.cautions if caution not in CAUTIONS]
    return Standard(
        name=asked.name,
        title=asked.title,
        edition=edition.name,
        edition_hash=edition.content_hash,
        evidence=asked.evidence,
        golfers=golfers,
        requirements=tuple(requirements),
        rationale=asked.rationale,
        cautions=(*own, *CAUTIONS),
        review_on=asked.review_on,
        swings=asked.swings,
        days=asked.days,
        window_days=asked.window_days,
        wrong_rate=asked.wrong_rate,
    )


def _refused(
    message: str, code: str, requirement: int | None = None, key: str | None = None
) -> StandardFinding:
    return StandardFinding(
        severity="refused", code=code, message=message, requirement=requirement, key=key
    )
