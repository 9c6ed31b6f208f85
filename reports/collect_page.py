"""The collecting page: what became of every file."""

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import PurePath
from typing import Final

from norms.records import FileOutcome
from reports.quantities import plural
from reports.render import render
from reports.sentences import sentence_case

STATUS_WORDS: Final[dict[str, str]] = {
    "accepted": "accepted",
    "accepted_with_warnings": "with warnings",
    "rejected": "rejected",
    "duplicate": "duplicate",
}


def collect_page(outcomes: Sequence[FileOutcome], others: Sequence[str] = ()) -> str:
    """What became of every file, as a self-contained HTML page.

    Parameters
    ----------
    outcomes : sequence of FileOutcome
        In any order; the page lists them by lab and file.
    others : sequence of str
        Files of the folders that were not looked at.

    Returns
    -------
    str
        The same bytes for the same outcomes.
    """
    listed = sorted(outcomes, key=lambda outcome: (outcome.lab, outcome.source))
    return render(
        "collect.html",
        title=f"{plural(len(listed), 'file')} collected",
        lead=collect_lead(listed),
        statuses=list(STATUS_WORDS.values()),
        labs=_by_lab(listed),
        reasons=_reasons(listed),
        others=[file_words(one) for one in sorted(others)],
        others_lead=others_words(others),
        sections=[
            _section(listed, "rejected", "Rejected", "No file was rejected."),
            _section(
                listed,
                "accepted_with_warnings",
                "Accepted with warnings",
                "No file was accepted with warnings.",
            ),
            _section(
                listed, "duplicate", "Stored before", "No file repeats the content of another."
            ),
        ],
    )


def collect_lead(outcomes: Iterable[FileOutcome]) -> str:
    """The run in one sentence."""
    counts = Counter(outcome.status for outcome in outcomes)
    swings = counts["accepted"] + counts["accepted_with_warnings"]
    warned = counts["accepted_with_warnings"]
    return (
        f"{plural(swings, 'swing')} accepted, {warned:,} of them with warnings; "
        f"{plural(counts['rejected'], 'file')} rejected, each with a reason; "
        f"{plural(counts['duplicate'], 'file')} stored before."
    )


def others_words(others: Iterable[str]) -> str:
    """How many files were not looked at, by ending."""
    counts = Counter(PurePath(one).suffix.lower() or "without ending" for one in others)
    listed = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    told = ", ".join(f"{count:,} {ending}" for ending, count in listed)
    return (
        f"{plural(sum(counts.values()), 'file')} not looked at, being no capture files: {told}"
        if told
        else "Every file was looked at."
    )


def status_counts(outcomes: Iterable[FileOutcome]) -> list[int]:
    """Counts in the order of `STATUS_WORDS`."""
    counts = Counter(outcome.status for outcome in outcomes)
    return [sum(n for status, n in counts.items() if status == wanted) for wanted in STATUS_WORDS]


def file_words(source: str) -> str:
    """A file by its folder and name; where on a disk the folder lies is nobody's business."""
    return "/".join(PurePath(source).parts[-2:])


def reason_words(outcome: FileOutcome) -> str:
    """The message without the file's name at its head, for a table that names the file beside."""
    return outcome.message.removeprefix(f"{PurePath(outcome.source).name}: ")


def _by_lab(outcomes: Sequence[FileOutcome]) -> list[dict[str, object]]:
    labs = sorted({outcome.lab for outcome in outcomes})
    rows: list[dict[str, object]] = [
        {"lab": lab, "counts": status_counts(o for o in outcomes if o.lab == lab)} for lab in labs
    ]
    if len(labs) > 1:
        rows.append({"lab": "all labs", "counts": status_counts(outcomes)})
    return rows


def _reasons(outcomes: Sequence[FileOutcome]) -> list[dict[str, object]]:
    counts = Counter(
        (STATUS_WORDS[outcome.status], outcome.code)
        for outcome in outcomes
        if outcome.status in ("rejected", "accepted_with_warnings")
    )
    return [
        {"status": status, "reason": sentence_case(code.replace("_", " ")), "count": f"{count:,}"}
        for (status, code), count in sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    ]


def _section(
    outcomes: Sequence[FileOutcome], status: str, title: str, none: str
) -> dict[str, object]:
    rows = [
        {
            "file": file_words(outcome.source),
            "lab": outcome.lab,
            "reason": reason_words(outcome),
            "swing": outcome.swing or "",
        }
        for outcome in outcomes
        if outcome.status == status
    ]
    swings = any(row["swing"] for row in rows)
    return {"title": title, "none": none, "rows": rows, "swings": swings}
