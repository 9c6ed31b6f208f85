"""Opens a store, or says in one line why not."""

from os import PathLike
from pathlib import Path
from typing import Final

from norms.errors import StoreRefused
from pipelines.store.beside import (
    COPY_BEFORE_MIGRATION,
    REPLACED,
    is_backup,
    left_behind,
    remove,
    side_files,
)
from pipelines.store.copies import copy_database
from pipelines.store.database import Database
from pipelines.store.holding import LOGGER, connect
from pipelines.store.journal import note_act, note_all_tables
from pipelines.store.migrations import apply_migrations, missing_migrations
from pipelines.store.rewrite import rewrite_is_due, rewrite_store
from pipelines.store.store import Store

IN_MEMORY: Final = ":memory:"
UPDATED: Final = "update"
REWRITTEN: Final = "rewrite"
CLEARED: Final = "clear"


def open_store(
    path: str | PathLike[str], *, create: bool = False, read_only: bool = False
) -> Store:
    """Open a store; use it as a context manager.

    One process at a time holds a store that is open for writing; readers share it among
    themselves. Where another process has it, it is waited for, and said for whom.

    Any opening first finishes what stands out, and says so: a store of an older version is copied
    beside itself and brought up to date; one from which a golfer was erased, and whose file was
    not yet written anew, is written anew; what a command that was cut short left beside it is
    removed. For reading, that needs the store to itself for a moment; where it cannot be had, the
    store is read as it is, unless it is of an older version.

    Parameters
    ----------
    path : path
        The store's file, links followed, or ``":memory:"`` for one that is forgotten when closed.
    create : bool
        Make the store where there is none; its folder must exist.
    read_only : bool
        Open for reading only, which several processes can do at once.

    Raises
    ------
    StoreRefused
        With code ``store_missing``, ``store_busy``, ``store_newer``, ``store_older`` (where the
        update cannot be written), ``not_a_store``, ``store_corrupt``, ``store_is_backup`` (not
        for reading) or ``store_not_permitted``.
    """
    name = str(path)
    if name == IN_MEMORY:
        return Store(_brought_up(connect(name, None, read_only=False), name, None), name)
    real = _checked_place(name, create)
    database = _for_reading(name, real) if read_only else _for_writing(name, real, create=create)
    return Store(database, name)


def open_as_it_is(path: Path) -> Store:
    """Open a store of any known version for reading, and change nothing about it.

    Only to compare what its tables hold: queries are written for the newest version.
    """
    name = str(path)
    return Store(connect(name, _checked_place(name, create=False), read_only=True), name)


def _for_writing(
    name: str, path: Path, *, create: bool = False, wait_s: float | None = None
) -> Database:
    if is_backup(path):
        raise StoreRefused(
            f"{name}: is a backup (its manifest lies beside it) and is not changed: restore it to "
            "a new file, or destroy it and back the store up anew",
            code="store_is_backup",
        )
    database = connect(name, path, read_only=False, wait_s=wait_s)
    try:
        return _brought_up(database, name, path, create=create)
    except BaseException:
        database.close()
        raise


def _brought_up(
    database: Database, name: str, path: Path | None, *, create: bool = True
) -> Database:
    """The store with everything done that stood out; connected anew where its file is a new one."""
    missing = missing_migrations(database, name, create=create)
    if missing and missing[0].version > 1 and path is not None:
        version = missing[0].version - 1
        copy = path.with_name(f"{path.name}{COPY_BEFORE_MIGRATION}{version}")
        copy_database(database, copy)
        LOGGER.warning(
            f"{name}: brought from version {version} to {missing[-1].version}; a copy from before "
            f"is kept beside it: {copy.name}"
        )
    apply_migrations(database, missing)
    if missing:
        action = "store made" if missing[0].version == 1 else "store updated"
        note_all_tables(database, action, {"version": missing[-1].version})
    database.journal = note_act
    if path is None:
        return database
    if left := left_behind(path):
        remove(left)
        names = ", ".join(one.name for one in left)
        LOGGER.warning(f"{name}: removed what a command that was cut short had left: {names}")
    if not rewrite_is_due(database):
        return database
    rewrite_store(database, path, name)
    LOGGER.warning(f"{name}: an erasure that was cut short is finished: the file is written anew")
    anew = connect(name, path, read_only=False)
    anew.journal = note_act
    return anew


def _for_reading(name: str, path: Path) -> Database:
    database = connect(name, path, read_only=True)
    try:
        due = _standing_out(database, name, path)
    except BaseException:
        database.close()
        raise
    if due is None:
        return database
    database.close()
    try:
        _for_writing(name, path, wait_s=None if due == UPDATED else 0.0).close()
    except StoreRefused as refusal:
        if due == UPDATED:
            raise _too_old(name, refusal) from refusal
        if due == REWRITTEN:
            LOGGER.warning(f"an erasure is still to be finished: {refusal.message}")
    return connect(name, path, read_only=True)


def _standing_out(database: Database, name: str, path: Path) -> str | None:
    if missing_migrations(database, name, create=False):
        return UPDATED
    if rewrite_is_due(database):
        return REWRITTEN
    return CLEARED if left_behind(path) and not is_backup(path) else None


def _too_old(name: str, refusal: StoreRefused) -> StoreRefused:
    return StoreRefused(
        f"{name}: is of an older version of this program and could not be brought up to date: "
        f"{refusal.message}",
        code="store_older",
    )


def _checked_place(name: str, create: bool) -> Path:
    """The real file of a store; refuses a place that cannot be one."""
    given = Path(name)
    path = given.resolve()
    if path.is_dir():
        raise StoreRefused(
            f"{name}: is a folder, not a store: name the store's file", code="not_a_store"
        )
    if path.exists():
        _check_is_database(name, path)
    elif not create:
        raise StoreRefused(
            f"{name}: there is no store here: {_instead(path)}", code="store_missing"
        )
    elif not path.parent.is_dir():
        raise StoreRefused(
            f"{name}: the folder {path.parent} does not exist: make it first", code="store_missing"
        )
    return path


def _instead(path: Path) -> str:
    replaced = []
    if path.parent.is_dir():
        replaced = [one.name for one in side_files(path) if REPLACED in one.name]
    if replaced:
        return f"a restore was cut short, and {replaced[-1]} is the store it replaces: restore anew"
    return "check the path, or collect captures into a new one"


def _check_is_database(name: str, path: Path) -> None:
    """DuckDB opens any other file, a roster say, as tables in memory, and would lose the store."""
    try:
        with path.open("rb") as file:
            mark = file.read(12)[8:]
    except OSError as error:
        raise StoreRefused(
            f"{name}: cannot be opened ({error.strerror}): check the rights of the file",
            code="store_not_permitted",
        ) from error
    if mark != b"DUCK":
        raise StoreRefused(
            f"{name}: is not a store (not a DuckDB file): check the path, or name a new file",
            code="not_a_store",
        )
