"""Writes a store's file anew, so that nothing of what was deleted is left in its bytes.

DuckDB marks deleted rows and reuses their room some day; until then they can be read out of the
file. Only a file that never held them is clean. It is made beside the store and takes the store's
place in one step, so that a kill leaves the one or the other.

What is erased stays in the bytes of the store's old file from the moment in which the rows are
deleted until the new file has the old one's name, and nowhere else: copies beside the store go
before the new file is made, and the new file is filled with what is left. What no program can
promise are blocks that the disk has set free, snapshots, and copies that others keep.
"""

import os
import shutil
from collections.abc import Sequence
from pathlib import Path

from norms.errors import StoreRefused
from pipelines.store.beside import REWRITTEN, draft_of, log_of, remove, side_files
from pipelines.store.database import Database
from pipelines.store.holding import STORAGE_VERSION, held, stamp_of


def rewrite_is_due(database: Database) -> bool:
    """Whether rows were erased whose bytes may still lie in the file."""
    return bool(database.rows("rewrite_due")[0][0])


def rewrite_store(database: Database, path: Path, name: str) -> None:
    """Write a store anew and remove its side files; closes it, to be opened again by the caller.

    Parameters
    ----------
    database : Database
        Open for writing, and alone.
    path : Path
        The real file, links followed.
    name : str
        As messages say it.

    Raises
    ------
    StoreRefused
        ``store_linked``, ``store_busy`` or ``store_failed``; the store is then as it was, and the
        rewriting still due.
    """
    draft = draft_of(path, REWRITTEN)
    database.journal = None  # nothing that the store holds is changed
    try:
        refuse_linked(path, name)
        remove(side_files(path))
        _check_room(path, name)
        _fill(database, draft, name)
        database.script("CHECKPOINT")  # what was logged is settled into the one file
        before = stamp_of(path)
        database.close()
        with held(path, name, since=before):
            _put_in_place(draft, path, name)
    except BaseException:
        database.close()
        forget_draft(draft)
        raise


def refuse_linked(path: Path, name: str) -> None:
    """Refuse a file that has a second name: the old bytes would stay under it.

    Raises
    ------
    StoreRefused
        ``store_linked``.
    """
    names = path.stat().st_nlink
    if names > 1:
        raise StoreRefused(
            f"{name}: the file has {names} names on this disk (hard links), and what is erased "
            "under one would stay under the others: remove the others, then try again",
            code="store_linked",
        )


def _fill(database: Database, draft: Path, name: str) -> None:
    place = str(draft.absolute()).replace("'", "''")
    database.script(f"ATTACH '{place}' AS clean (STORAGE_VERSION '{STORAGE_VERSION}')")
    own = database.script("SELECT current_database()")[0][0].replace('"', '""')
    database.script(f'COPY FROM DATABASE "{own}" TO clean')
    _check_counts(database, name)
    database.script("DELETE FROM clean.rewrite_due")
    database.script("CHECKPOINT clean")
    database.script("DETACH clean")


def _put_in_place(draft: Path, path: Path, name: str) -> None:
    for log in (log_of(draft), log_of(path)):
        if log.exists():  # would be replayed into a file that it does not belong to
            raise StoreRefused(
                f"{name}: could not be settled into one file ({log.name} is left): open it once "
                "for writing, then try again",
                code="store_failed",
            )
    shutil.copymode(path, draft)
    settle(draft)
    draft.replace(path)
    settle(path.absolute().parent)


def _check_room(path: Path, name: str) -> None:
    needed = path.stat().st_size
    if shutil.disk_usage(path.absolute().parent).free < needed:
        raise StoreRefused(
            f"{name}: the file cannot be written anew, and still holds the bytes of what was "
            f"erased: make room for {needed / 1e6:,.0f} MB beside it, then open it with any "
            "command",
            code="store_failed",
        )


def _check_counts(database: Database, name: str) -> None:
    """Every table of the copy has as many rows as the store's own."""
    tables: Sequence[tuple[str, ...]] = database.rows("stored_tables")
    for (table,) in tables:
        counts = database.script(
            f'SELECT (SELECT count(*) FROM "{table}"), (SELECT count(*) FROM clean."{table}")'
        )[0]
        if counts[0] != counts[1]:
            raise StoreRefused(
                f"{name}: could not be written anew ({table}: {counts[1]} of {counts[0]} rows): "
                "nothing was changed; check the disk",
                code="store_failed",
            )


def forget_draft(draft: Path) -> None:
    """Remove an unfinished file, and its log."""
    remove((draft, log_of(draft)))


def settle(path: Path) -> None:
    """Wait until the disk has a file, or the names in a folder."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
