"""Which codes golfers may have, and what a file is called that is named after one.

A code is ASCII letters and digits, ``_``, ``.`` and ``-``, at most 64, and begins with a letter or
a digit. It is a pseudonym that the academy chooses, not a name, so that no language is shut out;
and one code is then typed one way on every keyboard, looks like no other, and is the same in a
file's name, a spreadsheet and a shell. Letters of other scripts have twins that look alike and
two spellings of one accent, by which one golfer would become two.

Golfers whom a store has from before this rule keep their codes. What a file is called is made
harmless here, whatever the code.
"""

import re
from collections.abc import Collection
from typing import Final

from norms.errors import NormsError
from pipelines.text_tables import TextTable

ALLOWED: Final = "letters a to z and digits, also _ . and - after the first, at most 64"
_CODE: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,63}")
_EDITION: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_. -]{0,62}[A-Za-z0-9_-]|[A-Za-z0-9]")
_OTHER: Final = re.compile(r"[^A-Za-z0-9_.-]+")


def is_code(text: str) -> bool:
    """Whether a golfer who is new may have this code."""
    return _CODE.fullmatch(text) is not None


def fault_new_codes(table: TextTable, known: Collection[str]) -> None:
    """Note a fault for every golfer of a roster whose code is new and not allowed."""
    for row in table.rows:
        code = row.values.get("golfer")
        if code is not None and code not in known and not is_code(code):
            table.fault(row.line, "golfer", code, f"allowed in a code are {ALLOWED}")


def check_golfer(code: str) -> None:
    """Refuse a code that no golfer may have.

    Raises
    ------
    NormsError
    """
    if not is_code(code):
        raise NormsError(
            f"golfer {code!r}: allowed in a code are {ALLOWED}; correct it", code="golfer_code"
        )


def check_edition_name(name: str, known: Collection[str]) -> None:
    """Refuse a new edition's name that could not stand in a file's name or a command.

    Raises
    ------
    NormsError
    """
    if name not in known and not _EDITION.fullmatch(name):
        raise NormsError(
            f"edition {name!r}: allowed in a name are letters a to z and digits, also blanks, _ . "
            "and - inside, at most 64; name it so",
            code="edition_name",
        )


class FileNames:
    """Names of files after what they show: harmless, and no two alike in any file system."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def name(self, *labels: str, suffix: str) -> str:
        """A name that no file of this object has yet, letters of either case taken as one."""
        bare = "_".join(_OTHER.sub("-", label).strip(".-") or "-" for label in labels)[:120]
        name, count = f"{bare}{suffix}", 1
        while name.lower() in self._taken:
            count += 1
            name = f"{bare}-{count}{suffix}"
        self._taken.add(name.lower())
        return name
