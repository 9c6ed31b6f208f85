"""Where anything may be written: the one place that decides it.

A file that exists is written over in one case only: it is an output of this program of the same
kind, which it says itself (`pipelines.output_kinds`). A store, a backup, a capture, a table, a file
in TOML that a person wrote, and what the same command reads are never written over. Any other file
is replaced where a person says so (``--force``).
"""

import os
import stat
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Final, NoReturn

from norms.errors import NormsError
from pipelines.output_kinds import Kind, is_database, kind_of, source_words

SUFFIXES: Final = (".html", ".json", ".csv", ".parquet", ".pdf", ".toml")
"""Of files that may stand beside a store with its name before them."""
MANIFEST: Final = ".manifest.json"
KEPT: Final = frozenset({"never_written_over", "other_file"})
"""Codes of refusals that keep what is there; the next file may be written all the same."""
_forced: ContextVar[bool] = ContextVar("forced", default=False)


@contextmanager
def forced(value: bool) -> Iterator[None]:
    """A person's word, for the length of a ``with`` block, that other files may be replaced."""
    token = _forced.set(value)
    try:
        yield
    finally:
        _forced.reset(token)


def place_for(path: Path, kind: Kind | None, *, inside: Path | None = None) -> Path:
    """The file that an output is to be written to, links resolved; or a refusal.

    Parameters
    ----------
    path : Path
        As a person or a job named it.
    kind : Kind or None
        What is to be written; None where nothing that exists may be replaced.
    inside : Path, optional
        Folder in which the file must lie, wherever links lead.

    Raises
    ------
    NormsError
        ``not_written`` where it cannot be, ``never_written_over`` where a store, a source or what
        belongs to a store is there, ``other_file`` where a person may say that it is replaced.
    """
    place = resolved(path)
    if inside is not None and not place.is_relative_to(resolved(inside)):
        cannot_be_written(path, f"it lies outside {inside}")
    folder = place.parent
    if not folder.is_dir():
        cannot_be_written(path, f"there is no folder {folder}")
    if place.is_dir():
        cannot_be_written(path, "it is a folder; name a file in it")
    if not os.access(folder, os.W_OK):
        cannot_be_written(path, f"nothing may be written in {folder}")
    _refuse_beside_a_store(path, place)
    if os.path.lexists(place):
        _refuse_what_is_there(path, place, kind)
    return place


def folder_for(folder: Path, *, new: bool = False) -> Path:
    """The folder that outputs are to be written into, links resolved; or a refusal.

    Parameters
    ----------
    folder : Path
        May be missing, and folders above it, too.
    new : bool
        Whether it must not exist yet.

    Raises
    ------
    NormsError
    """
    place = resolved(folder)
    if new and os.path.lexists(place):
        raise NormsError(
            f"{folder}: exists already; name a folder that does not", code="folder_in_use"
        )
    there = place
    while not there.exists():
        _refuse_beside_a_store(folder, there)
        there = there.parent
    if not there.is_dir():
        cannot_be_written(folder, f"{there} is a file")
    if not os.access(there, os.W_OK):
        cannot_be_written(folder, f"nothing may be written in {there}")
    return place


def refuse_as_store(path: Path) -> None:
    """Refuse a file in whose place a store is to be put, where it is neither store nor damage.

    Raises
    ------
    NormsError
        ``never_written_over``
    """
    if not path.is_file() or is_database(path):
        return
    what = source_words(path) or (kind.words if (kind := kind_of(path)) else None)
    if what is not None:
        _never(path, what)


def refuse_clashes(outputs: Sequence[Path], sources: Iterable[Path]) -> None:
    """Refuse an output that is also read, or named twice, by whatever path, link or hard link.

    Raises
    ------
    NormsError
    """
    for place, output in enumerate(outputs):
        for source in sources:
            if same_file(output, source):
                _never(output, f"what this command reads ({source})")
        for other in outputs[:place]:
            if same_file(output, other):
                cannot_be_written(output, f"{other} is to be written there, too; name two files")


def same_file(one: Path, other: Path) -> bool:
    """Whether two paths lead to one file, there or yet to be made."""
    try:
        return one.samefile(other)
    except OSError:
        return resolved(one) == resolved(other)


def resolved(path: Path) -> Path:
    """The absolute path without links.

    Raises
    ------
    NormsError
        If links go round in a circle, or no file can have the name.
    """
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError) as error:
        raise NormsError(f"{path}: is no path of a file ({error})", code="not_written") from None


def cannot_be_written(path: Path, why: str) -> NoReturn:
    """The refusal of a file that cannot be written.

    Raises
    ------
    NormsError
    """
    raise NormsError(f"{path}: cannot be written: {why}", code="not_written")


def _refuse_what_is_there(path: Path, place: Path, kind: Kind | None) -> None:
    if not stat.S_ISREG(place.lstat().st_mode):
        cannot_be_written(path, "it is not a regular file")
    if is_database(place):
        _never(path, "a store, or a backup of one")
    there = kind_of(place)
    if there is not None and there is kind:
        return
    if there is None and (what := source_words(place)):
        _never(path, what)
    if kind is None:
        raise NormsError(f"{path}: exists already; name a file that does not", code="file_exists")
    if not _forced.get():
        other = "another file" if there is None else there.words
        raise NormsError(
            f"{path}: is {other}, and not {kind.words}, so it is not written over; name another "
            "file, or say --force",
            code="other_file",
        )


def _refuse_beside_a_store(path: Path, place: Path) -> None:
    """A store's log and its other side files carry its name, and are read with it."""
    bare = place.name.removeprefix(".")
    for end, letter in enumerate(bare):
        rest = bare[end:]
        if letter != "." or not end or (rest.endswith(SUFFIXES) and rest != MANIFEST):
            continue
        store = place.parent / bare[:end]
        if store.is_file() and is_database(store):
            _never(path, f"the name of a file that belongs to the store {store.name}")


def _never(path: Path, what: str) -> NoReturn:
    raise NormsError(
        f"{path}: is {what}, and that is never written over; name another file",
        code="never_written_over",
    )
