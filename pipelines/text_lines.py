"""Where in a TOML text a key stands, so that a message can name the line a person has to edit."""

import re
from collections.abc import Sequence
from typing import Final

_LONGEST_HEADER: Final = 300


def line_of(text: str, place: Sequence[str | int]) -> int | None:
    """Line, from 1, of the innermost part of a place that the text holds.

    Parameters
    ----------
    text : str
        TOML with tables under their own headers.
    place : sequence of str or int
        E.g. ``("requirement", 2, "low")``: the key ``low`` of the third ``[[requirement]]``.

    Returns
    -------
    int or None
        The key's line, else that of its table's header, else None.
    """
    lines = text.splitlines()
    names = [part for part in place if isinstance(part, str)]
    number = next((part for part in place if isinstance(part, int)), 0)
    if not names:
        return None
    first, last = _table(lines, names[0], number)
    if first is None:
        return _key(lines, names[0], 0, _first_header(lines))
    for name in reversed(names[1:]):
        found = _key(lines, name, first, last)
        if found is not None:
            return found
    return first


def _table(lines: Sequence[str], name: str, number: int) -> tuple[int | None, int]:
    """Line of the header of the ``number``-th table of a name, from 1, and its last line."""
    heads = [(place, title) for place, line in enumerate(lines) if (title := _header(line))]
    own = [order for order, (_, title) in enumerate(heads) if title.strip("\"'") == name]
    if number >= len(own):
        return None, 0
    order = own[number]
    end = heads[order + 1][0] if order + 1 < len(heads) else len(lines)
    return heads[order][0] + 1, end


def _first_header(lines: Sequence[str]) -> int:
    return next((place for place, line in enumerate(lines) if _header(line)), len(lines))


def _header(line: str) -> str:
    """Name of the table whose header a line is; empty where it is none."""
    # By hand: on long lines of blanks and brackets a regular expression goes back without end.
    stated = line[:_LONGEST_HEADER].split("#")[0].strip()
    if len(stated) < 3 or stated[0] != "[" or stated[-1] != "]":
        return ""
    name = stated.strip("[]").strip()
    return "" if "[" in name or "]" in name else name


def _key(lines: Sequence[str], name: str, start: int, end: int) -> int | None:
    wanted = re.compile(rf"""^\s*["']?{re.escape(name)}["']?\s*[=.]""")
    for place in range(start, end):
        if wanted.match(lines[place]):
            return place + 1
    return None
