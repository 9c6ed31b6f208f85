"""What lies beside a store: copies that are kept on purpose, and what a kill left behind.

All of it can hold golfers. An erasure takes away every one of these files; the next opening takes
away those that a command which was cut short left.
"""

import os
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Final

REWRITTEN: Final = ".rewriting"
"""Ending of the file that is being made anew; it never held what was erased."""
COPY_BEFORE_MIGRATION: Final = ".version-"
"""Mark in the names of copies that a change of tables leaves beside the store."""
REPLACED: Final = ".replaced-"
"""Mark in the name of a store whose place a restored one has taken."""
SPILLED: Final = ".tmp"
"""Mark in the name of the folder into which DuckDB spills; the number of the process follows."""
RESTORED: Final = ".restoring-"
"""Mark in the name of a store that is being restored; the number of the process follows."""
DRAFT: Final = ".draft-"
"""Mark in the name of a copy that is being made; the number of the process follows."""
MANIFEST: Final = ".manifest.json"
"""Ending of the file that stands beside a backup and says what its bytes are."""


def log_of(path: Path) -> Path:
    """File in which DuckDB logs what is not yet in the store's own file."""
    return path.with_name(f"{path.name}.wal")


def spill_folder(path: Path) -> Path:
    """Folder of this process for what does not fit into memory; two readers never share one."""
    return path.with_name(f"{path.name}{SPILLED}-{os.getpid()}")


def draft_of(path: Path, mark: str) -> Path:
    """Hidden file of this process in which what is to become ``path`` is made."""
    return path.with_name(f".{path.name}{mark}{os.getpid()}")


def is_backup(path: Path) -> bool:
    """Whether a manifest lies beside a file: a backup is restored, never opened for writing."""
    return path.with_name(path.name + MANIFEST).exists()


def side_files(path: Path) -> list[Path]:
    """Everything beside a store that can hold its golfers: copies, and what a kill left."""
    return sorted(
        other
        for other in path.absolute().parent.iterdir()
        if other.name.startswith((path.name + COPY_BEFORE_MIGRATION, path.name + REPLACED))
        or _unfinished(other.name, path.name)
    )


def left_behind(path: Path) -> list[Path]:
    """What commands that were cut short left beside a store, and no running process works on."""
    return [
        other
        for other in side_files(path)
        if _unfinished(other.name, path.name) and not _at_work(other.name)
    ]


def remove(files: Iterable[Path]) -> None:
    """Remove files and folders; one that is gone already is no fault."""
    for one in files:
        if one.is_dir():
            shutil.rmtree(one, ignore_errors=True)
        else:
            one.unlink(missing_ok=True)


def _unfinished(name: str, store: str) -> bool:
    copies = (f".{store}{DRAFT}", f".{store}{COPY_BEFORE_MIGRATION}", f".{store}{RESTORED}")
    old = (f".{store}.restoring", f".{store}.draft")
    return name.startswith((store + REWRITTEN, store + SPILLED, *copies)) or name in old


def _at_work(name: str) -> bool:
    """Whether the process whose number a name ends with still runs, and is another one."""
    number = name.removesuffix(".wal").rpartition("-")[2]
    if not number.isdigit() or int(number) in (0, os.getpid()):
        return False
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True
