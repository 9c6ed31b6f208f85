"""Takes a golfer out of every table, in one transaction; the file is then written anew.

Tables are not listed here but asked for what they hold, so that a table that a later version adds
is covered: by its columns golfer, swing and content_hash, and by its texts and documents.
"""

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import PurePath
from typing import Any, Final

from norms.records import Edition
from pipelines.store.act import Act
from pipelines.store.database import Database
from pipelines.store.erased_editions import amend_edition, strip_peers
from pipelines.store.erased_frames import erase_from_frames
from pipelines.store.mentions import Mentions

SKIPPED: Final = frozenset(
    {"schema_version", "audit_log", "table_state", "digest_key", "erasure_receipt", "rewrite_due"}
)
"""Tables that never hold a golfer."""
ROW_PER_FILE: Final = frozenset({"file_outcome"})
"""Tables whose rows go as a whole where any of their texts names the golfer."""
KEYS: Final = ("golfer", "swing", "content_hash")


@dataclass(frozen=True, slots=True, kw_only=True)
class ErasureReceipt:
    """That somebody was erased; nobody can learn from it who.

    Attributes
    ----------
    receipt : str
        Random.
    erased_at : datetime.datetime
        UTC.
    who, why : str
        Role of who erased, and the reason.
    removed : Mapping of str to int
        Rows by table.
    digest : str
        Of the golfer's code, under a key that the store does not hold.
    """

    receipt: str
    erased_at: datetime
    who: str
    why: str
    removed: Mapping[str, int]
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionMark:
    """What an erasure did to a frozen edition."""

    edition: str
    receipt: str
    policy: str
    hash_before: str
    hash_after: str
    marked_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ErasureOrder:
    """What is to be erased, and what the record of it says.

    Attributes
    ----------
    golfer, receipt, who, why, digest, policy : str
    erased_at : datetime.datetime
    amended : tuple of (Edition, Edition)
        Editions that counted the golfer, before and after.
    """

    golfer: str
    receipt: str
    who: str
    why: str
    digest: str
    policy: str
    erased_at: datetime
    amended: tuple[tuple[Edition, Edition], ...] = field(default_factory=tuple)


