"""Writing files so that nothing half-written stays behind."""

import os
import tempfile
from pathlib import Path
from typing import NoReturn

from norms.errors import NormsError


def refuse_unwritable(path: Path) -> None:
    """Refuse a file that could not be written, before the work that would fill it.

    Raises
    ------
    NormsError
        If the folder is missing or cannot be written to, or a folder has the file's name.
    """
    folder = path.absolute().parent
    if not folder.is_dir():
        _refuse(path, f"there is no folder {folder}")
    if path.is_dir():
        _refuse(path, "it is a folder; name a file in it")
    if not os.access(folder, os.W_OK):
        _refuse(path, f"nothing may be written in {folder}")


def refuse_unmakeable(folder: Path) -> None:
    """Refuse a folder that could neither be made nor written to, before the work for it.

    Raises
    ------
    NormsError
        If a file has its name, or the nearest folder above it may not be written to.
    """
    there = folder.absolute()
    while not there.exists():
        there = there.parent
    if not there.is_dir():
        _refuse(folder, f"{there} is a file")
    if not os.access(there, os.W_OK):
        _refuse(folder, f"nothing may be written in {there}")


def _refuse(path: Path, why: str) -> NoReturn:
    raise NormsError(f"{path}: cannot be written: {why}", code="not_written")


def write_whole(path: Path, text: str) -> None:
    """Write a text file in full or not at all.

    Raises
    ------
    NormsError
        If the folder is missing or cannot be written to.
    """
    write_bytes_whole(path, text.encode("utf-8"))


def write_bytes_whole(path: Path, content: bytes) -> None:
    """Write a file of any kind in full or not at all.

    Raises
    ------
    NormsError
        If the folder is missing or cannot be written to.
    """
    try:
        handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise NormsError(
            f"{path}: cannot be written: {error.strerror}; check the folder", code="not_written"
        ) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(draft).chmod(0o644)
        Path(draft).replace(path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
