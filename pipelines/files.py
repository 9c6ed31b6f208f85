"""Writing files so that nothing half-written stays behind, and nothing else is harmed.

Where a file may be written is decided in `pipelines.outputs`.
"""

import os
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pipelines.output_kinds import JSON_KEY, PARQUET_NOTE, PROGRAM, Kind
from pipelines.outputs import cannot_be_written, folder_for, place_for

if TYPE_CHECKING:
    import pandas as pd

_NEW_MODE: Final = 0o644
DRAFT_NAME: Final = (".part", ".norms-")
"""End and beginning of what is being written is called: no code of a golfer is in it."""
LEFT_AFTER_S: Final = 3600.0
"""A draft that was not touched for so long was left by a kill."""
_swept: set[Path] = set()


def write_whole(path: Path, text: str, kind: Kind | None, *, inside: Path | None = None) -> None:
    """Write a text file in full or not at all; see `write_bytes_whole`."""
    write_bytes_whole(path, text.encode("utf-8"), kind, inside=inside)


def write_bytes_whole(
    path: Path, content: bytes, kind: Kind | None, *, inside: Path | None = None
) -> None:
    """Write a file in full or not at all: beside its place, onto the disk, then renamed.

    Parameters
    ----------
    path : Path
    content : bytes
    kind : Kind or None
        What it is; None where nothing that exists may be replaced.
    inside : Path, optional
        Folder in which the file must lie.

    Raises
    ------
    NormsError
        If something is in the place that is not written over, or the disk is full, the folder
        missing or shut; what was there is then as it was.
    """
    place = place_for(path, kind, inside=inside)
    put_whole(place, content, check=lambda: place_for(path, kind, inside=inside), called=path)


def put_whole(
    place: Path,
    content: bytes,
    *,
    check: Callable[[], object] = lambda: None,
    called: Path | None = None,
) -> None:
    """Put a file in its place in full or not at all, whatever is there.

    For what is written beside a store under a name that this program gives. What a person names
    goes through `write_bytes_whole`.

    Parameters
    ----------
    place : Path
    content : bytes
    check : callable, optional
        Called last before the file takes its place; what it raises leaves all as it was.
    called : Path, optional
        The file's name in a refusal.

    Raises
    ------
    NormsError
    """
    draft = None
    sweep_drafts(place.parent)
    try:
        handle, name = tempfile.mkstemp(*DRAFT_NAME, place.parent)
        draft = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        draft.chmod(stat.S_IMODE(place.stat().st_mode) if place.exists() else _NEW_MODE)
        check()
        draft.replace(place)
        draft = None
        settle_folder(place.parent)
    except OSError as error:
        why = f"{error.strerror or error}; check the disk and the folder"
        cannot_be_written(called or place, why)
    finally:
        if draft is not None:
            with suppress(OSError):
                draft.unlink()


def sweep_drafts(folder: Path) -> None:
    """Take away what a kill left half-written in a folder; looked for once by a process."""
    if folder in _swept:
        return
    _swept.add(folder)
    for draft in folder.glob(f"{DRAFT_NAME[1]}*{DRAFT_NAME[0]}"):
        with suppress(OSError):
            if time.time() - draft.lstat().st_mtime < LEFT_AFTER_S:
                continue
            if draft.is_dir() and not draft.is_symlink():
                shutil.rmtree(draft)
            else:
                draft.unlink()


def make_folder(folder: Path) -> Path:
    """The folder that outputs are written into, made where it is missing.

    Raises
    ------
    NormsError
    """
    place = folder_for(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        cannot_be_written(folder, f"{error.strerror or error}; check the disk and the folder")
    return place


def settle_folder(folder: Path) -> None:
    """Have a folder's names on the disk, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        with suppress(OSError):  # the file itself is settled; not every system settles folders
            os.fsync(handle)
    finally:
        os.close(handle)


def json_text(document: Mapping[str, Any]) -> str:
    """JSON as it is written to files: known as this program's by its first key."""
    import json

    marked = {JSON_KEY: PROGRAM, **document}
    return json.dumps(marked, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def parquet_bytes(table: "pd.DataFrame") -> bytes:
    """A table as Parquet, known as this program's by a note in its schema."""
    import io

    import pyarrow as pa
    from pyarrow import parquet

    made = pa.Table.from_pandas(table, preserve_index=False)
    made = made.replace_schema_metadata(
        {**(made.schema.metadata or {}), PARQUET_NOTE: PROGRAM.encode()}
    )
    buffer = io.BytesIO()
    parquet.write_table(made, buffer)
    return buffer.getvalue()
