"""The director's page: who meets a standard, who is close, and whether it is realistic."""

from collections import Counter
from collections.abc import Mapping

from norms.records.standard import Decision, GolferVerdict, PartVerdict, Requirement, Verdict
from norms.standards.progress import GolferProgress, PartProgress
from norms.standards.quantities import planned_error, smallest_change
from norms.standards.realism import LevelTrend, Share
from norms.standards.review import StandardReview
from norms.standards.verdicts import RULE
from reports.figures.verdicts import verdict_bars
from reports.placement_page import day_words
from reports.quantities import DASH, check_unit, number, percent_of, plural
from reports.render import picture, render
from reports.sentences import change_amount
from reports.standard_words import (
    for_whom,
    how_set,
    measured_words,
    plain_digits,
    plain_value,
    should_sentence,
    spoken,
    subject,
)

MOST_ROWS = 400
"""Golfers listed one by one; of a larger academy the page lists those who are not met first."""


def standards_page(
    review: StandardReview, decision: Decision | None = None, *, unit: str = "in"
) -> str:
    """A review as a self-contained HTML page; it names golfers by code and stays in the academy.

    Parameters
    ----------
    review : StandardReview
    decision : Decision or None
        The last one on the standard.
    unit : {"in", "cm"}
        The reader's unit of length.

    Returns
    -------
    str
        The same bytes for the same review.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    standard = review.standard
    return render(
        "standards.html",
        title=f"{standard.title}: who meets it",
        facts=f"{for_whom(standard)}. Swings up to {day_words(review.held_on)}, of "
        f"{standard.window_days} days. {plural(len(review.verdicts), 'golfer')} held against it.",
        lead=lead_sentence(review),
        reminders=review.reminders,
        bars=picture(_bars(review)),
        sentences=[_hardest(review), *_too_few(review)],
        close=[_close_row(one, review, unit) for one in review.close],
        parts=_part_rows(review, unit),
        level_day=day_words(review.held_on),
        levels=[{"label": level.label, **_counted(level.golfers)} for level in review.levels],
        subjects=[subject(one.quantity) for one in standard.requirements],
        realism=[
            {
                "label": level.label,
                "golfers": level.whole.golfers,
                "whole": share_words(level.whole),
                "parts": [share_words(part) for part in level.parts],
            }
            for level in review.realism.levels
            if level.whole.golfers
        ],
        trend=trend_sentence(review.realism.trend),
        progress=[_progress_row(one, review, unit) for one in review.progress],
        progress_lead=progress_sentence(review),
        last_review=day_words(review.last_review_on) if review.last_review_on else "",
        golfers=[_golfer_row(one, review, unit) for one in _listed_golfers(review)],
        left_out=_left_out(review),
        cautions=standard.cautions,
        how=[RULE, *how_set(standard, decision)],
    )


def lead_sentence(review: StandardReview) -> str:
    """How many meet it, in one sentence."""
    counts, golfers = review.counts, len(review.verdicts)
    if not golfers:
        return "No golfer has a swing that counts."
    met, missed, close = counts["met"], counts["not yet"], len(review.close)
    return (
        f"Of {plural(golfers, 'golfer')}, {met} {_verb(met, 'meet')} it and {missed} "
        f"{_verb(missed, 'do')} not yet; for {counts['cannot tell']} the swings so far cannot "
        f"tell. {plural(close, 'golfer')} {_verb(close, 'are')} close."
    )


def _verb(count: int, word: str) -> str:
    """In the number of the count: "1 meets", "1 does"."""
    return word if count != 1 else {"do": "does", "are": "is"}.get(word, f"{word}s")


def trend_sentence(trend: LevelTrend) -> str:
    """Whether meeting it goes with level of play, in words that claim no cause."""
    if trend.better is None or trend.p_value is None:
        return (
            f"Whether meeting it goes with level cannot be said: {trend.inside} golfers of the "
            f"edition lie inside everything, {trend.outside} do not."
        )
    pairs = percent_of(trend.better)
    chance = "p below 0.001" if trend.p_value < 0.001 else f"p = {number(trend.p_value, 3)}"
    if trend.p_value > 0.05:
        return (
            f"Meeting it does not visibly go with level: in {pairs} of pairs the golfer inside "
            f"plays at the better level, where 50 % is chance ({chance})."
        )
    side = "better" if trend.better > 0.5 else "weaker"
    return (
        f"Meeting it goes with {side} play: in {pairs} of pairs the golfer inside plays at the "
        f"better level, where 50 % is chance ({chance}). That does not say that meeting it makes "
        "anybody play better."
    )


def progress_sentence(review: StandardReview) -> str:
    """How many verdicts changed since the last review, and how much can be told at all."""
    changed = Counter((one.then, one.now) for one in review.progress if one.then != one.now)
    gained = sum(count for (_, now), count in changed.items() if now == "met")
    lost = sum(count for (then, _), count in changed.items() if then == "met")
    return (
        f"{plural(len(review.progress), 'golfer')} of both reviews swung since: {gained} newly "
        f"meet it, {lost} no longer do. A change is told only beyond the smallest detectable "
        "change."
    )


def share_words(share: Share) -> str:
    """A share with its interval, or that there are too few."""
    if share.share is None or share.low is None or share.high is None:
        return "too few" if share.golfers else DASH
    return f"{percent_of(share.share)} ({percent_of(share.low)} to {percent_of(share.high)})"


def part_words(asked: Requirement, part: PartVerdict, unit: str) -> str:
    """Verdict of a part with mean and error, e.g. "met, 3.4 in (standard error 0.3)"."""
    if part.value is None:
        return f"{part.verdict}: {part.why}"
    error = plain_digits(asked.quantity, part.error, unit)
    value = measured_words(asked, part.value, unit)
    why = f"; {part.why}" if part.why else ""
    return f"{part.verdict}, {value} (standard error {error}){why}"


def _counted(counts: Mapping[Verdict, int]) -> dict[str, int]:
    return {verdict.replace(" ", "_"): count for verdict, count in counts.items()}


def _bars(review: StandardReview) -> str:
    rows = [("The whole standard", review.counts)]
    rows += [
        (subject(asked.quantity), counts)
        for asked, counts in zip(review.standard.requirements, review.part_counts, strict=True)
    ]
    return verdict_bars(rows, name="verdicts", title="Golfers by verdict, part by part")


def _hardest(review: StandardReview) -> str:
    told = [counts["not yet"] for counts in review.part_counts]
    if not any(told):
        return "No part is missed by any golfer for certain."
    place = told.index(max(told))
    asked = review.standard.requirements[place]
    return (
        f"Most often missed: {subject(asked.quantity).lower()}, not yet met by {told[place]} of "
        f"{plural(len(review.verdicts), 'golfer')}."
    )


def _too_few(review: StandardReview) -> list[str]:
    count = len(review.too_few)
    if not count:
        return []
    golfers = plural(review.counts["cannot tell"], "golfer")
    return [
        f"Of the {golfers} of whom it cannot be told, {count} have fewer swings than the "
        f"{review.standard.swings} a review is planned with: more swings would tell more of them."
    ]


def _part_rows(review: StandardReview, unit: str) -> list[dict[str, object]]:
    standard = review.standard
    errors = planned_error(review.errors, standard.swings, standard.days)
    changes = smallest_change(review.errors, errors)
    rows = zip(
        standard.requirements, review.part_counts, errors.tolist(), changes.tolist(), strict=True
    )
    return [
        {
            "sentence": should_sentence(asked, unit),
            "error": plain_value(asked.quantity, error, unit),
            "change": plain_value(asked.quantity, change, unit),
            **_counted(counts),
        }
        for asked, counts, error, change in rows
    ]


def _measured(one: GolferVerdict) -> str:
    return f"{one.swings}, {one.days}"


def _close_row(one: GolferVerdict, review: StandardReview, unit: str) -> dict[str, str]:
    missing = [
        f"{subject(asked.quantity).lower()} {part_words(asked, part, unit)}"
        for asked, part in zip(review.standard.requirements, one.parts, strict=True)
        if part.gap
    ]
    return {"golfer": one.golfer, "missing": "; ".join(missing), "measured": _measured(one)}


def _golfer_row(one: GolferVerdict, review: StandardReview, unit: str) -> dict[str, object]:
    return {
        "golfer": one.golfer,
        "verdict": one.verdict,
        "measured": _measured(one),
        "parts": [
            part_words(asked, part, unit)
            for asked, part in zip(review.standard.requirements, one.parts, strict=True)
        ],
    }


def _listed_golfers(review: StandardReview) -> list[GolferVerdict]:
    """Everyone; of very many those who are close first, then those not yet, as many as fit."""
    if len(review.verdicts) <= MOST_ROWS:
        return list(review.verdicts)
    order = {"not yet": 0, "cannot tell": 1, "met": 2}
    ranked = sorted(review.verdicts, key=lambda one: (not one.close, order[one.verdict]))
    return sorted(ranked[:MOST_ROWS], key=lambda one: one.golfer)


def _left_out(review: StandardReview) -> list[str]:
    told = []
    if len(review.verdicts) > MOST_ROWS:
        told.append(
            f"{MOST_ROWS} of {plural(len(review.verdicts), 'golfer')} are listed, those who are "
            "close first; the JSON holds all of them."
        )
    if review.without_swings:
        told.append(f"Without a swing that counts: {', '.join(review.without_swings)}.")
    told += [f"Not used, {reason}: {plural(count, 'swing')}." for reason, count in review.left_out]
    return told


def _progress_row(one: GolferProgress, review: StandardReview, unit: str) -> dict[str, object]:
    by_key = {part.key: part for part in one.parts}
    return {
        "golfer": one.golfer,
        "then": one.then,
        "now": one.now,
        "parts": [
            _moved(asked, by_key.get(asked.quantity.key), unit)
            for asked in review.standard.requirements
        ],
    }


def _moved(asked: Requirement, part: PartProgress | None, unit: str) -> str:
    if part is None or part.change is None or part.movement is None:
        return DASH
    least = plain_digits(asked.quantity, part.smallest_change, unit)
    change = change_amount(spoken(asked.quantity), part.change, unit)
    return f"{part.movement}: {change} (can be told from {least})"
