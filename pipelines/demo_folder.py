"""The folder of a demo: written anew only where it holds what an earlier demo wrote, unchanged."""

import hashlib
from pathlib import Path
from typing import Final, NoReturn

from norms.errors import NormsError
from pipelines.files import make_folder, put_whole

MARK: Final = ".norms-demo"
"""File that says that a folder holds a demo, and the hash of every file that the demo wrote."""


def clear_demo(folder: Path) -> Path:
    """Make a demo's folder, and take away an earlier demo's files, which nobody has touched since.

    Parameters
    ----------
    folder : Path
        New, empty, or an earlier demo's.

    Raises
    ------
    NormsError
        ``folder_in_use`` if it holds anything that a demo did not write as it is: a store that was
        worked with is somebody's store.
    """
    place = make_folder(folder)
    if any(place.iterdir()):
        _remove_earlier(folder, place)
    put_whole(place / MARK, b"")
    return place


def seal_demo(folder: Path) -> None:
    """Note what a demo wrote, so that a later one knows its own files."""
    lines = [f"{_hash(path)}  {path.relative_to(folder).as_posix()}\n" for path in _files(folder)]
    put_whole(folder / MARK, "".join(lines).encode("utf-8"))


def _remove_earlier(folder: Path, place: Path) -> None:
    mark = place / MARK
    if mark.is_symlink() or not mark.is_file():
        _refuse(folder, "holds files that no demo wrote")
    entries = [line.split("  ", 1) for line in mark.read_text(encoding="utf-8").splitlines()]
    files = _files(place)
    if files and not entries:
        _refuse(folder, "holds a demo that was cut short; remove it")
    known = {name: digest for digest, name in entries}
    for path in files:
        name = path.relative_to(place).as_posix()
        if path.is_symlink() or not path.is_file() or known.get(name) != _hash(path):
            _refuse(folder, f"{name} is not as a demo wrote it; move it elsewhere")
    for path in files:
        path.unlink()
    for inner in sorted((one for one in place.rglob("*") if one.is_dir()), reverse=True):
        inner.rmdir()


def _files(folder: Path) -> list[Path]:
    """Everything in a folder but folders and the mark; links are not followed."""
    inside = sorted(folder.rglob("*"))
    return [one for one in inside if (one.is_symlink() or not one.is_dir()) and one.name != MARK]


def _hash(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _refuse(folder: Path, why: str) -> NoReturn:
    raise NormsError(f"{folder}: {why}, or name a new or empty folder", code="folder_in_use")
