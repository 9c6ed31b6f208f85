"""A standard in words. This is the one place of the reports that says "should"."""

from collections.abc import Sequence
from typing import Final

from norms.cohort.definitions import describe
from norms.records.standard import (
    Decision,
    NormRange,
    Quantity,
    Requirement,
    Standard,
)
from norms.standards.quantities import point_words, quantity_unit
from reports.phrases import phrase
from reports.quantities import digits, handicap_words, middle_share, plural, quantity
from reports.sentences import range_words, sentence_case, value_words

SPOKEN_LIKE: Final[dict[str, str]] = {
    "sway": "sway_impact",
    "thrust": "thrust_impact",
    "lift": "lift_impact",
}
"""A stretch of curve is spoken of as the position of its axis is."""

FINEST: Final = 3
"""Decimals beyond the usual at most, to tell a value from a limit that it misses."""


def spoken(asked: Quantity) -> str:
    """Feature whose words fit a quantity: itself, or the position of a stretch's axis."""
    return asked.feature or SPOKEN_LIKE[str(asked.axis)]


def subject(asked: Quantity) -> str:
    """Begins a sentence, e.g. "Forward travel" or "Mean lift from the top to impact"."""
    if asked.feature is not None:
        return phrase(asked.feature).subject
    first, last = (_point(node) for node in (asked.first_node, asked.last_node))
    return f"Mean {asked.axis} from {first} to {last}"


def target_words(requirement: Requirement, unit: str, *, finer: int = 0) -> str:
    """The range in words, e.g. "2.9 to 4.6 in", or "1.6 in below address or higher"."""
    feature, low, high = spoken(requirement.quantity), requirement.low, requirement.high
    if low is not None and high is not None:
        return range_words(feature, low, high, unit, finer=finer)
    limit, upward = (low, True) if low is not None else (high, False)
    value = limit if limit is not None else 0.0
    further = phrase(feature).comparative(value, upward=upward)
    return f"{value_words(feature, value, unit, finer=finer)} or {further}"


def measured_words(requirement: Requirement, value: float, unit: str) -> str:
    """A golfer's mean in the words of the range it is held against, e.g. "2.4 in below address".

    Where a value outside would be rounded onto the limit that it misses, both are given as finely
    as it takes to tell them apart: "2.24 in below address, the limit 2.20 in below address".
    """
    feature, (low, high) = spoken(requirement.quantity), requirement.ends
    shown = value_words(feature, value, unit)
    if low <= value <= high:
        return shown
    missed = low if value < low else high
    if shown != value_words(feature, missed, unit):
        return shown
    finer = 1
    while finer < FINEST and (
        plain_digits(requirement.quantity, value, unit, finer=finer)
        == plain_digits(requirement.quantity, missed, unit, finer=finer)
    ):
        finer += 1
    value_shown, limit = (value_words(feature, one, unit, finer=finer) for one in (value, missed))
    return f"{value_shown}, the limit {limit}"


def should_sentence(requirement: Requirement, unit: str) -> str:
    """What is asked, e.g. "Forward travel should be 2.9 to 4.6 in."."""
    return f"{subject(requirement.quantity)} should be {target_words(requirement, unit)}."


def norm_words(requirement: Requirement, unit: str) -> str:
    """What golfers of the evidence do, e.g. "middle 90 % of 64 golfers: 2.4 to 5.0 in"."""
    norm: NormRange = requirement.norm
    golfers = plural(norm.golfers, "golfer")
    feature = spoken(requirement.quantity)
    if norm.percents is None or norm.low is None or norm.high is None:
        return f"{golfers}, too few for a range"
    span = range_words(feature, norm.low, norm.high, unit)
    return f"{middle_share(norm.percents)} of {golfers}: {span}"


def set_words(requirement: Requirement) -> str:
    """How the limits were set, e.g. "percentiles 10 to 90 of 64 golfers"."""
    reason = f": {requirement.reason}" if requirement.reason else ""
    low, high = requirement.low_percent, requirement.high_percent
    if requirement.set_by == "numbers":
        return f"numbers of the academy{reason}"
    kind = {"percentiles": "percentile", "centiles": "centile"}[requirement.set_by]
    ends = (
        f"{kind}s {low:g} to {high:g}"
        if low is not None and high is not None
        else f"{kind} {low if low is not None else high:g}"
    )
    at = (
        f" at handicap {handicap_words(requirement.at_handicap)}"
        if requirement.at_handicap is not None
        else ""
    )
    return f"{ends}{at} of {plural(requirement.norm.golfers, 'golfer')}{reason}"


def for_whom(standard: Standard) -> str:
    """For whom a standard is, e.g. "Driver; handicap over 5, to 12"."""
    rules = describe(standard.golfers)[1:]  # consent to norms is no rule of a standard
    return sentence_case("; ".join([rules[0].removeprefix("club "), *rules[1:]]))


def ordered(standard: Standard) -> list[Requirement]:
    """Requirements by priority, else as they stand."""
    return sorted(standard.requirements, key=lambda one: one.priority)


def how_set(standard: Standard, decision: Decision | None) -> list[str]:
    """How a standard came about: evidence, rule of verdicts, and who decided."""
    told = [
        f"Set on edition “{standard.edition}”, fingerprint {standard.edition_hash[:12]}, group "
        f"{standard.evidence}. What golfers do and what is asked are two things: the ranges are "
        "decisions of the academy.",
        f"Judged by a golfer's mean of {standard.swings} swings on {plural(standard.days, 'day')} "
        f"or what there is of {standard.window_days} days. A verdict is given only where the mean "
        "lies inside or outside by more than its measurement error: a golfer who truly misses a "
        "part is told that it is met, and one who truly meets everything is told “not yet”, at "
        f"most {100 * standard.wrong_rate:g} times in a hundred.",
        f"To be reviewed by {standard.review_on}.",
    ]
    if decision is not None:
        told.append(decision_words(decision))
    return told


def decision_words(decision: Decision) -> str:
    """A decision in one sentence, with its override where there is one."""
    override = (
        f" Approved below the sufficiency floor, signed for the reason: {decision.override}."
        if decision.override
        else ""
    )
    return (
        f"{sentence_case(decision.state)} on {decision.decided_on} by the {decision.role}: "
        f"{decision.reason.rstrip('.')}. Fingerprint {decision.standard_hash[:12]}.{override}"
    )


def plain_value(asked: Quantity, value: float | None, unit: str) -> str:
    """Number and unit of a value without words, or a dash."""
    return "–" if value is None else quantity(value, quantity_unit(asked), unit)


def plain_digits(asked: Quantity, value: float | None, unit: str, *, finer: int = 0) -> str:
    """Number alone, or a dash."""
    return "–" if value is None else digits(value, quantity_unit(asked), unit, finer=finer)


def listed(words: Sequence[str]) -> str:
    """Words with commas and a last "and"."""
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]])) if words else ""


def _point(node: int) -> str:
    words = point_words(node)
    return f"the {words}" if words in ("start", "top", "finish") else _percent(words)


def _percent(words: str) -> str:
    phase, _, percent = words.rpartition(" ")
    return f"{percent} % of the {phase}" if phase else words
