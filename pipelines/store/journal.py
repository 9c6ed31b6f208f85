"""Notes an act in the log, within its transaction: what it did, to which tables, what was before.

A line of the log holds the digest of every table that the act changed, as it is after the act. The
newest line on a table therefore says what the table must hold, and whatever is changed, added or
taken away behind the log's back is found. The old rows of what persons enter are kept beside, so
that the act can be undone.
"""

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from pipelines.store.act import Act
from pipelines.store.audit import AuditLog
from pipelines.store.database import Database
from pipelines.store.digests import (
    BATCH_ROWS,
    EMPTY,
    UNBOUND,
    TableDigest,
    digest_key,
    draw_digest_key,
    row_digests,
    table_digests,
)

if TYPE_CHECKING:
    import pyarrow as pa

KEYS: Final[Mapping[str, tuple[str, ...]]] = {
    "golfer": ("code",),
    "handicap": ("golfer", "since"),
    "consent": ("golfer", "purpose", "decided_on"),
    "ball_speed": ("swing",),
    "golfer_event": ("number",),
    "exclusion": ("number",),
    "session_release": ("lab", "recorded_on"),
    "setting": ("key",),
    "event_correction": ("number",),
    "file_outcome": ("run", "place"),
    "swing": ("code",),
    "swing_event": ("swing", "event"),
    "swing_feature": ("swing", "feature"),
}
"""Tables of which the old rows are kept, with the columns that tell a row from the others."""

ABOUT: Final = ("golfer", "swing", "content_hash")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowChange:
    """One row that an act changed.

    Attributes
    ----------
    table : str
    key : dict of str to plain JSON values
    old : dict of str to plain JSON values, or None
        None: there was none.
    new_digest : str or None
        None: it is gone.
    about : tuple of 3 str or None
        Golfer, swing and content hash whom it concerns.
    """

    table: str
    key: Mapping[str, object]
    old: Mapping[str, object] | None
    new_digest: str | None
    about: tuple[str | None, ...]


def note_act(database: Database, act: Act) -> None:
    """Add the act's line to the log, with the digests of the tables that it changed.

    Called inside the act's transaction, when all else is done.
    """
    log = AuditLog(database)
    said = dict(act.details)
    if act.why:
        said["why"] = log.without_codes(act.why)
    if act.golfer is not None:
        said["golfer"] = log.pseudonym(act.golfer)
    if act.binds_anew:
        draw_digest_key(database)
        log.add_line(act, log.next_number(), said | _bind_all(database))
        return
    states = _states(database)
    number = log.next_number()
    changed: dict[str, TableDigest] = {}
    changes: list[RowChange] = []
    key = digest_key(database)
    with closing(database.before()) as before:
        for table in sorted(set(act.touched) - UNBOUND):
            gone, come = _changed_rows(database, before, key, table, act)
            if gone or come:
                changed[table] = states.get(table, EMPTY).changed(
                    gone=[row.digest for row in gone], come=[row.digest for row in come]
                )
                if act.can_undo and table in KEYS:
                    changes += _row_changes(table, gone, come)
    if act.silent_unchanged and not changed:
        return
    if changes:
        added = _keep_changes(database, key, number, changes)
        changed["act_change"] = states.get("act_change", EMPTY).changed(gone=[], come=added)
    _keep_states(database, changed)
    log.add_line(act, number, said | _tables_said(changed))


def note_all_tables(database: Database, action: str, details: Mapping[str, object]) -> None:
    """Add a line that binds every table as it is: when a store is made, or its tables change."""
    act = Act(action=action)
    with database.transaction():
        draw_digest_key(database)
        log = AuditLog(database)
        log.add_line(act, log.next_number(), dict(details) | _bind_all(database))


def _bind_all(database: Database) -> dict[str, object]:
    emptied = dict.fromkeys(_states(database), EMPTY)
    digests = emptied | table_digests(database)
    _keep_states(database, digests)
    return _tables_said(digests)


def table_faults(database: Database) -> list[str]:
    """Tables that do not hold what the newest line of the log on them says, in words."""
    said: dict[str, TableDigest] = {}
    for entry in AuditLog(database).entries():
        for table, (rows, digest) in json.loads(entry.details).get("tables", {}).items():
            said[table] = TableDigest(rows=rows, digest=digest)
    faults = []
    found = table_digests(database)
    for table in sorted(said.keys() | found.keys()):
        holds, expected = found.get(table, EMPTY), said.get(table, EMPTY)
        if holds != expected:
            rows = (
                f"{holds.rows:,} rows where the log knows {expected.rows:,}"
                if holds.rows != expected.rows
                else "other rows than the log knows"
            )
            faults.append(f"table {table} was changed behind the log: it holds {rows}")
    return faults


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """A row where it was read, with its digest."""

    digest: bytes
    batch: "pa.RecordBatch"
    place: int

    def values(self) -> dict[str, Any]:
        """Plain JSON values by column."""
        row: dict[str, Any] = self.batch.slice(self.place, 1).to_pylist()[0]
        return {
            name: value.isoformat() if isinstance(value, date) else value
            for name, value in row.items()
        }


