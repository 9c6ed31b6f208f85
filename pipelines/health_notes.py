"""What is written of a golfer's health: who may write it, who may read it, and what pages say.

Without consent to the purpose ``health`` nothing is written, and of what is there nothing is used.
With it, pages say that a note is on record and of which day; its words are read by an option of
its own, by a role that the settings may list, and the log keeps that they were.
"""

from datetime import date

from norms.errors import StoreRefused
from norms.records.health import is_of_health, without_health_words
from norms.records.progress import GolferEvent
from pipelines.consents import consenting, refuse_without_consent
from pipelines.settings import settings_of
from pipelines.store import Store


def events_shown(store: Store, golfer: str) -> tuple[GolferEvent, ...]:
    """Marks of a golfer as any page of their own may show them: of health, no words."""
    events = store.golfer_shelf.events(golfer)
    if golfer in consenting(store, "health"):
        return without_health_words(events)
    return tuple(one for one in events if not is_of_health(one))


def events_with_health(store: Store, golfer: str, *, who: str) -> tuple[GolferEvent, ...]:
    """Every mark of a golfer in its own words; that they were read is logged.

    Parameters
    ----------
    store : Store
        Open for writing.
    golfer : str
    who : str
        Role of who reads.

    Raises
    ------
    StoreRefused
        ``no_consent``, or ``health_reader`` where the role may not read them.
    """
    refuse_without_consent(store, golfer, "health")
    readers = settings_of(store).health_readers
    if not who.strip() or (readers and who not in readers):
        allowed = f"the settings allow {', '.join(readers)}" if readers else "say who with --who"
        raise StoreRefused(
            f"golfer {golfer}: notes on health are not read by {who.strip() or 'nobody named'}; "
            f"{allowed}",
            code="health_reader",
        )
    events = tuple(store.golfer_shelf.events(golfer))
    count = sum(is_of_health(one) for one in events)
    store.audit.record("read health", who, {"notes": count}, golfer=golfer)
    return events


def health_lines(store: Store) -> dict[str, str]:
    """That a note on health is on record, and of which day, by golfer, for pages of their own."""
    willing, lines = consenting(store, "health"), {}
    for golfer in store.golfer_shelf.marked():
        if golfer in willing:
            days = [one.day for one in store.golfer_shelf.events(golfer) if is_of_health(one)]
            if days:
                lines[golfer] = _line(max(days), len(days))
    return lines


def _line(newest: date, notes: int) -> str:
    more = f", the last of {notes}," if notes > 1 else ""
    return (
        f"A note on this golfer's health of {newest}{more} is on record: ask the golfer "
        "before anything is changed; what it means is for a licensed practitioner to say."
    )


def health_without_consent(store: Store) -> list[str]:
    """Golfers of whom a note on health is kept and who do not agree to that."""
    willing = consenting(store, "health")
    return [
        golfer
        for golfer in store.golfer_shelf.marked()
        if golfer not in willing and any(map(is_of_health, store.golfer_shelf.events(golfer)))
    ]
