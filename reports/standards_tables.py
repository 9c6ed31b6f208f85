"""Standards as plain rows for a terminal: the first row is the heading, every cell is text."""

from collections.abc import Sequence

from norms.records.standard import Decision, Standard, StandardFinding
from norms.standards.compare import RequirementChange, StandardComparison
from norms.standards.review import StandardReview
from norms.standards.verdicts import WORDS
from reports.quantities import DASH, check_unit, plural
from reports.standard_words import FINEST, norm_words, ordered, set_words, subject, target_words
from reports.standards_page import part_words

Rows = list[list[str]]


def standard_table(standard: Standard, *, unit: str = "in") -> Rows:
    """What is asked, what golfers do, and how each range was set."""
    check_unit(unit)
    rows: Rows = [["first", "part", "should be", "golfers do", "set by"]]
    return rows + [
        [
            str(one.priority),
            subject(one.quantity),
            target_words(one, unit),
            norm_words(one, unit),
            set_words(one),
        ]
        for one in ordered(standard)
    ]


def review_table(review: StandardReview) -> Rows:
    """Golfers by verdict, for the whole standard and part by part."""
    rows: Rows = [["part", *WORDS]]
    rows.append(["the whole standard", *(str(review.counts[word]) for word in WORDS)])
    for asked, counts in zip(review.standard.requirements, review.part_counts, strict=True):
        rows.append([subject(asked.quantity), *(str(counts[word]) for word in WORDS)])
    return rows


def golfers_table(review: StandardReview, *, unit: str = "in") -> Rows:
    """Every golfer with the verdict on every part."""
    check_unit(unit)
    asked = review.standard.requirements
    rows: Rows = [
        ["golfer", "verdict", "close", "swings", *(subject(one.quantity) for one in asked)]
    ]
    return rows + [
        [
            one.golfer,
            one.verdict,
            "close" if one.close else DASH,
            f"{one.swings} on {one.days}",
            *(part_words(part, told, unit) for part, told in zip(asked, one.parts, strict=True)),
        ]
        for one in review.verdicts
    ]


def changes_table(comparison: StandardComparison, *, unit: str = "in") -> Rows:
    """What two standards ask differently, in the words of their sheets."""
    check_unit(unit)
    rows: Rows = [["what", comparison.first, comparison.second]]
    rows += [[one.subject, one.first, one.second] for one in comparison.changes]
    return rows + [
        [subject(one.asked.quantity), *_asked_words(one, unit)] for one in comparison.requirements
    ]


def _asked_words(change: RequirementChange, unit: str) -> list[str]:
    """Both requests, as finely as it takes to see that they differ."""
    for finer in range(FINEST + 1):
        told = [
            "not asked"
            if one is None
            else f"{target_words(one, unit, finer=finer)}, priority {one.priority}"
            for one in (change.first, change.second)
        ]
        if told[0] != told[1]:
            break
    return told


def flips_table(comparison: StandardComparison) -> Rows:
    """Whose verdict flips."""
    rows: Rows = [["golfer", comparison.first, comparison.second]]
    return rows + [
        [one.golfer, one.first or "not concerned", one.second or "not concerned"]
        for one in comparison.flips
    ]


def flips_sentence(comparison: StandardComparison) -> str:
    """How many golfers are judged differently, from what to what."""
    golfers = plural(comparison.judged, "golfer")
    if not comparison.flips:
        return f"Nobody's verdict flips, of {golfers} judged."
    from_to = [
        f"{count} from {first or 'not concerned'} to {second or 'not concerned'}"
        for (first, second), count in comparison.flip_counts
    ]
    return (
        f"{len(comparison.flips)} of {golfers} would be judged differently: {', '.join(from_to)}."
    )


def findings_table(findings: Sequence[StandardFinding], where: Sequence[str] | None = None) -> Rows:
    """What is refused or warned of; with file and line where they are known."""
    places = where or [DASH] * len(findings)
    return [
        ["", "where", "what"],
        *([one.severity, place, one.message] for one, place in zip(findings, places, strict=True)),
    ]


def standards_table(standards: Sequence[tuple[Standard, Sequence[Decision]]]) -> Rows:
    """Every standard of a store with where it stands."""
    rows: Rows = [["standard", "edition", "state", "since", "by", "review by"]]
    return rows + [
        [
            standard.name,
            standard.edition,
            decisions[-1].state,
            decisions[-1].decided_on.isoformat(),
            decisions[-1].role,
            standard.review_on.isoformat(),
        ]
        for standard, decisions in standards
    ]
