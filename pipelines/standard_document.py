"""Reviews and comparisons of standards as JSON, for other programs."""

from dataclasses import asdict
from typing import Any, Final

from norms.records.plain import take_apart
from norms.standards.compare import StandardComparison
from norms.standards.document import standard_document, verdict_document
from norms.standards.review import StandardReview

SCHEMA_VERSION: Final = 1


def review_document(review: StandardReview) -> dict[str, Any]:
    """A review as plain JSON values; it names golfers by code."""
    return {
        "schema": "standard_review",
        "schema_version": SCHEMA_VERSION,
        "standard": standard_document(review.standard)["standard"],
        "standard_hash": review.standard_hash,
        "edition": review.standard.edition,
        "edition_hash": review.standard.edition_hash,
        "state": review.state,
        "held_on": review.held_on.isoformat(),
        "last_review_on": review.last_review_on.isoformat() if review.last_review_on else None,
        "counts": dict(review.counts),
        "part_counts": [dict(counts) for counts in review.part_counts],
        "verdicts": [verdict_document(one) for one in review.verdicts],
        "without_swings": list(review.without_swings),
        "left_out": dict(review.left_out),
        "levels": [{"label": one.label, **one.golfers} for one in review.levels],
        "realism": asdict(review.realism),
        "drift": take_apart(review.drift)[0],
        "progress": [asdict(one) for one in review.progress],
        "reminders": list(review.reminders),
    }


def comparison_document(comparison: StandardComparison) -> dict[str, Any]:
    """A comparison of two standards as plain JSON values; it names golfers by code."""
    return {
        "schema": "standard_comparison",
        "schema_version": SCHEMA_VERSION,
        **asdict(comparison),
        "units": {"length": "cm", "time": "s", "rate": "cm/s"},
    }
