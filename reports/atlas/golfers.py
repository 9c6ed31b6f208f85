"""Which golfers stand behind an edition: grades, attrition, who stands out."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from norms.cohort.annex_contents import (
    screening_counts,
    sufficiencies,
    withheld_findings,
)
from norms.cohort.sufficiency import RULE
from norms.records import CohortNorms, Edition
from norms.records.health import concerns_health
from norms.swing.catalogue import BY_NAME
from norms.vocabulary import AXES
from reports.phrases import phrase
from reports.quantities import DASH, digits, number, plural, unit_words
from reports.sentences import sentence_case

OF_HEALTH: Final = "a reason of health, which stands in the list of exclusions alone"
REASONS: Final = ("level", "shape", "timing")


def sufficiency_section(edition: Edition, cells: Sequence[CohortNorms]) -> dict[str, object] | None:
    """Grade of every group and what the next one takes; None without annexes."""
    graded = {one.cohort_key: one for one in sufficiencies(edition)}
    if not graded:
        return None
    keys = [cell.cohort.definition.key for cell in cells]
    return {
        "rule": RULE,
        "rows": [
            {
                "label": sentence_case(one.cohort_label),
                "grade": one.grade,
                "golfers": f"{one.golfers:,}",
                "to_show": f"{one.more_to_show:,}" if one.more_to_show else DASH,
                "to_establish": f"{one.more_to_establish:,}" if one.more_to_establish else DASH,
            }
            for one in [graded[key] for key in keys if key in graded]
        ],
    }


def grades(edition: Edition) -> dict[str, str]:
    """Grade of each group by cohort key."""
    return {one.cohort_key: one.grade for one in sufficiencies(edition)}


def attrition_section(edition: Edition, cells: Sequence[CohortNorms]) -> dict[str, object]:
    """What each rule cost every group, and who was left out by a person's decision."""
    stated: Any = edition.evidence
    steps: Mapping[str, Any] = stated.get("attrition", {})
    left_out: Mapping[str, Any] = stated.get("left_out", {})
    return {
        "groups": [
            {
                "label": sentence_case(cell.cohort.definition.label),
                "open": cell.cohort.definition.level is None,
                "rows": [_step_row(step) for step in steps[cell.cohort.definition.key]],
            }
            for cell in cells
            if cell.cohort.definition.key in steps
        ],
        "decisions": [
            {
                "golfer": one["golfer"] or DASH,
                "swings": plural(one["swings"], "swing"),
                "reason": OF_HEALTH if concerns_health(one["reason"], None) else one["reason"],
                "decided_by": one["decided_by"],
            }
            for one in left_out.get("every cohort", [])
            if one["decided_by"]
        ],
        "known": bool(left_out),
    }


def _step_row(step: Mapping[str, Any]) -> dict[str, str]:
    return {
        "rule": sentence_case(step["rule"]),
        **{
            name: f"{step[name]:,}" for name in ("swings", "golfers", "swings_left", "golfers_left")
        },
    }


def flags_section(
    edition: Edition, cells: Sequence[CohortNorms], unit: str
) -> dict[str, object] | None:
    """Golfers who stand out, for a person to decide; None without annexes.

    Golfers are named by code, and only where the edition still has its own evidence: an edition
    from elsewhere shows counts alone.
    """
    counts = screening_counts(edition)
    reasons = withheld_findings(edition, "screening")
    if not counts and not reasons:
        return None
    labels = {cell.cohort.definition.key: cell.cohort.definition.label for cell in cells}
    return {
        "counts": [
            {
                "label": sentence_case(labels.get(key, key)),
                "golfers": f"{one.golfers:,}",
                "flagged": f"{one.flagged:,}",
                **{
                    reason: f"{sum(c.golfers for c in one.counts if c.reason == reason):,}"
                    for reason in REASONS
                },
            }
            for key, one in counts.items()
        ],
        "rows": _flag_rows(edition, labels, unit),
    }


def _flag_rows(edition: Edition, labels: Mapping[str, str], unit: str) -> list[dict[str, object]]:
    """One row for a golfer standing out in one respect, with all groups in which it is so."""
    stated: Any = edition.evidence
    rows: dict[tuple[str, str, str], dict[str, Any]] = {}
    for key, flags in stated.get("flags", {}).items():
        for flag in flags:
            row = rows.setdefault(
                (flag["golfer"], flag["subject"], flag["reason"]),
                {
                    "golfer": flag["golfer"],
                    "subject": _subject(flag["subject"]),
                    "reason": flag["reason"],
                    "value": _value(flag, unit),
                    "method": flag["method"],
                    "groups": [],
                },
            )
            row["groups"].append(labels.get(key, key))
    return [rows[key] for key in sorted(rows)]


def _subject(subject: str) -> str:
    return f"{subject.capitalize()} curve" if subject in AXES else phrase(subject).subject


def _value(flag: Mapping[str, Any], unit: str) -> str:
    if flag["subject"] in AXES:
        return f"score {number(flag['value'], 1)}, {_fences(flag['low'], flag['high'], None, unit)}"
    kind = BY_NAME[flag["subject"]].unit
    value = f"{digits(flag['value'], kind, unit)} {unit_words(kind, unit)}".strip()
    return f"{value}, {_fences(flag['low'], flag['high'], kind, unit)}"


def _fences(low: float | None, high: float | None, kind: Any, unit: str) -> str:
    def words(value: float) -> str:
        return number(value, 1) if kind is None else digits(value, kind, unit)

    if low is None and high is None:
        return "far from its neighbours"
    if low is None or high is None:
        return (
            f"others up to {words(high)}"
            if low is None and high is not None
            else (f"others from {words(low or 0.0)}")
        )
    return f"others {words(low)} to {words(high)}"
