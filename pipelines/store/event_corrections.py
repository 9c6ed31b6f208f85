"""A person's corrections of events, and the swing as it is after them, in one transaction."""

from collections.abc import Sequence
from datetime import datetime

from norms.records import EventCorrection, Swing
from pipelines.store import swings
from pipelines.store.database import Database


def event_corrections(database: Database, content_hash: str) -> tuple[EventCorrection, ...]:
    """Every correction of one file's events, in the order they were made."""
    return tuple(
        EventCorrection(event=event, time_s=time_s, person=person, reason=reason)
        for event, time_s, person, reason in database.rows("event_corrections", (content_hash,))
    )


def every_event_correction(database: Database) -> dict[str, tuple[EventCorrection, ...]]:
    """Every correction by the content hash of its file, each file's in the order of making."""
    by_file: dict[str, tuple[EventCorrection, ...]] = {}
    for content_hash, event, time_s, person, reason in database.rows("every_event_correction"):
        word = EventCorrection(event=event, time_s=time_s, person=person, reason=reason)
        by_file[content_hash] = (*by_file.get(content_hash, ()), word)
    return by_file


def correct_swing(
    database: Database,
    swing: Swing,
    corrections: Sequence[EventCorrection],
    corrected_at: datetime,
) -> None:
    """Keep corrections and the swing that they make, which may be stored already or not."""
    with database.transaction():
        for word in corrections:
            kept = (word.event, word.time_s, word.person, word.reason)
            database.rows("add_event_correction", (swing.label.content_hash, *kept, corrected_at))
        swings.put_swing(database, swing)