class Erasures:
    """Erases golfers from a store, and keeps the receipts."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def mentions(self, golfer: str) -> Mentions:
        """What names a golfer in this store."""
        rows = self._database.rows
        kept = rows("files_of_golfer", (golfer,))
        swings = [swing for swing, _, _ in kept if swing]
        names = [PurePath(source.replace("\\", "/")) for _, source, _ in kept]
        files = [path.name for path in names] + [path.stem for path in names]
        others = [code for (code,) in rows("golfer_codes") if code != golfer]
        hashes = [content_hash for *_, content_hash in kept if content_hash]
        return Mentions([golfer, *swings, *files, *hashes], others)

    def editions_counting(self, golfer: str) -> list[str]:
        """Names of editions that have the golfer among their members."""
        return [name for (name,) in self._database.rows("editions_counting", (golfer,))]

    def first_collected(self, golfer: str) -> datetime | None:
        """When the run began that brought the golfer's first swing, UTC; None without a swing."""
        found: datetime | None = self._database.rows("first_collected", (golfer,))[0][0]
        return found

    def built_at(self, edition: str) -> datetime:
        """When an edition was frozen, UTC."""
        found: datetime = self._database.rows("edition_built_at", (edition,))[0][0]
        return found

    def swings_collected_after(self, moment: datetime) -> set[str]:
        """Codes of the swings that runs brought which began after a moment."""
        return {code for (code,) in self._database.rows("swings_collected_after", (moment,))}

    def names_anywhere(self, golfer: str) -> bool:
        """Whether any table still holds anything by the golfer's code."""
        mentions = self.mentions(golfer)
        return any(
            mentions.found_in(text)
            for table, columns in self._tables().items()
            for column in _texts(columns)
            for _, text in self._texts_of(table, column, mentions)
        )

    def receipts(self) -> list[ErasureReceipt]:
        """Every receipt, oldest first."""
        return [
            ErasureReceipt(
                receipt=receipt,
                erased_at=erased_at,
                who=who,
                why=why,
                removed=json.loads(removed),
                digest=digest,
            )
            for receipt, erased_at, who, why, removed, digest in self._database.rows(
                "erasure_receipts"
            )
        ]

    def keep_receipts(self, receipts: Sequence[ErasureReceipt]) -> None:
        """Keep receipts of another copy of this store, those it has left alone."""
        known = {one.receipt for one in self.receipts()}
        for one in receipts:
            if one.receipt not in known:
                said = (one.receipt, one.erased_at, one.who, one.why)
                counts = json.dumps(dict(one.removed))
                self._database.rows("add_erasure_receipt", (*said, counts, one.digest))

    def marks(self, edition: str) -> list[EditionMark]:
        """What erasures did to an edition, oldest first."""
        names = ("edition", "receipt", "policy", "hash_before", "hash_after", "marked_at")
        return [
            EditionMark(**dict(zip(names, row, strict=True)))
            for row in self._database.rows("edition_marks", (edition,))
        ]

    def only_erased_since(self, edition: str, hash_before: str, hash_now: str) -> bool:
        """Whether erasures alone, and none that withdrew it, led from one hash to another."""
        for mark in self.marks(edition):
            if mark.hash_before == hash_before and mark.policy == "recompute":
                hash_before = mark.hash_after
        return hash_before == hash_now

    def erase(self, order: ErasureOrder) -> ErasureReceipt:
        """Erase, amend, mark, note the receipt and the log entry, as a whole or not at all."""
        mentions = self.mentions(order.golfer)
        removed: Counter[str] = Counter()
        act = Act(action="erase", who=order.who, why=order.why, binds_anew=True)
        with self._database.act(act) as act:
            for before, after in order.amended:
                strip_peers(self._database, before.name, _cells_counting(before, order.golfer))
                amend_edition(self._database, before, after)
            removed["feature_cohort"] += erase_from_frames(self._database, order.golfer)
            tables = self._tables()
            for table, columns in tables.items():
                removed[table] += self._delete_by_key(table, columns, order.golfer, mentions)
            for table, columns in tables.items():
                removed[table] += self._scrub(table, columns, mentions)
            counts = {table: count for table, count in sorted(removed.items()) if count}
            act.say(**self._note(order, counts))
        return ErasureReceipt(
            receipt=order.receipt,
            erased_at=order.erased_at,
            who=order.who,
            why=order.why,
            removed=counts,
            digest=order.digest,
        )

    def _note(self, order: ErasureOrder, removed: Mapping[str, int]) -> dict[str, object]:
        """Keep receipt and marks, and return what the log says of them."""
        said = (order.receipt, order.erased_at, order.who, order.why)
        rows = self._database.rows
        rows("add_erasure_receipt", (*said, json.dumps(removed), order.digest))
        marks = [
            {"edition": after.name, "sha256": after.content_hash, "before": before.content_hash}
            for before, after in order.amended
        ]
        for mark in marks:
            hashes = (mark["before"], mark["sha256"])
            place = (mark["edition"], order.receipt, order.policy)
            rows("add_edition_mark", (*place, *hashes, order.erased_at))
        rows("add_rewrite_due", (order.erased_at,))
        return {"receipt": order.receipt, "rows": sum(removed.values()), "editions": marks}

    def _tables(self) -> dict[str, dict[str, str]]:
        """Types by column of every table that may hold a golfer."""
        tables: dict[str, dict[str, str]] = {}
        for table, column, kind in self._database.rows("stored_columns"):
            if table not in SKIPPED:
                tables.setdefault(table, {})[column] = kind
        return tables

    def _delete_by_key(
        self, table: str, columns: Mapping[str, str], golfer: str, mentions: Mentions
    ) -> int:
        """Delete the rows that are keyed by the golfer, a swing or a file of the golfer."""
        if table == "golfer":
            return len(self._script(f'DELETE FROM "{table}" WHERE code = ? RETURNING 1', (golfer,)))
        deleted = 0
        for key in KEYS:
            if columns.get(key) != "VARCHAR":
                continue
            mine = [golfer]
            if key != "golfer":
                found = {text for _, text in self._texts_of(table, key, mentions)}
                mine = [text for text in found if mentions.found_in(text)]
            if mine:
                text = f'DELETE FROM "{table}" WHERE "{key}" IN (SELECT unnest(?)) RETURNING 1'
                deleted += len(self._script(text, (mine,)))
        return deleted

    def _scrub(self, table: str, columns: Mapping[str, str], mentions: Mentions) -> int:
        """Take the golfer out of texts and documents that are kept; rows of files go whole."""
        deleted = 0
        for column, kind in _texts(columns).items():
            for row, text in self._texts_of(table, column, mentions):
                clean = _clean(text, kind, mentions)
                if clean == text:
                    continue
                if table in ROW_PER_FILE:
                    deleted += len(
                        self._script(f'DELETE FROM "{table}" WHERE rowid = ? RETURNING 1', (row,))
                    )
                else:
                    update = f'UPDATE "{table}" SET "{column}" = ? WHERE rowid = ?'
                    self._script(update, (clean, row))
        return deleted

    def _texts_of(self, table: str, column: str, mentions: Mentions) -> list[tuple[Any, ...]]:
        """Rows and texts of a column that could name the golfer."""
        text = f'SELECT rowid, "{column}" FROM "{table}" WHERE regexp_matches("{column}", ?)'
        return self._script(text, (mentions.candidates,))

    def _script(self, text: str, parameters: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        return self._database.script(text, parameters)


def _texts(columns: Mapping[str, str]) -> dict[str, str]:
    """Columns that hold words or documents, by type."""
    return {column: kind for column, kind in columns.items() if kind in ("VARCHAR", "JSON")}


def _clean(text: str, kind: str, mentions: Mentions) -> str:
    """A text, or a document, without what names the golfer; unchanged where nothing does."""
    if kind == "VARCHAR":
        return mentions.without(text)
    document = json.loads(text)
    pruned = mentions.pruned(document)
    return text if pruned == document else json.dumps(pruned, allow_nan=False)


def _cells_counting(edition: Edition, golfer: str) -> set[str]:
    """Keys of the cells that have the golfer among their members."""
    return {cell.cohort.definition.key for cell in edition.cells if golfer in cell.cohort.golfers}
