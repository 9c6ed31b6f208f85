"""Progress of one golfer from a store, and the marks of what happened in between."""

from dataclasses import replace
from datetime import date
from typing import Final

from norms.cohort.annex_contents import lab_terms_in, noise_budgets
from norms.cohort.lab_terms import in_reference_terms
from norms.cohort.levels import ALL_LEVELS
from norms.errors import CohortRefused
from norms.placement.golfer_progress import chosen_sessions, compare_sessions, sessions_of
from norms.placement.peers import without
from norms.placement.place import place_swing
from norms.records.health import concerns_health
from norms.records.progress import GolferEvent, Progress
from pipelines.consents import refuse_without_consent
from pipelines.exclude import excluded_swings, without_swings
from pipelines.health_notes import events_shown, events_with_health
from pipelines.limits import past_day_fault
from pipelines.placing import PersonalWords, edition_words
from pipelines.roles import NOT_STATED
from pipelines.store import Store

OTHER_LEVELS: Final = (
    "The golfer's own level has too few golfers: held against golfers of all levels."
)
HEALTH_WORDS: Final = (
    "This page holds words on the golfer's health: it is for those alone who may read them."
)


def mark_event(
    store: Store,
    golfer: str,
    day: date,
    kind: str,
    note: str | None = None,
    *,
    health: bool = False,
    who: str = NOT_STATED,
) -> int:
    """Keep that something happened to a golfer: a lesson, an injury, a new driver.

    Two on one day are two, of the same kind too; the number of the mark is returned.

    Parameters
    ----------
    store : Store
        Open for writing.
    golfer : str
    day : datetime.date
    kind : str
    note : str, optional
    health : bool
        Whether it concerns the golfer's health; it does, too, where its words say so.
    who : str
        Role, for the log.

    Raises
    ------
    StoreRefused
        If the golfer is not on the roster, does not agree to coaching, or it concerns health and
        the golfer does not agree that such is kept.
    CohortRefused
        If ``kind`` is empty, or nothing can have happened to the golfer on that day.
    """
    if not kind.strip():
        raise CohortRefused("an event needs a kind, e.g. lesson or injury", code="event_kind")
    known = store.golfer(golfer)
    if fault := past_day_fault(day, birth_year=known.birth_year if known else None):
        raise CohortRefused(f"golfer {golfer}: the day {day} {fault}", code="day")
    event = GolferEvent(
        golfer=golfer,
        day=day,
        kind=kind.strip(),
        note=note,
        health=health or concerns_health(kind, note),
    )
    if known is not None:  # an unknown one is refused by the shelf
        refuse_without_consent(store, golfer, "coaching")
        if event.health:
            refuse_without_consent(store, golfer, "health")
    with store.act("mark", who=who, golfer=golfer):
        return store.golfer_shelf.mark(event)


def track_progress(
    store: Store,
    golfer: str,
    edition: str,
    *,
    club: str,
    days: tuple[date | None, date | None] = (None, None),
    health_reader: str | None = None,
) -> Progress:
    """Judge what changed between two sessions of a golfer, against the peers of the later one.

    Parameters
    ----------
    store : Store
    golfer : str
    edition : str
    club : str
    days : tuple of 2 datetime.date or None
        Of the earlier and the later session; by default the last two.
    health_reader : str, optional
        Role that reads notes on health in their own words; the store is then open for writing.

    Raises
    ------
    StoreRefused
        If the store has no such edition, the golfer does not agree to coaching, or the role may
        not read notes on health.
    CohortRefused
        If the golfer is not on the roster, has fewer than two sessions with the club or none on a
        day that is named, or has no cell in the edition.
    """
    who = store.golfer(golfer)
    if who is None:
        raise CohortRefused(
            f"golfer {golfer} is not in the roster; check the code", code="golfer_unknown"
        )
    refuse_without_consent(store, golfer, "coaching")
    frozen = store.edition(edition)
    if frozen.imported:
        raise CohortRefused(
            f"edition {edition} came without its golfers, so that a change cannot be held against "
            "what they do with nothing done; name an edition of your own (norms build makes one)",
            code="no_golfers",
        )
    counted = without_swings(store.swing_pool(), excluded_swings(store))
    pool = in_reference_terms(counted, lab_terms_in(frozen))
    sessions = sessions_of(pool, golfer, club)
    if not sessions:
        raise CohortRefused(
            f"golfer {golfer} has no stored swing with {club}; check the club", code="no_swings"
        )
    _, later = chosen_sessions(sessions, golfer, club, days)
    swing = store.swing(pool.swings[sessions[later].rows[0]])
    placement = place_swing(swing, frozen, golfer=who)
    of_level = placement.withheld is None
    if not of_level:
        placement = place_swing(swing, frozen, golfer=who, level=ALL_LEVELS)
    cell = frozen.cell(placement.cohort_key)
    assert cell is not None, "a placement names a cell of its edition"
    peers = without(cell.cohort, golfer)
    if not peers.golfers:
        raise CohortRefused(
            f"{club}: no other golfer is in edition {edition}; there is nothing to hold a change "
            "against",
            code="no_peers",
        )
    events = (
        events_shown(store, golfer)
        if health_reader is None
        else events_with_health(store, golfer, who=health_reader)
    )
    progress = compare_sessions(
        pool,
        golfer,
        club,
        peers,
        noise_budgets(frozen).get(club),
        placement.bands,
        edition=edition,
        events=events,
        days=days,
    )
    said = [*progress.cautions]
    if not of_level:
        said.append(OTHER_LEVELS)
    if health_reader is not None:
        said.append(HEALTH_WORDS)
    said += [*PersonalWords.of(store).about(golfer, club), *edition_words(store, frozen)]
    return replace(progress, cautions=tuple(said))
