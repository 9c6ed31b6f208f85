"""The log of what was done: rows are only added, each with the hash of the one before it.

A chain shows every change inside it, and what it says of the tables (``journal.py``) every change
of theirs behind its back. It cannot show that store and log together were put back to an earlier
day, nor that all of both was written anew: for that, a hash noted elsewhere is looked for in it.
"""

import json
import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Final

from pipelines.store.act import Act
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
        """Add a line on what changes nothing in the store, e.g. that an edition was shared.

        Parameters
        ----------
        action, who : str
        details : Mapping of str to plain JSON values
            Counts, hashes, names of editions; never a code of a golfer or a swing.
        golfer : str, optional
            Code of whom it concerns: the line holds the golfer's pseudonym.
        at : datetime.datetime, optional
            With a zone; now by default.
        """
        with self._database.act(
            Act(action=action, who=who, details=dict(details), golfer=golfer, at=at)
        ):
            pass

    def next_number(self) -> int:
        """Number that the next line will have."""
        last = self._database.rows("last_audit_entry")
        return last[0][0] + 1 if last else 1

    def add_line(self, act: Act, number: int, said: Mapping[str, object]) -> None:
        """Add a line to the chain; within the transaction of what it speaks of.

        Time never runs backwards in the log: with a clock that was set back, the line has the time
        of the one before it, and says what the clock said.
        """
        last = self._database.rows("last_audit_entry")
        _, previous, latest = last[0] if last else (0, FIRST_PREVIOUS, None)
        moment = (act.at or datetime.now(UTC)).astimezone(UTC).replace(tzinfo=None)
        if latest is not None and moment < latest:
            said, moment = {**said, "clock": moment.isoformat(timespec="seconds")}, latest
        text = json.dumps(said, sort_keys=True, ensure_ascii=False, allow_nan=False)
        entry = (number, moment, act.who, act.action, text, previous)
        self._database.rows("add_audit_entry", (*entry, entry_hash(*entry)))

    def without_codes(self, text: str) -> str:
        """A text in which the pseudonyms of golfers stand for their codes."""
        codes = [code for (code,) in self._database.rows("golfer_codes") if code in text]
        for code in sorted(codes, key=len, reverse=True):
            pattern = f"(?<![0-9A-Za-z]){re.escape(code)}(?![0-9A-Za-z])"
            if re.search(pattern, text):
                text = re.sub(pattern, self.pseudonym(code), text)
        return text

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
    previous, latest = FIRST_PREVIOUS, datetime.min
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
        if entry.at < latest:
            return f"entry {place} is dated before the one that it follows"
        previous, latest = entry.hash, entry.at
    return None if entries else "it is empty, and every store's log begins with its making"
