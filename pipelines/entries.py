"""What persons entered, entry by entry: the words by which one is named, listed and put right."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, Final

from norms.errors import NormsError, StoreRefused
from norms.records.consent import PURPOSES
from norms.records.health import ON_RECORD, concerns_health
from norms.units import MPS_PER_UNIT
from pipelines.import_tables import (
    ROSTER_COLUMNS,
    SPEED_COLUMNS,
    one_word_of,
    read_code,
    read_day,
    read_handicap,
    read_truth,
)
from pipelines.limits import LONGEST_SENTENCE
from pipelines.store import Store
from pipelines.text_tables import CellFault

Read = Callable[[str], Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One value of an entry that can be put right.

    Attributes
    ----------
    column : str
        Of the entry's table.
    read : callable
        As in tables: turns words into the value, or raises `CellFault`.
    may_be_empty : bool
        Whether ``field=`` with nothing after it says that it is not known.
    """

    column: str
    read: Read
    may_be_empty: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryKind:
    """One kind of entry.

    Attributes
    ----------
    word : str
        By which a person names it, e.g. ``"handicap"``.
    table : str
    key : dict of str to callable
        Columns that name one entry, in the order in which a person writes them.
    fields : dict of str to Field
        By the name that a person writes.
    shown : tuple of str
        Further columns that a list shows.
    """

    word: str
    table: str
    key: Mapping[str, Read]
    fields: Mapping[str, Field]
    shown: tuple[str, ...] = ()

    def columns(self) -> list[str]:
        """Every column that a list needs."""
        named = [*self.key, *(one.column for one in self.fields.values()), *self.shown]
        return list(dict.fromkeys(named))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Entry:
    """One entry as the store holds it.

    Attributes
    ----------
    kind : EntryKind
    key : dict of str to value
    values : dict of str to value
        By column.
    """

    kind: EntryKind
    key: Mapping[str, Any]
    values: Mapping[str, Any]

    @property
    def name(self) -> str:
        """Words by which it is amended or withdrawn, e.g. ``handicap G13 2026-04-01``."""
        parts = [str(value) for value in self.key.values()]
        return " ".join([self.kind.word, *(f'"{one}"' if " " in one else one for one in parts)])

    def said(self) -> dict[str, Any]:
        """What it holds, by the names that a person writes; of a mark on health, no words."""
        fields = {name: self.values[one.column] for name, one in self.kind.fields.items()}
        if self.kind.word == "mark" and (
            self.values["health"] or concerns_health(self.values["kind"], self.values["note"])
        ):
            fields |= {"kind": ON_RECORD, "note": None}
        return fields | {name: self.values[name] for name in self.kind.shown}


def _read_words(text: str) -> str:
    words = " ".join(text.split())
    if not words or len(words) > LONGEST_SENTENCE:
        raise CellFault(f"words are needed, at most {LONGEST_SENTENCE:,} characters")
    return words


