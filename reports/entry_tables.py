"""What was entered, in rows, and what became of an entry, in sentences."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

Said = tuple[str, Mapping[str, Any]]
"""The words that name an entry, and what it holds by field."""


def entries_table(entries: Sequence[Said]) -> list[list[str]]:
    """Entries with what they hold, one a row, under the words that amend or withdraw them."""
    rows = [["entry", "holds"]]
    for name, said in entries:
        known = [f"{field}={_words(value)}" for field, value in said.items() if value is not None]
        rows.append([name, ", ".join(known)])
    return rows


def entry_documents(entries: Sequence[Said]) -> list[dict[str, Any]]:
    """The same as JSON-ready values."""
    return [
        {"entry": name, **{field: _plain(value) for field, value in said.items()}}
        for name, said in entries
    ]


def amended_sentences(
    name: str,
    changes: Sequence[tuple[str, object, object]],
    editions: Sequence[str],
    placements: int,
) -> list[str]:
    """What was put right, and what stays as it was."""
    said = "; ".join(f"{field} {_words(old)} → {_words(new)}" for field, old, new in changes)
    return [f"{name}: {said}", *_kept(editions, placements)]


def withdrawn_sentences(name: str, editions: Sequence[str], placements: int) -> list[str]:
    """What was withdrawn, how it comes back, and what stays as it was."""
    return [f"{name}: withdrawn; norms undo brings it back", *_kept(editions, placements)]


def editions_sentences(editions: Sequence[str]) -> list[str]:
    """Which editions keep the numbers that they were frozen with."""
    if not editions:
        return []
    named = ", ".join(editions)
    one = len(editions) == 1
    return [
        f"edition{'' if one else 's'} {named} {'was' if one else 'were'} built before and "
        f"keep{'s' if one else ''} {'its' if one else 'their'} numbers; the next build takes the "
        "new state"
    ]


def _kept(editions: Sequence[str], placements: int) -> list[str]:
    kept = editions_sentences(editions)
    if placements:
        count = "1 kept placement" if placements == 1 else f"{placements} kept placements"
        kept.append(f"{count} of this capture stay as they were, under the code that it had")
    return kept


def _words(value: object) -> str:
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, date | datetime) else value
