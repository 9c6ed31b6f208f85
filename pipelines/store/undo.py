"""Takes an act back: the rows that it changed are put back as they were."""

import json
from collections.abc import Mapping, Sequence

from norms.errors import StoreRefused
from pipelines.store.database import Database
from pipelines.store.digests import BATCH_ROWS, digest_key, row_digests
from pipelines.store.journal import KEYS, RowChange


def changes_of(database: Database, number: int) -> list[RowChange]:
    """What an act changed, in the order in which it stands; empty where nothing is kept of it."""
    return [
        RowChange(
            table=table,
            key=json.loads(key),
            old=None if old is None else json.loads(old),
            new_digest=new,
            about=tuple(about),
        )
        for table, key, old, new, *about in database.rows("act_changes", (number,))
    ]


def put_back(database: Database, number: int) -> list[RowChange]:
    """Put the rows that an act changed back as they were; within the act that does so.

    Raises
    ------
    StoreRefused
        ``not_to_be_undone`` where nothing is kept of it, or a row has been changed since.
    """
    changes = changes_of(database, number)
    if not changes:
        raise StoreRefused(
            f"act {number} of the log: nothing that it changed can be put back; norms log says "
            "what it was, and norms amend or norms withdraw put single entries right",
            code="not_to_be_undone",
        )
    key = digest_key(database)
    for change in changes:
        _refuse_changed_since(database, key, change, number)
    for change in changes:
        where, values = _by_key(change)
        database.script(f'DELETE FROM "{change.table}" {where}', values)
    for change in changes:
        if change.old is not None:
            _insert(database, change.table, change.old)
    return changes


def _refuse_changed_since(database: Database, key: str, change: RowChange, number: int) -> None:
    where, values = _by_key(change)
    found = [
        digest.hex()
        for batch in database.batches(f'SELECT * FROM "{change.table}" {where}', values, BATCH_ROWS)
        for digest in row_digests(key, change.table, batch)
    ]
    expected = [] if change.new_digest is None else [change.new_digest]
    if found != expected:
        said = ", ".join(f"{name} {value}" for name, value in change.key.items())
        raise StoreRefused(
            f"act {number} of the log: what it changed ({change.table}: {said}) has been changed "
            "since, or somebody was erased since; undo the later act first, or put the entry right "
            "with norms amend",
            code="not_to_be_undone",
        )


def _by_key(change: RowChange) -> tuple[str, Sequence[object]]:
    names = KEYS[change.table]
    return f"WHERE {' AND '.join(f'{name} = ?' for name in names)}", [change.key[n] for n in names]


def _insert(database: Database, table: str, row: Mapping[str, object]) -> None:
    columns = ", ".join(f'"{name}"' for name in row)
    places = ", ".join("?" for _ in row)
    database.script(f'INSERT INTO "{table}" ({columns}) VALUES ({places})', list(row.values()))