def _read_number(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise CellFault("is not a number; norms entries lists them")
    return int(text)


def _of_columns(columns: Sequence[Any], *, without: str) -> dict[str, Field]:
    return {
        one.name: Field(column=one.name, read=one.read, may_be_empty=not one.filled)
        for one in columns
        if one.name != without
    }


def _speeds() -> dict[str, Field]:
    """Speeds by their unit, as the columns of a table; each is stored in m/s."""
    reads = {one.name: one.read for one in SPEED_COLUMNS}
    return {
        f"{quantity}_{unit}": Field(
            column=f"{quantity}_mps",
            read=reads[f"{quantity}_{unit}"],
            may_be_empty=quantity == "club_speed",
        )
        for quantity in ("ball_speed", "club_speed")
        for unit in ("mps", *(one for one in MPS_PER_UNIT if one != "mps"))
    }


KINDS: Final[Mapping[str, EntryKind]] = {
    kind.word: kind
    for kind in (
        EntryKind(
            word="golfer",
            table="golfer",
            key={"code": read_code},
            fields=_of_columns(ROSTER_COLUMNS, without="golfer"),
        ),
        EntryKind(
            word="handicap",
            table="handicap",
            key={"golfer": read_code, "since": read_day},
            fields={
                "date": Field(column="since", read=read_day),
                "index": Field(column="handicap_index", read=read_handicap),
            },
        ),
        EntryKind(
            word="consent",
            table="consent",
            key={
                "golfer": read_code,
                "purpose": one_word_of(PURPOSES),
                "decided_on": read_day,
            },
            fields={
                "given": Field(column="given", read=read_truth),
                "date": Field(column="decided_on", read=read_day),
                "guardian": Field(column="guardian", read=read_truth),
            },
        ),
        EntryKind(
            word="capture",
            table="swing",
            key={"code": read_code},
            fields={
                "golfer": Field(column="golfer", read=read_code),
                "club": Field(column="club", read=read_code),
                "date": Field(column="recorded_on", read=read_day),
                "hand": Field(column="hand", read=one_word_of(("right", "left"))),
            },
            shown=("lab", "source"),
        ),
        EntryKind(word="speed", table="ball_speed", key={"swing": read_code}, fields=_speeds()),
        EntryKind(
            word="mark",
            table="golfer_event",
            key={"number": _read_number},
            fields={
                "golfer": Field(column="golfer", read=read_code),
                "date": Field(column="day", read=read_day),
                "kind": Field(column="kind", read=_read_words),
                "note": Field(column="note", read=_read_words, may_be_empty=True),
                "health": Field(column="health", read=read_truth),
            },
        ),
        EntryKind(
            word="exclusion",
            table="exclusion",
            key={"number": _read_number},
            fields={"reason": Field(column="reason", read=_read_words)},
            shown=("golfer", "swing", "decided_by", "withdrawn_by", "withdrawn_reason"),
        ),
        EntryKind(
            word="release",
            table="session_release",
            key={"lab": _read_words, "recorded_on": read_day},
            fields={"reason": Field(column="why", read=_read_words)},
            shown=("who",),
        ),
        EntryKind(
            word="correction",
            table="event_correction",
            key={"number": _read_number},
            fields={},
            shown=("event", "time_s", "person", "reason", "content_hash"),
        ),
    )
}
"""Every kind of entry, by its word."""


def named_entry(store: Store, words: Sequence[str]) -> Entry:
    """The entry that a person names, e.g. by ``handicap G13 2026-04-01``.

    Raises
    ------
    NormsError
        ``entry_unknown``, with what there is.
    """
    kind = _kind(words[0] if words else "")
    parts = list(kind.key)
    if len(words) - 1 != len(parts):
        raise NormsError(
            f"{' '.join(words)}: a {kind.word} is named by {' and '.join(parts)}, e.g. "
            f"{_example(store, kind)}",
            code="entry_unknown",
        )
    key = {
        name: read_value(kind.key[name], word, f"{kind.word} {name}")
        for name, word in zip(parts, words[1:], strict=True)
    }
    for entry in entries_of(store, kind):
        if dict(entry.key) == key:
            return entry
    raise StoreRefused(_unknown(store, kind, words), code="entry_unknown")


def entries_of(store: Store, kind: EntryKind) -> list[Entry]:
    """Every entry of a kind, in order of its name."""
    return [
        Entry(kind=kind, key={name: row[name] for name in kind.key}, values=row)
        for row in store.entry_rows.rows(kind.table, kind.columns())
    ]


def list_entries(
    store: Store, *, golfer: str | None = None, kind: str | None = None
) -> list[Entry]:
    """Entries of a store, by kind; of one golfer, or of one kind, where that is asked.

    Raises
    ------
    NormsError
        ``entry_unknown`` for a kind that is none.
    """
    kinds = list(KINDS.values()) if kind is None else [_kind(kind)]
    found = [entry for one in kinds for entry in entries_of(store, one)]
    if golfer is None:
        return found
    mine = {
        entry.key["code"]: entry.values["golfer"] for entry in entries_of(store, KINDS["capture"])
    }
    hashes = store.content_hashes()
    return [entry for entry in found if golfer == _golfer_of(entry, mine, hashes)]


def read_value(read: Read, text: str, name: str) -> Any:
    """A value as tables read it; refused in one line.

    Raises
    ------
    NormsError
        ``entry_value``.
    """
    try:
        return read(text.strip())
    except CellFault as fault:
        raise NormsError(f'{name} "{text}": {fault}', code="entry_value") from None


def _golfer_of(entry: Entry, golfers: Mapping[str, str], codes: Mapping[str, str]) -> str | None:
    """Code of the golfer whom an entry is about."""
    values = entry.values
    if entry.kind.word == "golfer":
        return str(values["code"])
    if entry.kind.word == "correction":
        return golfers.get(codes.get(values["content_hash"], ""))
    return values.get("golfer") or golfers.get(values.get("swing") or "")


def _kind(word: str) -> EntryKind:
    if word in KINDS:
        return KINDS[word]
    raise NormsError(
        f'"{word}": is no kind of entry{meant(word, KINDS)}; there are {", ".join(KINDS)}',
        code="entry_unknown",
    )


def meant(word: str, known: Sequence[str] | Mapping[str, Any]) -> str:
    """What a person may have meant, in words, or nothing."""
    alike = get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f', did you mean "{alike[0]}"?' if alike else ""


def _example(store: Store, kind: EntryKind) -> str:
    entries = entries_of(store, kind)
    return entries[0].name if entries else f"{kind.word} {' '.join(kind.key).upper()}"


def _unknown(store: Store, kind: EntryKind, words: Sequence[str]) -> str:
    said = " ".join(words)
    names = [entry.name for entry in entries_of(store, kind)]
    if not names:
        return f"{said}: {store.path} holds no {kind.word}"
    return (
        f"{said}: {store.path} has no such entry{meant(said, names)}; norms entries --kind "
        f"{kind.word} lists the {len(names):,} there are"
    )
