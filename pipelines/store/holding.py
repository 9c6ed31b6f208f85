"""Who has a store: waiting for it, saying for whom, and keeping it while its file is replaced.

DuckDB locks a store's file (a record lock of POSIX), not its name. Where another file takes the
name, two rules keep a process from writing into the file that is gone: who replaces a store holds
the lock of the file in place until the new one has its name, and who has opened one looks whether
it still is the file of that name.
"""

import fcntl
import logging
import os
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import duckdb

from norms.errors import StoreRefused
from pipelines.store.beside import spill_folder
from pipelines.store.database import Database

LOGGER: Final = logging.getLogger("pipelines.store")
"""What is said beside a result; the command line prints it on standard error."""

STORAGE_VERSION: Final = "v1.4.0"
"""Format of the file on disk: pinned, so that an upgrade of DuckDB does not lock older readers
out without being asked for. The `schema_version` table records what a store was written with."""

WAIT_VARIABLE: Final = "NORMS_WAIT_S"
"""Environment variable with the seconds to wait for a store that another process has."""
USUAL_WAIT_S: Final = 10.0
PAUSE_S: Final = 0.1

Stamp = tuple[int, int, int]
"""A file's identity, its length and when it was last changed."""


def connect(
    name: str, path: Path | None, *, read_only: bool, wait_s: float | None = None
) -> Database:
    """Connect to a store's file, after a while where another process has it.

    Parameters
    ----------
    name : str
        As messages say it.
    path : Path or None
        The real file, links followed; None for a store in memory.
    read_only : bool
    wait_s : float, optional
        By default as the environment says, or ten seconds.

    Raises
    ------
    StoreRefused
        As `pipelines.store.opening.open_store`.
    """
    if path is None:
        return _connect(name, None, read_only=False)
    wait_s = _patience_s() if wait_s is None else wait_s
    until = time.monotonic() + wait_s
    waiting = False
    while True:
        before = _identity(path)
        try:
            database = _connect(name, path, read_only=read_only)
        except _BusyError as busy:
            left_s = until - time.monotonic()
            if left_s <= 0:
                raise busy.refusal(wait_s) from busy
            if not waiting:
                LOGGER.warning(f"{busy}: waiting up to {wait_s:g} s")
                waiting = True
            time.sleep(min(PAUSE_S, left_s))
            continue
        if before in (None, _identity(path)):
            return database
        database.close()  # another file has taken the name since


@contextmanager
def held(path: Path, name: str, *, since: Stamp | None = None) -> Iterator[None]:
    """Keep everybody out of a store's file, so that another file may take its name.

    This process's own connection must be closed, and nothing inside may open the file: closing it
    would give up the lock.

    Parameters
    ----------
    path : Path
    name : str
        As messages say it.
    since : Stamp, optional
        What the file must still be.

    Raises
    ------
    StoreRefused
        ``store_busy`` where another process has it, or has written to it since.
    """
    with path.open("r+b") as file:
        try:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise _taken_meanwhile(name) from None
        if since is not None and stamp_of(path) != since:
            raise _taken_meanwhile(name)
        yield


def stamp_of(path: Path) -> Stamp:
    """What a file is now."""
    said = path.stat()
    return said.st_ino, said.st_size, said.st_mtime_ns


def _taken_meanwhile(name: str) -> StoreRefused:
    return StoreRefused(
        f"{name}: another process took the store in the middle of the work: try again",
        code="store_busy",
    )


class _BusyError(Exception):
    """Another process has the store."""

    def refusal(self, waited_s: float) -> StoreRefused:
        after = f" after {waited_s:g} s" if waited_s > 0 else ""
        return StoreRefused(
            f"{self}{after}: wait until it has finished, then try again", code="store_busy"
        )


def _patience_s() -> float:
    said = os.environ.get(WAIT_VARIABLE, "")
    try:
        wait_s = float(said or USUAL_WAIT_S)
    except ValueError:
        wait_s = -1.0
    if not 0 <= wait_s <= 86_400:
        raise StoreRefused(
            f"{WAIT_VARIABLE}={said}: not a time to wait; give seconds from 0 to 86400", code="wait"
        )
    return wait_s


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        said = path.stat()
    except OSError:
        return None
    return said.st_dev, said.st_ino


def _connect(name: str, path: Path | None, *, read_only: bool) -> Database:
    settings: dict[str, str | bool | int | float | list[str]] = {
        "storage_compatibility_version": STORAGE_VERSION,
        # Nothing is fetched from the network, and no Python variable is taken for a table.
        "autoinstall_known_extensions": False,
        "python_enable_replacements": False,
    }
    if path is not None:
        settings["temp_directory"] = str(spill_folder(path))
    try:
        # The whole path, so that no name is taken for the address of a service ("x:y").
        place = ":memory:" if path is None else str(path)
        connection = duckdb.connect(place, read_only=read_only, config=settings)
    except duckdb.Error as error:
        raise _refusal(name, error) from error
    return Database(connection, name)


def _refusal(name: str, error: duckdb.Error) -> Exception:
    """DuckDB tells its reasons apart only by their words; tests hold these words."""
    text = str(error)
    if "lock on file" in text:
        holder = re.search(r"\(PID (\d+)\)", text)
        process = f"process {holder[1]}{_doing(holder[1])}" if holder else "another process"
        return _BusyError(f"{name}: the store is in use by {process}")
    if "different configuration" in text:
        return StoreRefused(
            f"{name}: the store is open already in this process: close it first", code="store_busy"
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


def _doing(process: str) -> str:
    """What a process runs, e.g. " (norms collect)"; nothing where the system does not tell.

    Only program and command: what follows can name a golfer.
    """
    try:
        words = Path("/proc", process, "cmdline").read_text("utf-8", "replace").split("\0")
    except OSError:
        return ""
    names = [Path(word).name for word in words if word]
    if names and names[0].startswith("python"):
        names = names[1:]
    if not names or names[0] != "norms":
        return ""
    command = next((word for word in names[1:] if not word.startswith("-")), "")
    return f" (norms {command})" if command.replace("-", "").isalpha() else " (norms)"
