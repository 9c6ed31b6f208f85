"""Standards as plain rows for a terminal: the first row is the heading, every cell is text."""

from collections.abc import Sequence

from norms.records.standard import Decision, Standard, StandardFinding
from norms.standards.compare import StandardComparison
from norms.standards.review import StandardReview
from norms.standards.verdicts import WORDS
from reports.quantities import DASH, check_unit, plural
from reports.standard_words import norm_words, ordered, set_words, subject, target_words
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


def changes_table(comparison: StandardComparison) -> Rows:
    """What two standards ask differently."""
    rows: Rows = [["what", comparison.first, comparison.second]]
    return rows + [
        [one.subject, one.first or "not asked", one.second or "not asked"]
        for one in comparison.changes
    ]


def flips_table(comparison: StandardComparison) -> Rows:
    """Whose verdict flips."""
    rows: Rows = [["golfer", comparison.first, comparison.second]]
    return rows + [
        [one.golfer, one.first or "not concerned", one.second or "not concerned"]
        for one in comparison.flips
    ]


def flips_sentence(comparison: StandardComparison) -> str:
    """How many golfers are judged differently, from what to what."""
    from_to = [
        f"{count} from {first or 'not concerned'} to {second or 'not concerned'}"
        for (first, second), count in comparison.flip_counts
    ]
    parts = f": {', '.join(from_to)}" if from_to else ""
    golfers = plural(comparison.judged, "golfer")
    return f"{len(comparison.flips)} of {golfers} would be judged differently{parts}."


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
