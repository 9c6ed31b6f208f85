"""The log of the academy: added to by every job that changes what is stored, read and verified."""

import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from norms.errors import NormsError, StoreRefused
from norms.records import Edition, FileOutcome
from pipelines.store import Store
from pipelines.store.audit import AuditEntry, chain_fault

HEAD_DIGITS: Final = 16
"""Of a hash of 64: somebody would have to try 2^64 logs to find another with the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReading:
    """The log as it was read, with what its verification says.

    Attributes
    ----------
    entries : tuple of AuditEntry
        Oldest first.
    faults : tuple of str
        What does not hold together, in words; empty where all does.
    golfers : dict of str to str
        Codes by pseudonym, of golfers who were not erased.
    """

    entries: tuple[AuditEntry, ...]
    faults: tuple[str, ...]
    golfers: dict[str, str]

    @property
    def head(self) -> str | None:
        """Number and first digits of the newest hash, short enough to be written down by hand."""
        return _head(self.entries[-1]) if self.entries else None

    @property
    def newest_hash(self) -> str | None:
        """Hash of the newest entry: noted elsewhere, it proves later that nothing was cut off."""
        return self.entries[-1].hash if self.entries else None


def read_log(store: Store, expected: str | None = None) -> LogReading:
    """Read the log and verify its chain, and the editions of the store against it.

    Parameters
    ----------
    store : Store
    expected : str, optional
        A head or a hash noted earlier; the log must still hold it.
    """
    entries = store.audit.entries()
    faults = []
    if fault := chain_fault(entries):
        faults.append(f"the log does not hold together: {fault}")
    noted = "".join((expected or "").split()).lower()
    if noted and not any(noted in (entry.hash, _head(entry)) for entry in entries):
        faults.append(f"no entry has the hash {expected}: entries were cut off or written anew")
    faults += store.table_faults()
    faults += _unlogged_editions(store, entries)
    return LogReading(
        entries=tuple(entries),
        faults=tuple(faults),
        golfers=store.audit.golfers_by_pseudonym(),
    )


def accept_tables(store: Store, *, who: str, why: str) -> list[str]:
    """Bind the tables anew as they are, on a person's word; the log keeps what was wrong with them.

    For a store that was changed by other means for a good reason: nothing of it could be backed up
    again otherwise. What is wrong with the log's own lines cannot be accepted.

    Returns
    -------
    list of str
        What was accepted, in words; nothing is done where nothing is wrong.

    Raises
    ------
    NormsError
        ``acceptance_unexplained``.
    """
    if not who.strip() or not why.strip():
        raise NormsError(
            "accepting what was changed behind the log needs who and why; state both, who by role",
            code="acceptance_unexplained",
        )
    faults = store.table_faults()
    if faults:
        said: dict[str, object] = {"accepted": faults}
        with store.act("accept", who=who.strip(), why=why.strip(), details=said, binds_anew=True):
            pass
    return faults


def _head(entry: AuditEntry) -> str:
    return f"{entry.number}:{entry.hash[:HEAD_DIGITS]}"


def _unlogged_editions(store: Store, entries: Iterable[AuditEntry]) -> list[str]:
    """Editions whose numbers the log does not know, once it knows any of that edition's."""
    known: dict[str, set[str]] = {}
    for entry in entries:
        details = json.loads(entry.details)
        for said in (details, *details.get("editions", [])):
            if {"edition", "sha256"} <= said.keys():
                known.setdefault(said["edition"], set()).add(said["sha256"])
    return [
        f"edition {name} has the hash {content_hash}, and the log knows it under another"
        for name, content_hash in store.audit.edition_hashes().items()
        if name in known and content_hash not in known[name]
    ]


def refuse_broken_log(store: Store) -> None:
    """Refuse a store whose log was tampered with.

    Raises
    ------
    StoreRefused
        ``log_broken``.
    """
    reading = read_log(store)
    if reading.faults:
        raise StoreRefused(
            f"{store.path}: {reading.faults[0]}; compare with a backup (norms log --accept binds "
            "tables that were changed for a good reason)",
            code="log_broken",
        )


def collected(lab: str, outcomes: Sequence[FileOutcome]) -> dict[str, object]:
    """What the log says of captures that were collected: how many, what became of them, and which.

    Which they were stands as one hash over the contents of all of them, in order of hash.
    """
    contents = "\n".join(sorted(outcome.content_hash for outcome in outcomes))
    return {
        "lab": lab,
        "files": dict(Counter(outcome.status for outcome in outcomes)),
        "sha256": sha256(contents.encode()).hexdigest(),
    }


def edition_said(edition: Edition) -> dict[str, object]:
    """What the log says of an edition: its name and its content hash."""
    return {"edition": edition.name, "sha256": edition.content_hash}
