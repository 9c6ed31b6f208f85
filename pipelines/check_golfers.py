"""Golfers held against a standard: one, a roster, or the whole academy."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from norms.cohort.annex_contents import lab_terms_in
from norms.cohort.levels import level_of
from norms.errors import StandardRefused
from norms.records import Edition, Golfer
from norms.records.standard import (
    GolferMeans,
    GolferVerdict,
    QuantityErrors,
    ReviewSwings,
    Standard,
)
from norms.standards.compare import (
    StandardComparison,
    changed_requirements,
    what_changed,
    whose_verdict_flips,
)
from norms.standards.document import standard_hash
from norms.standards.drift import Drift, drift, reminders
from norms.standards.evidence import edition_rules
from norms.standards.life import state_of
from norms.standards.measured import ReviewRules, in_edition_terms, review_means
from norms.standards.progress import GolferProgress, progress
from norms.standards.realism import realism
from norms.standards.review import StandardReview, level_verdicts
from norms.standards.verdicts import judge
from pipelines.consents import consenting
from pipelines.exclude import excluded_golfers, excluded_swings
from pipelines.health_notes import health_lines
from pipelines.manage_standard import edition_of, read_and_check, standard_errors
from pipelines.placing import edition_words
from pipelines.roles import NOT_STATED
from pipelines.store import Store
from pipelines.store.standards import KeptReview


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewRequest:
    """What a person asks for.

    Attributes
    ----------
    standard : str
        Name in the store.
    golfers : collection of str or None
        Codes; None for everyone whom the standard concerns.
    on : datetime.date or None
        Last day whose swings count; the newest of the club where it is not given.
    keep : bool
        Whether the next review is to measure progress from this one.
    who : str
        Role, for the log.
    """

    standard: str
    golfers: Collection[str] | None = None
    on: date | None = None
    keep: bool = False
    who: str = NOT_STATED


def check_golfers(store: Store, request: ReviewRequest, *, today: date) -> StandardReview:
    """Hold golfers against a standard.

    Golfers without consent to coaching are not looked at.

    Parameters
    ----------
    store : Store
        Open for writing where the review is to be kept.
    request : ReviewRequest
    today : datetime.date
        For reminders.

    Returns
    -------
    StandardReview

    Raises
    ------
    StandardRefused, StoreRefused
        If the standard is unknown or was changed, its edition has other numbers, or a golfer is
        not on the roster or does not agree to coaching.
    """
    kept = store.standards.standard(request.standard)
    standard, own_hash = kept.standard, standard_hash(kept.standard)
    bench = Bench.of(store, standard)
    roster = _roster(store, request.golfers)
    held_on = request.on or _newest(bench.swings, standard)
    means = bench.means(store, roster, held_on, request.golfers)
    verdicts = judge(standard, means, bench.errors)
    before = store.standards.last_review(standard.name, own_hash, held_on)
    drifted = _drift(store, bench, means, request.golfers)
    levels = edition_rules(bench.edition).levels
    review = StandardReview(
        standard=standard,
        standard_hash=own_hash,
        state=state_of(kept.decisions),
        held_on=held_on,
        verdicts=verdicts,
        without_swings=tuple(sorted(set(request.golfers or ()) - set(means.golfers))),
        left_out=means.left_out,
        levels=level_verdicts(
            verdicts,
            {code: level_of(roster[code], held_on, levels).label for code in means.golfers},
            [level.label for level in levels],
        ),
        errors=bench.errors,
        realism=realism(standard, bench.edition),
        drift=drifted,
        reminders=(
            *reminders(standard, today, drifted, bench.edition.content_hash),
            *edition_words(store, bench.edition),
            *_health(store, means.golfers, request.golfers),
        ),
        progress=_progress(store, bench, roster, request, before, verdicts, held_on),
        last_review_on=before.held_on if before else None,
    )
    if request.keep:
        said: dict[str, object] = {"standard": standard.name, "standard_hash": own_hash}
        with store.act("standard check", who=request.who, details=said):
            store.standards.keep_review(standard, own_hash, held_on, verdicts)
    return review


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """Everything that golfers are held against a standard with: edition, error, swings."""

    standard: Standard
    edition: Edition
    errors: QuantityErrors
    swings: ReviewSwings

    @classmethod
    def of(cls, store: Store, standard: Standard) -> "Bench":
        """Read what a standard needs, its swings already in the edition's terms."""
        edition = edition_of(store, standard)
        errors = standard_errors(edition, standard)
        if errors is None:
            raise StandardRefused(
                f"standard {standard.name}: edition {standard.edition} holds no measurement error "
                f"of {standard.golfers.club}, so nobody can be judged; build the edition anew",
                code="error_unknown",
            )
        quantities = [one.quantity for one in standard.requirements]
        club = standard.golfers.club
        terms = [one for one in lab_terms_in(edition) if one.effect.club == club]
        swings = store.standards.review_swings(club, quantities)
        return cls(
            standard=standard,
            edition=edition,
            errors=errors,
            swings=in_edition_terms(swings, quantities, terms),
        )

    def means(
        self,
        store: Store,
        roster: Mapping[str, Golfer],
        on: date,
        only: Collection[str] | None = None,
        after: date | None = None,
    ) -> GolferMeans:
        """Mean and error of each golfer up to a day, where asked of swings after another alone."""
        released = {(one.lab, one.recorded_on) for one in store.session_releases()}
        held = {(one.lab, one.recorded_on) for one in store.session_holds()} - released
        rules = ReviewRules(
            on=on,
            levels=edition_rules(self.edition).levels,
            only=only,
            excluded=set(excluded_swings(store)),
            held=held,
            labs=_labs(self.edition, self.standard.golfers.club),
            after=after,
        )
        return review_means(self.swings, roster, self.standard, self.errors, rules)


