"""Labs held in control: how swings were measured, sessions held and released, error of editions."""

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, TypeVar

import numpy as np

from norms.errors import Notice, StoreRefused
from norms.records import (
    EventMark,
    FilterFacts,
    SessionHold,
    SessionRelease,
    SwingQuality,
)
from norms.records.plain import put_together, take_apart
from pipelines.store.database import Database

Record = TypeVar("Record")


def swing_qualities(database: Database) -> list[SwingQuality]:
    """How every stored swing was measured, by lab, day and code."""
    marks: dict[str, dict[str, EventMark]] = defaultdict(dict)
    for swing, event, *mark in database.rows("every_event"):
        marks[swing][event] = event_mark(mark)
    return [
        SwingQuality(
            swing=swing,
            golfer=golfer,
            club=club,
            lab=lab,
            recorded_on=day,
            source=source,
            rate_hz=rate_hz,
            pelvis_method=pelvis_method,
            axes_source=axes_source,
            filled_share=np.array(filled_share),
            events=marks[swing],
            notices=tuple(Notice(**note) for note in json.loads(notices)),
            filtering=filter_facts(filtering),
        )
        for (
            swing, golfer, club, lab, day, source, rate_hz, pelvis_method, axes_source,
            filled_share, notices, filtering,
        ) in database.rows("swing_qualities")
    ]  # fmt: skip


def event_mark(row: Sequence[Any]) -> EventMark:
    """A mark from its columns time, method, stand-in, uncertainty, confidence."""
    time_s, method, stand_in, uncertainty_s, confidence = row
    return EventMark(
        time_s=time_s,
        method=method,
        stand_in=stand_in,
        uncertainty_s=uncertainty_s,
        confidence=confidence,
    )


def filter_payload(facts: FilterFacts | None) -> str | None:
    """What the filter did, as JSON, or None where it was not kept."""
    return None if facts is None else _payload(facts)


def filter_facts(payload: str | None) -> FilterFacts | None:
    """The inverse of `filter_payload`."""
    return None if payload is None else _record(FilterFacts, payload)


def hold_sessions(database: Database, holds: Iterable[SessionHold]) -> None:
    """Hold sessions back; one held before keeps its first reason."""
    with database.transaction():
        for hold in holds:
            database.rows(
                "add_session_hold", (hold.lab, hold.recorded_on, hold.reason, hold.held_at)
            )


def release_session(database: Database, release: SessionRelease) -> None:
    """Keep a person's word that a held session may enter norms."""
    session = (release.lab, release.recorded_on)
    earlier = {(one.lab, one.recorded_on): one for one in session_releases(database)}
    if session in earlier:
        raise StoreRefused(
            f"session {_words(*session)}: was released before by {earlier[session].who}; there "
            "is nothing left to release",
            code="session_released",
        )
    held = [(one.lab, one.recorded_on) for one in session_holds(database)]
    if session not in held:
        waiting = "; ".join(_words(*one) for one in held if one not in earlier) or "none"
        raise StoreRefused(
            f"session {_words(*session)}: is not held back; held back are: {waiting}",
            code="session_not_held",
        )
    database.rows("add_session_release", (*session, release.who, release.why, release.released_at))


def _words(lab: str, day: date) -> str:
    return f"{lab}, {day.isoformat()}"


def session_holds(database: Database) -> list[SessionHold]:
    """Every session ever held back, released or not, by lab and day."""
    return [
        SessionHold(lab=lab, recorded_on=day, reason=reason, held_at=held_at)
        for lab, day, reason, held_at in database.rows("session_holds")
    ]


def session_releases(database: Database) -> list[SessionRelease]:
    """Every release, by lab and day."""
    return [
        SessionRelease(lab=lab, recorded_on=day, who=who, why=why, released_at=released_at)
        for lab, day, who, why, released_at in database.rows("session_releases")
    ]


def _payload(record: object) -> str:
    document, arrays = take_apart(record)
    plain = {
        name: {
            "shape": values.shape,
            # JSON knows no NaN; Python writes a finite double so that it comes back exactly.
            "values": [value if np.isfinite(value) else str(value) for value in values.ravel()],
        }
        for name, values in arrays.items()
    }
    return json.dumps({"document": document, "arrays": plain}, allow_nan=False)


def _record(kind: type[Record], payload: str) -> Record:
    kept = json.loads(payload)
    arrays = {
        name: np.array(entry["values"], dtype=np.float64).reshape(entry["shape"])
        for name, entry in kept["arrays"].items()
    }
    return put_together(kind, kept["document"], arrays)
