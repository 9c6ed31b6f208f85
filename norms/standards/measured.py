"""From swings to what a review knows of each golfer: which swings count, mean and error."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.golfer_facts import golfer_facts, golfer_rules
from norms.cohort.lab_terms import adjusted_features
from norms.records import Golfer, LabTerms, Level
from norms.records.standard import (
    GolferMeans,
    Quantity,
    QuantityErrors,
    ReviewSwings,
    Standard,
)
from norms.standards.quantities import mean_error_of
from norms.standards.review_plan import LONGEST_WINDOW_DAYS
from norms.vocabulary import AXES

NOT_ASKED: Final = "golfer was not asked for"
NOT_ON_ROSTER: Final = "golfer is not on the roster"
OUTSIDE_DAYS: Final = "recorded outside the days of the review"
PERSON_DECIDED: Final = "left out by a person's decision"
SESSION_HELD: Final = "session held back, out of control"
UNKNOWN_LAB: Final = "lab has no part in the edition, so its terms are not known"

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewRules:
    """Which swings a review takes.

    Attributes
    ----------
    on : datetime.date
        Last day; the first is ``window_days`` of the standard before it.
    levels : sequence of Level
        Of the edition.
    only : collection of str or None
        Golfers asked for; None for everyone of whom the standard speaks.
    excluded : collection of str
        Swings that a person left out.
    held : collection of (str, datetime.date)
        Labs and days held back.
    labs : collection of str or None
        Labs of the edition for this club; None where the edition does not say.
    after : datetime.date or None
        Only swings after this day, that of an earlier review.
    """

    on: date
    levels: Sequence[Level]
    only: Collection[str] | None = None
    excluded: Collection[str] = frozenset()
    held: Collection[tuple[str, date]] = field(default_factory=frozenset)
    labs: Collection[str] | None = None
    after: date | None = None


def in_edition_terms(
    swings: ReviewSwings, quantities: Sequence[Quantity], terms: Sequence[LabTerms]
) -> ReviewSwings:
    """The swings with each lab's values in the terms of the edition's reference lab.

    Parameters
    ----------
    swings : ReviewSwings
        Of one club.
    quantities : sequence of d Quantity
    terms : sequence of LabTerms
        Of that club; a quantity that a lab keeps apart is NaN for its swings.
    """
    if not terms:
        return swings
    values, labs = swings.values.copy(), np.array(swings.labs, dtype=str)
    for one in terms:
        rows = labs == one.effect.lab
        for place, quantity in enumerate(quantities):
            values[rows, place] = _adjusted(values[rows, place], quantity, one)
    return replace(swings, values=values)


def review_means(
    swings: ReviewSwings,
    golfers: Mapping[str, Golfer],
    standard: Standard,
    errors: QuantityErrors,
    rules: ReviewRules,
) -> GolferMeans:
    """Mean and standard error of every quantity for each golfer whom a standard concerns.

    Who belongs is decided by the facts of the day of each swing. Consent to norms is not asked:
    a golfer's own review is no norm.

    Parameters
    ----------
    swings : ReviewSwings
        Of the standard's club, in the order of its requirements.
    golfers : Mapping of str to Golfer
        The roster, already reduced to golfers who may be reviewed.
    standard : Standard
    errors : QuantityErrors
    rules : ReviewRules

    Returns
    -------
    GolferMeans
    """
    taken, left_out = _taken(swings, golfers, standard, rules)
    codes = np.array(swings.golfers, dtype=str)[taken]
    names, golfer = np.unique(codes, return_inverse=True)
    sessions = [(swings.golfers[r], swings.labs[r], swings.recorded_on[r]) for r in taken]
    places = {one: place for place, one in enumerate(dict.fromkeys(sessions))}
    session = np.array([places[one] for one in sessions], dtype=np.intp)
    owner = np.zeros(len(places), dtype=np.intp)
    owner[session] = golfer
    values = swings.values[taken]
    d = values.shape[1]
    means, counts, squares = (np.zeros((len(names), d)) for _ in range(3))
    for column in range(d):
        present = np.isfinite(values[:, column])
        in_session = np.bincount(session, present, len(places))
        counts[:, column] = np.bincount(owner, in_session, len(names))
        squares[:, column] = np.bincount(owner, in_session**2, len(names))
        numbers = np.where(present, values[:, column], 0.0)
        means[:, column] = np.bincount(golfer, numbers, len(names))
    with np.errstate(divide="ignore", invalid="ignore"):
        means /= counts
    return GolferMeans(
        golfers=tuple(names.tolist()),
        swings=np.bincount(golfer, minlength=len(names)),
        days=np.bincount(owner, minlength=len(names)),
        values=means,
        errors=mean_error_of(errors, counts, squares),
        left_out=tuple(left_out.items()),
    )


def _taken(
    swings: ReviewSwings, golfers: Mapping[str, Golfer], standard: Standard, rules: ReviewRules
) -> tuple[NDArray[np.intp], Counter[str]]:
    """Rows that count, and how many were left out by which rule, each at the first that fits."""
    codes = np.array(swings.golfers, dtype=str)
    days = np.array(swings.recorded_on, dtype="datetime64[D]")
    # A standard kept by an earlier version may ask for a window before the calendar's first day.
    window_days = min(standard.window_days, LONGEST_WINDOW_DAYS)
    first_day = rules.on - timedelta(days=window_days - 1)
    if rules.after is not None:
        first_day = max(first_day, rules.after + timedelta(days=1))
    first = np.datetime64(first_day, "D")
    reasons: dict[str, Mask] = {}
    if rules.only is not None:
        reasons[NOT_ASKED] = ~np.isin(codes, list(rules.only))
    reasons[NOT_ON_ROSTER] = ~np.isin(codes, list(golfers))
    reasons[OUTSIDE_DAYS] = (days < first) | (days > np.datetime64(rules.on, "D"))
    if rules.excluded:
        reasons[PERSON_DECIDED] = np.isin(np.array(swings.swings, dtype=str), list(rules.excluded))
    if rules.held:
        held = set(rules.held)
        sessions = zip(swings.labs, swings.recorded_on, strict=True)
        reasons[SESSION_HELD] = np.array([one in held for one in sessions], dtype=bool)
    if rules.labs is not None:
        reasons[UNKNOWN_LAB] = ~np.isin(np.array(swings.labs, dtype=str), list(rules.labs))
    kept, left_out = _drop(np.full(codes.shape, True), reasons)
    rows = np.flatnonzero(kept)
    facts = golfer_facts(
        golfers, [(swings.golfers[r], swings.recorded_on[r]) for r in rows], rules.levels
    )
    belongs, others = _drop(np.full(rows.shape, True), golfer_rules(facts, standard.golfers))
    return rows[belongs], left_out + others


def _drop(kept: Mask, reasons: Mapping[str, Mask]) -> tuple[Mask, Counter[str]]:
    counted: Counter[str] = Counter()
    for reason, concerned in reasons.items():
        counted[reason] = int(np.count_nonzero(kept & concerned))
        kept = kept & ~concerned
    return kept, +counted


def _adjusted(
    values: NDArray[np.float64], quantity: Quantity, terms: LabTerms
) -> NDArray[np.float64]:
    if quantity.feature is None:
        axis = AXES.index(quantity.axis) if quantity.axis else 0
        part = terms.curve_shift_cm[axis, quantity.first_node : quantity.last_node + 1]
        return values - float(part.mean())
    effect = terms.effect
    if quantity.feature not in effect.feature_names:
        return values
    column = effect.feature_names.index(quantity.feature)
    row = np.full((len(values), len(effect.feature_names)), np.nan)
    row[:, column] = values
    return adjusted_features(row, effect)[:, column]
