"""Opens a store, or says in one line why not."""

import re
import shutil
from os import PathLike
from pathlib import Path
from typing import Final

import duckdb

from norms.errors import StoreRefused
from pipelines.store.database import Database
from pipelines.store.journal import note_act, note_all_tables
from pipelines.store.migrations import apply_migrations, missing_migrations
from pipelines.store.rewrite import (
    COPY_BEFORE_MIGRATION,
    DRAFT,
    STORAGE_VERSION,
    rewrite_is_due,
    rewrite_store,
)
from pipelines.store.store import Store

IN_MEMORY: Final = ":memory:"


def open_store(
    path: str | PathLike[str], *, create: bool = False, read_only: bool = False
) -> Store:
    """Open a store; use it as a context manager.

    One process at a time holds a store that is open for writing; readers share it among
    themselves. A store of an older version is copied beside itself and brought up to date; one from
    which a golfer was erased, and whose file was not yet written anew, is written anew.

    Parameters
    ----------
    path : path
        The store's file, or ``":memory:"`` for one that is forgotten when closed.
    create : bool
        Make the store where there is none; its folder must exist.
    read_only : bool
        Open for reading only, which several processes can do at once.

    Raises
    ------
    StoreRefused
        With code ``store_missing``, ``store_busy``, ``store_newer``, ``store_older`` (reading
        only, where a migration would have to write), ``not_a_store``, ``store_corrupt`` or
        ``store_not_permitted``.
    """
    name = str(path)
    create = create or name == IN_MEMORY
    if name != IN_MEMORY:
        _check_place(Path(path), create)
    database = _connect(name, read_only=read_only)
    try:
        missing = missing_migrations(database, name, create=create, read_only=read_only)
        if missing and missing[0].version > 1:
            database = _reopen_after_copying(database, Path(path), missing[0].version - 1)
        apply_migrations(database, missing)
        if missing:
            made = missing[0].version == 1
            action = "store made" if made else "store updated"
            note_all_tables(database, action, {"version": missing[-1].version})
        database.journal = note_act
        if not read_only and name != IN_MEMORY and rewrite_is_due(database):
            rewrite_store(database, Path(path))
            database = _connect(name, read_only=False)
            database.journal = note_act
    except BaseException:
        database.close()
        raise
    return Store(database, name)


def _reopen_after_copying(database: Database, path: Path, version: int) -> Database:
    database.close()  # settles everything in the one file
    draft = path.with_name(path.name + DRAFT)
    shutil.copy2(path, draft)
    draft.replace(path.with_name(f"{path.name}{COPY_BEFORE_MIGRATION}{version}"))
    return _connect(str(path), read_only=False)


def _check_place(path: Path, create: bool) -> None:
    if path.is_dir():
        raise StoreRefused(
            f"{path}: is a folder, not a store: name the store's file", code="not_a_store"
        )
    if path.exists():
        _check_is_database(path)
        return
    if not create:
        raise StoreRefused(
            f"{path}: there is no store here: check the path, or collect captures into a new one",
            code="store_missing",
        )
    if not path.absolute().parent.is_dir():
        raise StoreRefused(
            f"{path}: the folder {path.parent} does not exist: make it first", code="store_missing"
        )


def _check_is_database(path: Path) -> None:
    """DuckDB opens any other file, a roster say, as tables in memory, and would lose the store."""
    try:
        with path.open("rb") as file:
            mark = file.read(12)[8:]
    except OSError as error:
        raise StoreRefused(
            f"{path}: cannot be opened ({error.strerror}): check the rights of the file",
            code="store_not_permitted",
        ) from error
    if mark != b"DUCK":
        raise StoreRefused(
            f"{path}: is not a store (not a DuckDB file): check the path, or name a new file",
            code="not_a_store",
        )


def _connect(name: str, *, read_only: bool) -> Database:
    settings: dict[str, str | bool | int | float | list[str]] = {
        "storage_compatibility_version": STORAGE_VERSION,
        # Nothing is fetched from the network, and no Python variable is taken for a table.
        "autoinstall_known_extensions": False,
        "python_enable_replacements": False,
    }
    try:
        # The whole path, so that no name is taken for the address of a service ("x:y").
        place = name if name == IN_MEMORY else str(Path(name).absolute())
        connection = duckdb.connect(place, read_only=read_only, config=settings)
    except duckdb.Error as error:
        raise _refusal(name, error) from error
    return Database(connection, name)


def _refusal(name: str, error: duckdb.Error) -> StoreRefused:
    """DuckDB tells its reasons apart only by their words; tests hold these words."""
    text = str(error)
    if "lock on file" in text or "different configuration" in text:
        holder = re.search(r"\(PID (\d+)\)", text)
        process = f"process {holder[1]}" if holder else "another process"
        return StoreRefused(
            f"{name}: the store is in use by {process}: wait until it has finished, then try again",
            code="store_busy",
        )
    if "version number" in text or "newer version" in text:
        return StoreRefused(
            f"{name}: was written by a newer DuckDB than {duckdb.__version__}: update DuckDB",
            code="store_newer",
        )
    if "Cannot open file" in text:
        return StoreRefused(
            f"{name}: cannot be opened: check the rights of the file and its folder",
            code="store_not_permitted",
        )
    return StoreRefused(
        f"{name}: the store is damaged ({text.splitlines()[0]}): restore it from a copy",
        code="store_corrupt",
    )
