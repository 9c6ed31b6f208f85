"""Copies of a store, compared with it row by row before they are believed."""

from collections.abc import Callable
from pathlib import Path

from norms.errors import StoreRefused
from pipelines.store.beside import DRAFT, draft_of
from pipelines.store.database import Database
from pipelines.store.holding import STORAGE_VERSION
from pipelines.store.rewrite import forget_draft, settle


def copy_database(
    database: Database, target: Path, before_naming: Callable[[Path], None] | None = None
) -> dict[str, int]:
    """Write a settled copy of a store, which readers may go on reading.

    Parameters
    ----------
    database : Database
    target : Path
        A new file in an existing folder.
    before_naming : callable, optional
        Called with the finished copy before it has its name; where it refuses, no copy is left.

    Returns
    -------
    dict of str to int
        Rows by table, each table compared with the copy's.

    Raises
    ------
    StoreRefused
        ``backup_failed``; no copy is then left.
    """
    draft = draft_of(target, DRAFT)
    forget_draft(draft)
    try:
        place = str(draft.absolute()).replace("'", "''")
        options = f"READ_WRITE, STORAGE_VERSION '{STORAGE_VERSION}'"
        database.script(f"ATTACH '{place}' AS made ({options})")
        name = database.script("SELECT current_database()")[0][0].replace('"', '""')
        database.script(f'COPY FROM DATABASE "{name}" TO made')
        database.script("CHECKPOINT made")
        database.script("DETACH made")
        # Read back from its file, not from what the memory still holds of it.
        database.script(f"ATTACH '{place}' AS made (READ_ONLY)")
        rows = _compared(database, target)
        database.script("DETACH made")
        settle(draft)
        if before_naming is not None:
            before_naming(draft)
        draft.replace(target)
        settle(target.absolute().parent)
    finally:
        forget_draft(draft)
    return rows


def _compared(database: Database, target: Path) -> dict[str, int]:
    """Rows by table, where the copy has the same ones; else a refusal."""
    rows = {}
    for (table,) in database.rows("stored_tables"):
        # The sum of the rows' hashes is the same in whatever order they stand.
        text = f'SELECT count(*), sum(hash(row)) FROM {{}}"{table}" AS row'
        ours, theirs = (database.script(text.format(of)) for of in ("", "made."))
        if ours != theirs:
            raise StoreRefused(
                f"{target}: the copy of table {table} is not the same as the store's; no backup "
                "was kept: check the disk",
                code="backup_failed",
            )
        rows[table] = int(ours[0][0])
    return rows