def _health(store: Store, held: Sequence[str], asked: Collection[str] | None) -> tuple[str, ...]:
    """That notes on health are on record: of golfers asked for by name, else how many there are.

    A page of the whole academy is nobody's own, so that it names none of them.
    """
    lines = health_lines(store)
    if asked is not None:
        return tuple(f"{code}: {lines[code]}" for code in sorted(set(asked)) if code in lines)
    count = len(lines.keys() & set(held))
    if not count:
        return ()
    return (
        f"Of these golfers {count} {'has' if count == 1 else 'have'} a note on health on record: "
        "before anything is changed, check them one by one (--golfer).",
    )


def compare_standards(
    store: Store, first: str, second: str, *, on: date | None = None
) -> StandardComparison:
    """What changes from one standard to another, and whose verdict flips.

    Parameters
    ----------
    store : Store
    first, second : str
        Name in the store, or path of a standard's file.
    on : datetime.date, optional
        Last day whose swings count; the newest of the club.

    Raises
    ------
    StandardRefused, StoreRefused
    """
    standards = [_by_name_or_file(store, one) for one in (first, second)]
    roster = consenting(store, "coaching")
    told = []
    for standard in standards:
        bench = Bench.of(store, standard)
        held_on = on or _newest(bench.swings, standard)
        means = bench.means(store, roster, held_on)
        told.append(judge(standard, means, bench.errors))
    one, other = standards
    return StandardComparison(
        first=one.name,
        second=other.name,
        first_hash=standard_hash(one),
        second_hash=standard_hash(other),
        changes=what_changed(one, other),
        requirements=changed_requirements(one, other),
        flips=whose_verdict_flips(told[0], told[1]),
        judged=len({verdict.golfer for verdicts in told for verdict in verdicts}),
    )


def _roster(store: Store, asked: Collection[str] | None) -> dict[str, Golfer]:
    """Golfers who may be looked at; a golfer asked for who may not is refused."""
    willing = consenting(store, "coaching")
    for code in asked or ():
        if code in willing:
            continue
        known = store.golfer(code) is not None
        why = "does not agree to coaching" if known else "is not on the roster"
        raise StandardRefused(
            f"golfer {code}: {why}; leave the golfer out, or correct the code", code="golfer"
        )
    return willing


def _newest(swings: ReviewSwings, standard: Standard) -> date:
    if not swings.recorded_on:
        raise StandardRefused(
            f"standard {standard.name}: the store has no swing with {standard.golfers.club}",
            code="no_swings",
        )
    return max(swings.recorded_on)


def _progress(
    store: Store,
    bench: Bench,
    roster: Mapping[str, Golfer],
    request: ReviewRequest,
    before: KeptReview | None,
    verdicts: Sequence[GolferVerdict],
    held_on: date,
) -> tuple[GolferProgress, ...]:
    if before is None:
        return ()
    new = bench.means(store, roster, held_on, request.golfers, after=before.held_on)
    since = judge(bench.standard, new, bench.errors)
    return progress(bench.standard, before.verdicts, verdicts, since, bench.errors.confidence)


def _labs(edition: Edition, club: str) -> set[str] | None:
    """Labs whose terms the edition knows for a club; None where it does not say."""
    stated: Any = edition.parameters.get("labs")
    of_club = {entry["lab"] for entry in stated or () if entry["club"] == club}
    return of_club or None


def _drift(store: Store, bench: Bench, means: GolferMeans, only: Collection[str] | None) -> Drift:
    """Drift is of new intake: of the golfers who agree to norms and whom nobody left out."""
    if only is not None:
        return Drift(new_golfers=0)
    willing = set(consenting(store, "norms")) - set(excluded_golfers(store))
    keep = np.array([code in willing for code in means.golfers], dtype=bool)
    return drift(
        bench.standard,
        bench.edition,
        GolferMeans(
            golfers=tuple(code for code, kept in zip(means.golfers, keep, strict=True) if kept),
            swings=means.swings[keep],
            days=means.days[keep],
            values=means.values[keep],
            errors=means.errors[keep],
        ),
    )


def _by_name_or_file(store: Store, named: str) -> Standard:
    if named in store.standards.names():
        return store.standards.standard(named).standard
    if named.endswith(".toml"):
        return read_and_check(store, Path(named)).standard
    return store.standards.standard(named).standard  # refused, with the names there are
