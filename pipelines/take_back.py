"""Undoing acts: the newest first, each with its own line in the log."""

import json
from collections.abc import Iterable
from dataclasses import dataclass

from norms.errors import NormsError, StoreRefused
from pipelines.store import Store
from pipelines.store.audit import AuditEntry

UNDO = "undo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """An act that was undone.

    Attributes
    ----------
    number : int
        Of its line in the log.
    action, who : str
        What it was and whose.
    rows : int
        Put back as they were.
    editions : tuple of str
        Frozen while the act stood: they keep their numbers, and the next build takes the new state.
    """

    number: int
    action: str
    who: str
    rows: int
    editions: tuple[str, ...]


def undo_last(store: Store, *, who: str, why: str, act: int | None = None) -> Undone:
    """Undo the newest act that can be undone and has not been, or a certain one.

    An undo is an act of its own: named by its number, it is undone like any other. What has been
    changed again since, by a later act, is not put back; nothing from before an erasure is.

    Parameters
    ----------
    store : Store
        Open for writing.
    who, why : str
        Role and reason.
    act : int, optional
        Number of the act in the log.

    Raises
    ------
    NormsError
        ``undo_unexplained``.
    StoreRefused
        ``nothing_to_undo``, ``not_to_be_undone``; nothing is changed then.
    """
    who, why = " ".join(who.split()), " ".join(why.split())
    if not who or not why:
        missing = "why" if not why else "who undoes it"
        raise NormsError(
            f"undoing needs who and why, and {missing} is empty; state it, by role and not by name",
            code="undo_unexplained",
        )
    entries = {entry.number: entry for entry in store.audit.entries()}
    number = _newest(store, entries.values()) if act is None else act
    if number not in entries:
        raise StoreRefused(
            f"act {number}: the log has acts 1 to {len(entries)}; norms log lists them",
            code="nothing_to_undo",
        )
    if number in _undone(entries.values()):
        raise StoreRefused(
            f"act {number} of the log: has been undone already; norms log says by which act",
            code="nothing_to_undo",
        )
    with store.act(UNDO, who=who, why=why, details={"of": number}):
        changes = store.put_back(number)
    done = entries[number]
    return Undone(
        number=number,
        action=done.action,
        who=done.who,
        rows=len(changes),
        editions=editions_since(entries.values(), number),
    )


def editions_since(entries: Iterable[AuditEntry], number: int) -> tuple[str, ...]:
    """Editions that were built after an act, by name: they hold what it entered."""
    built = [
        json.loads(one.details) for one in entries if one.action == "build" and one.number > number
    ]
    return tuple(dict.fromkeys(said["edition"] for said in built))


def _newest(store: Store, entries: Iterable[AuditEntry]) -> int:
    entries = list(entries)
    undone = _undone(entries)
    undos = {entry.number for entry in entries if entry.action == UNDO}
    left = [number for number in store.undoable_acts() if number not in undone | undos]
    if not left:
        raise StoreRefused(
            f"{store.path}: there is no act left that can be undone; norms log lists what was done",
            code="nothing_to_undo",
        )
    return left[-1]


def _undone(entries: Iterable[AuditEntry]) -> set[int]:
    """Numbers of acts that are undone: by an undo that is not undone itself."""
    undone: set[int] = set()
    for entry in sorted(entries, key=lambda one: -one.number):
        if entry.action == UNDO and entry.number not in undone:
            undone.add(int(json.loads(entry.details)["of"]))
    return undone
