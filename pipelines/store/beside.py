"""What lies beside a store: copies that are kept on purpose, and what a kill left behind.

All of it can hold golfers. An erasure takes away every one of these files; the next opening takes
away those that a command which was cut short left.
"""

import os
import re
import shutil
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

REWRITTEN: Final = ".rewriting-"
"""Mark in the name of a store's file that is being made anew; the number of the process follows."""
COPY_BEFORE_MIGRATION: Final = ".version-"
"""Mark in the names of copies that a change of tables leaves beside the store."""
REPLACED: Final = ".replaced-"
"""Mark in the name of a store whose place a restored one has taken; day and time follow."""
DAYS_REPLACED: Final = 30
"""So long a replaced store is kept; the next opening after that removes it."""
SPILLED: Final = ".tmp"
"""Mark in the name of the folder into which DuckDB spills; the number of the process follows."""
RESTORED: Final = ".restoring-"
"""Mark in the name of a store that is being restored; the number of the process follows."""
DRAFT: Final = ".draft-"
"""Mark in the name of a copy that is being made; the number of the process follows."""
MANIFEST: Final = ".manifest.json"
"""Ending of the file that stands beside a backup and says what its bytes are."""


_OWN_DRAFTS: Final[set[str]] = set()
"""Names that this process gave; an earlier one, in a container say, can have had its number."""


def log_of(path: Path) -> Path:
    """File in which DuckDB logs what is not yet in the store's own file."""
    return path.with_name(f"{path.name}.wal")


def spill_folder(path: Path) -> Path:
    """Folder of this process for what does not fit into memory; two readers never share one."""
    return path.with_name(f"{path.name}{SPILLED}-{os.getpid()}")


def draft_of(path: Path, mark: str) -> Path:
    """Hidden file of this process in which what is to become ``path`` is made."""
    draft = path.with_name(f".{path.name}{mark}{os.getpid()}")
    _OWN_DRAFTS.add(draft.name)
    return draft


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
    """What may go: left by a command that was cut short, or a replaced store past its time."""
    return [other for other in side_files(path) if _may_go(other, path)]


def replaced_name(path: Path, moment: datetime) -> Path:
    """Free name for a store whose place another takes."""
    while True:
        name = path.with_name(f"{path.name}{REPLACED}{moment:%Y%m%d-%H%M%S}")
        if not name.exists():
            return name
        moment += timedelta(seconds=1)


def remove(files: Iterable[Path]) -> None:
    """Remove files and folders; one that is gone already is no fault."""
    for one in files:
        if one.is_dir():
            shutil.rmtree(one, ignore_errors=True)
        else:
            one.unlink(missing_ok=True)


def _unfinished(name: str, store: str) -> bool:
    marks = (DRAFT, COPY_BEFORE_MIGRATION, RESTORED, REWRITTEN)
    earlier = (f".{store}.restoring", f".{store}.draft", f"{store}.rewriting")  # without a number
    made = tuple(f".{store}{mark}" for mark in marks)
    return name.startswith((*made, store + SPILLED)) or name.removesuffix(".wal") in earlier


def _may_go(other: Path, path: Path) -> bool:
    name = other.name
    if name.startswith(path.name + REPLACED):
        # A second name of the store itself: the restore that gave it was cut short.
        return _past_its_time(name) or (path.exists() and other.samefile(path))
    return _unfinished(name, path.name) and not _at_work(name)


def _past_its_time(name: str) -> bool:
    said = re.search(rf"{re.escape(REPLACED)}(\d{{8}})-", name)
    try:
        day = datetime.strptime(said[1] if said else "", "%Y%m%d")
    except ValueError:
        return False
    return datetime.now() - day > timedelta(days=DAYS_REPLACED + 1)


def _at_work(name: str) -> bool:
    """Whether the process whose number stands in a name still works on it."""
    if any(name.startswith(own) for own in _OWN_DRAFTS):
        return True
    marks = "|".join(map(re.escape, (DRAFT, RESTORED, REWRITTEN, SPILLED + "-")))
    said = re.search(rf"(?:{marks})(\d+)", name)
    if said is None or int(said[1]) in (0, os.getpid()):
        return False
    try:
        os.kill(int(said[1]), 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True
