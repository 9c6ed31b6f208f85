"""Writes a store's file anew, so that nothing of what was deleted is left in its bytes.

DuckDB marks deleted rows and reuses their room some day; until then they can be read out of the
file. Only a file that never held them is clean. It is made beside the store and takes the store's
place in one step, so that a kill leaves the one or the other.
"""

import os
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from norms.errors import StoreRefused
from pipelines.store.database import Database

STORAGE_VERSION: Final = "v1.4.0"
"""Format of the file on disk: pinned, so that an upgrade of DuckDB does not lock older readers
out without being asked for. The `schema_version` table records what a store was written with."""

DRAFT: Final = ".rewriting"
"""Ending of the file that is being made; one that a kill left behind is written anew."""
COPY_BEFORE_MIGRATION: Final = ".version-"
"""Mark in the names of copies that a change of tables leaves beside the store."""
SPILLED: Final = ".tmp"
"""Ending of the folder into which DuckDB spills, which a kill can leave behind."""


def rewrite_is_due(database: Database) -> bool:
    """Whether rows were erased whose bytes may still lie in the file."""
    return bool(database.rows("rewrite_due")[0][0])


def rewrite_store(database: Database, path: Path) -> None:
    """Write a store anew and remove its side files; closes it, to be opened again by the caller.

    Parameters
    ----------
    database : Database
        Open for writing, and alone.
    path : Path

    Raises
    ------
    StoreRefused
        ``store_failed``; the store is then as it was, and the rewriting still due.
    """
    database.journal = None  # nothing that the store holds is changed
    draft = _clean_copy(database, path)
    database.close()  # settles what was logged into the one file
    # Before the clean file takes over: with it, the note that the work is due is gone.
    _remove_side_files(path, draft)
    _put_in_place(draft, path)


def _clean_copy(database: Database, path: Path) -> Path:
    draft = path.with_name(path.name + DRAFT)
    forget_draft(draft)
    _check_room(path)
    place = str(draft.absolute()).replace("'", "''")
    try:
        database.script(f"ATTACH '{place}' AS clean (STORAGE_VERSION '{STORAGE_VERSION}')")
        name = database.script("SELECT current_database()")[0][0].replace('"', '""')
        database.script(f'COPY FROM DATABASE "{name}" TO clean')
        _check_counts(database, path)
        database.script("DELETE FROM clean.rewrite_due")
        database.script("CHECKPOINT clean")
        database.script("DETACH clean")
    except BaseException:
        database.close()
        forget_draft(draft)
        raise
    return draft


def _put_in_place(draft: Path, path: Path) -> None:
    for log in (_log_of(draft), _log_of(path)):
        if log.exists():  # would be replayed into a file that it does not belong to
            forget_draft(draft)
            raise StoreRefused(
                f"{path}: could not be settled into one file ({log.name} is left): open it once "
                "for writing, then try again",
                code="store_failed",
            )
    settle(draft)
    draft.replace(path)
    settle(path.absolute().parent)


def side_files(path: Path) -> list[Path]:
    """Copies of the store from before changes of its tables, and what a kill left beside it."""
    return sorted(
        other
        for other in path.absolute().parent.iterdir()
        if other.name.startswith(path.name + COPY_BEFORE_MIGRATION)
        or other.name in (path.name + DRAFT, path.name + SPILLED)
        or other.name in (f".{path.name}.restoring", f".{path.name}.draft")
    )


def _remove_side_files(path: Path, draft: Path) -> None:
    for other in side_files(path):
        if other.is_dir():
            shutil.rmtree(other)
        elif other.name != draft.name:
            other.unlink()


def _check_room(path: Path) -> None:
    if shutil.disk_usage(path.absolute().parent).free < path.stat().st_size:
        raise StoreRefused(
            f"{path}: there is no room beside it for the file that is to be written anew: make "
            "room, then try again",
            code="store_failed",
        )


def _check_counts(database: Database, path: Path) -> None:
    """Every table of the copy has as many rows as the store's own."""
    tables: Sequence[tuple[str, ...]] = database.rows("stored_tables")
    for (table,) in tables:
        counts = database.script(
            f'SELECT (SELECT count(*) FROM "{table}"), (SELECT count(*) FROM clean."{table}")'
        )[0]
        if counts[0] != counts[1]:
            raise StoreRefused(
                f"{path}: could not be written anew ({table}: {counts[1]} of {counts[0]} rows): "
                "nothing was changed; check the disk",
                code="store_failed",
            )


def _log_of(path: Path) -> Path:
    return path.with_name(f"{path.name}.wal")


def forget_draft(draft: Path) -> None:
    """Remove an unfinished file, and its log."""
    for other in (draft, _log_of(draft)):
        other.unlink(missing_ok=True)


def settle(path: Path) -> None:
    """Wait until the disk has a file, or the names in a folder."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