def _changed_rows(
    database: Database, before: Database, key: str, table: str, act: Act
) -> tuple[list[_Row], list[_Row]]:
    """Rows that an act took away from a table, and those that it added."""
    if not act.touched[table]:
        highest = before.script(f'SELECT max(rowid) FROM "{table}"')[0][0]
        if highest is None:
            return [], list(_read(database, key, table))
        return [], list(_read(database, key, table, "WHERE rowid > ?", (highest,)))
    where, values = _narrowed(table, act)
    old, new = (
        list(_read(before, key, table, where, values)),
        list(_read(database, key, table, where, values)),
    )
    return _without(old, new), _without(new, old)


def _read(
    database: Database, key: str, table: str, where: str = "", values: Sequence[object] = ()
) -> Iterator[_Row]:
    for batch in database.batches(f'SELECT * FROM "{table}" {where}', values, BATCH_ROWS):
        for place, digest in enumerate(row_digests(key, table, batch)):
            yield _Row(digest=digest, batch=batch, place=place)


def _narrowed(table: str, act: Act) -> tuple[str, tuple[object, ...]]:
    """Condition that leaves out rows that the act is known not to have changed."""
    if act.swings is None or table not in ("swing", "swing_event", "swing_feature"):
        return "", ()
    column = "code" if table == "swing" else "swing"
    return f"WHERE {column} IN (SELECT unnest(?))", (sorted(act.swings),)


def _without(rows: Sequence[_Row], others: Sequence[_Row]) -> list[_Row]:
    """Rows that are not among the others, each as often as it stands oftener."""
    there = Counter(row.digest for row in others)
    left = []
    for row in rows:
        if there[row.digest]:
            there[row.digest] -= 1
        else:
            left.append(row)
    return left


def _row_changes(table: str, gone: Sequence[_Row], come: Sequence[_Row]) -> list[RowChange]:
    """What became of each row, by the columns that tell it from the others."""
    names = KEYS[table]
    old = {tuple(values[name] for name in names): values for values in (r.values() for r in gone)}
    new = {tuple(row.values()[name] for name in names): row for row in come}
    return [
        RowChange(
            table=table,
            key=dict(zip(names, key, strict=True)),
            old=old.get(key),
            new_digest=new[key].digest.hex() if key in new else None,
            about=_about(table, old[key] if key in old else new[key].values()),
        )
        for key in sorted(old.keys() | new.keys(), key=str)
    ]


def _about(table: str, values: Mapping[str, Any]) -> tuple[str | None, ...]:
    """Golfer, swing and content hash whom a row concerns."""
    own = {"golfer": "golfer", "swing": "swing"}.get(table)
    known = {**values, own: values["code"]} if own else values
    return tuple(known.get(name) for name in ABOUT)


def _keep_changes(
    database: Database, key: str, number: int, changes: Sequence[RowChange]
) -> list[bytes]:
    """Keep what rows were; returns the digests of the rows that say so."""
    import pyarrow as pa

    words: dict[str, list[str | None]] = {
        "table_name": [change.table for change in changes],
        **{name: [change.about[place] for change in changes] for place, name in enumerate(ABOUT)},
        "row_key": [json.dumps(change.key) for change in changes],
        "old_row": [None if c.old is None else json.dumps(c.old) for c in changes],
        "new_digest": [change.new_digest for change in changes],
    }
    rows = {
        "act": pa.array([number] * len(changes), pa.int32()),
        "place": pa.array(range(len(changes)), pa.int32()),
        **{name: pa.array(values, pa.string()) for name, values in words.items()},
    }
    database.take_in("add_act_changes", pa.table(rows))
    return [row.digest for row in _read(database, key, "act_change", "WHERE act = ?", (number,))]


def _states(database: Database) -> dict[str, TableDigest]:
    return {
        name: TableDigest(rows=rows, digest=digest)
        for name, rows, digest in database.rows("table_states")
    }


def _keep_states(database: Database, states: Mapping[str, TableDigest]) -> None:
    for name, state in states.items():
        database.rows("put_table_state", (name, state.rows, state.digest))


def _tables_said(states: Mapping[str, TableDigest]) -> dict[str, object]:
    if not states:
        return {}
    return {"tables": {name: [one.rows, one.digest] for name, one in sorted(states.items())}}
