"""The log of what was done: rows are only added, each with the hash of the one before it.

A chain shows every change inside it. It cannot show that its newest entries were cut off, nor
that all of it was written anew: for that, a hash noted elsewhere earlier is looked for in it.
"""

import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Final

from pipelines.store.database import Database

FIRST_PREVIOUS: Final = "0" * 64
"""What the first entry has in place of an earlier hash."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditEntry:
    """One line of the log.

    Attributes
    ----------
    number : int
        From 1, without a gap.
    at : datetime.datetime
        UTC, without a zone.
    who : str
        A role.
    action : str
        E.g. ``"build"``.
    details : str
        JSON, as it was written.
    previous, hash : str
        64 hexadecimal digits each.
    """

    number: int
    at: datetime
    who: str
    action: str
    details: str
    previous: str
    hash: str


class AuditLog:
    """The log of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def record(
        self,
        action: str,
        who: str,
        details: Mapping[str, object],
        *,
        golfer: str | None = None,
        at: datetime | None = None,
    ) -> None:
        """Add an entry; inside a transaction where the act itself is in one.

        Parameters
        ----------
        action, who : str
        details : Mapping of str to plain JSON values
            Counts, hashes, names of editions; never a code of a golfer or a swing.
        golfer : str, optional
            Code of whom it concerns: the entry holds the golfer's pseudonym.
        at : datetime.datetime, optional
            With a zone; now by default.
        """
        said = dict(details)
        if golfer is not None:
            said["golfer"] = self.pseudonym(golfer)
        text = json.dumps(said, sort_keys=True, ensure_ascii=False, allow_nan=False)
        last = self._database.rows("last_audit_entry")
        number, previous = (last[0][0] + 1, last[0][1]) if last else (1, FIRST_PREVIOUS)
        moment = (at or datetime.now(UTC)).astimezone(UTC).replace(tzinfo=None)
        entry = (number, moment, who, action, text, previous)
        self._database.rows("add_audit_entry", (*entry, entry_hash(*entry)))

    def entries(self) -> list[AuditEntry]:
        """Every entry, oldest first."""
        names = ("number", "at", "who", "action", "details", "previous", "hash")
        return [
            AuditEntry(**dict(zip(names, row, strict=True)))
            for row in self._database.rows("audit_entries")
        ]

    def pseudonym(self, golfer: str) -> str:
        """The golfer's pseudonym in the log, drawn at random when it is first needed."""
        known = self._database.rows("pseudonym", (golfer,))
        if known:
            return str(known[0][0])
        drawn = secrets.token_hex(8)
        self._database.rows("add_pseudonym", (golfer, drawn))
        return drawn

    def golfers_by_pseudonym(self) -> dict[str, str]:
        """Codes of the golfers whom the log names and who were not erased, by pseudonym."""
        return dict(self._database.rows("pseudonyms"))

    def edition_hashes(self) -> dict[str, str]:
        """Content hash of every edition of the store, by name."""
        return dict(self._database.rows("edition_hashes"))


def entry_hash(
    number: int, at: datetime, who: str, action: str, details: str, previous: str
) -> str:
    """SHA-256 of everything that an entry says, and of the hash before it."""
    said = json.dumps(
        [number, at.isoformat(timespec="microseconds"), who, action, details, previous],
        ensure_ascii=False,
    )
    return sha256(said.encode()).hexdigest()


def chain_fault(entries: list[AuditEntry]) -> str | None:
    """What is wrong with the chain, in words, or None."""
    previous = FIRST_PREVIOUS
    for place, entry in enumerate(entries, start=1):
        if entry.number != place:
            return f"entry {place} is missing"
        if entry.previous != previous:
            return f"entry {place} does not follow the one before it"
        computed = entry_hash(
            entry.number, entry.at, entry.who, entry.action, entry.details, entry.previous
        )
        if computed != entry.hash:
            return f"entry {place} was changed after it was written"
        previous = entry.hash
    return None
