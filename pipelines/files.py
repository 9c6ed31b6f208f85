"""Writing files so that nothing half-written stays behind."""

import os
import tempfile
from pathlib import Path

from norms.errors import NormsError


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
