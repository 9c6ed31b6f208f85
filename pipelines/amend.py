"""Entries put right and withdrawn, each as one act that can be undone."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from norms.errors import NormsError, StoreRefused
from norms.records import Golfer
from norms.records.consent import is_junior
from pipelines.consents import refuse_unmeasured
from pipelines.correct_events import read_capture_again
from pipelines.entries import KINDS, Entry, entries_of, meant, named_entry, read_value
from pipelines.known_clubs import KnownClubs
from pipelines.limits import past_day_fault
from pipelines.store import Store
from pipelines.take_back import editions_since

ASIDE: Final = frozenset({"mark", "speed"})
"""Kinds of which editions hold nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amended:
    """What was put right or withdrawn.

    Attributes
    ----------
    name : str
        Of the entry, as it is named from now on.
    changes : tuple of (str, object, object)
        Field, value before and after; none of an entry that was withdrawn.
    editions : tuple of str
        Built while the old state stood: they keep their numbers, the next build takes the new.
    placements : int
        Kept placements of a capture, which stay as they were.
    """

    name: str
    changes: tuple[tuple[str, object, object], ...] = ()
    editions: tuple[str, ...] = ()
    placements: int = 0


def amend(
    store: Store,
    words: Sequence[str],
    stated: Mapping[str, str],
    *,
    who: str,
    why: str,
    capture: Path | None = None,
    profile: Path | None = None,
) -> Amended:
    """Give an entry other values.

    A capture that is moved to another golfer, club or day keeps its curves, and its code follows
    where it names the golfer, so that erasing the one who had it wrongly does not touch it. A
    capture that was read from the wrong side is read again, from the file.

    Parameters
    ----------
    store : Store
        Open for writing.
    words : sequence of str
        Name of the entry, e.g. ``["handicap", "G13", "2026-04-01"]``.
    stated : Mapping of str to str
        New values by field, as a person writes them.
    who, why : str
        Role and reason.
    capture : Path, optional
        The file of a capture whose hand is put right.
    profile : Path, optional
        Of its lab, where the store does not hold it.

    Raises
    ------
    NormsError
        ``entry_unknown``, ``entry_value``, ``entry_unexplained``; or as for reading a capture.
        Nothing is changed then.
    """
    who, why = _signed(who, why)
    entry = named_entry(store, words)
    values = _values(entry, stated)
    if capture is not None and "hand" not in stated:
        raise NormsError(
            "a capture file is only read again where hand= is put right; leave it out",
            code="entry_value",
        )
    _check(store, entry, values)
    if all(entry.values[column] == value for column, value in values.items()):
        raise NormsError(
            f"{entry.name}: says so already; nothing was changed", code="entry_unchanged"
        )
    changes = tuple(
        (name, entry.values[field.column], values[field.column])
        for name, field in entry.kind.fields.items()
        if field.column in values and name in stated
    )
    with store.act("amend", who=who, why=why, details={"kind": entry.kind.word}) as act:
        if entry.kind.word == "capture":
            name, swings = _amend_capture(store, entry, values, capture, profile)
            act.swings = swings
        else:
            store.entry_rows.change(entry.kind.table, entry.key, values)
            key = {**entry.key, **{k: v for k, v in values.items() if k in entry.key}}
            name = Entry(kind=entry.kind, key=key, values={}).name
    return _amended(store, entry, name, changes)


def withdraw(store: Store, words: Sequence[str], *, who: str, why: str) -> Amended:
    """Take an entry out that should never have been made; it can be brought back by undoing.

    Raises
    ------
    NormsError
        ``entry_unknown``, ``entry_unexplained``, ``entry_in_use``; nothing is changed then.
    """
    who, why = _signed(who, why)
    entry = named_entry(store, words)
    _refuse_in_use(store, entry)
    with store.act("withdraw", who=who, why=why, details={"kind": entry.kind.word}) as act:
        if entry.kind.word == "capture":
            act.swings = {entry.key["code"]}
            store.entry_rows.remove_swing(entry.key["code"])
        else:
            store.entry_rows.remove(entry.kind.table, entry.key)
            if entry.kind.word == "golfer":
                for table in ("handicap", "consent"):
                    store.entry_rows.remove(table, {"golfer": entry.key["code"]})
    return _amended(store, entry, entry.name, ())


def _amended(
    store: Store, entry: Entry, name: str, changes: tuple[tuple[str, object, object], ...]
) -> Amended:
    placed = 0
    if entry.kind.word == "capture":
        golfer, code = entry.values["golfer"], entry.key["code"]
        placed = sum(code in str(one) for one in store.placements.of(golfer))
    return Amended(
        name=name,
        changes=changes,
        editions=() if entry.kind.word in ASIDE else editions_since(store.audit.entries(), 0),
        placements=placed,
    )


def _signed(who: str, why: str) -> tuple[str, str]:
    who, why = " ".join(who.split()), " ".join(why.split())
    if not who or not why:
        missing = "why" if not why else "who does it"
        raise NormsError(
            f"putting an entry right needs who and why, and {missing} is empty; state it, by role "
            "and not by name",
            code="entry_unexplained",
        )
    return who, why


def _values(entry: Entry, stated: Mapping[str, str]) -> dict[str, Any]:
    """New values by column."""
    fields = entry.kind.fields
    if not fields:
        raise NormsError(
            f"{entry.name}: nothing of a {entry.kind.word} is put right by a value; norms withdraw "
            "takes it out, norms events makes another",
            code="entry_value",
        )
    if not stated:
        raise NormsError(
            f"{entry.name}: say what is to be put right, as FIELD=VALUE; fields are "
            f"{', '.join(fields)}",
            code="entry_value",
        )
    values: dict[str, Any] = {}
    for name, text in stated.items():
        if name not in fields:
            raise NormsError(
                f"{name}=: a {entry.kind.word} has no such field{meant(name, fields)}; fields are "
                f"{', '.join(fields)}",
                code="entry_value",
            )
        field = fields[name]
        if field.column in values:
            raise NormsError(
                f"{name}=: the same is stated twice, in two units; keep one of them",
                code="entry_value",
            )
        if not text.strip() and field.may_be_empty:
            values[field.column] = None
        else:
            values[field.column] = read_value(field.read, text, f"{name}=")
    return values


def _check(store: Store, entry: Entry, values: dict[str, Any]) -> None:
    """What the door asks of an entry that comes in holds for one that is put right, too."""
    after = {**entry.values, **values}
    code = after["code"] if entry.kind.word == "golfer" else after.get("golfer")
    golfer = store.golfer(code) if code else None
    if code and golfer is None:
        raise StoreRefused(
            f"golfer {code}: is not on the roster{meant(code, store.golfers())}; read the roster "
            "in first, or correct the code",
            code="golfer_unknown",
        )
    if entry.kind.word == "capture" and "golfer" in values:
        refuse_unmeasured(store, values["golfer"])
    if "club" in values:
        values["club"] = KnownClubs.of(store).name(values["club"], entry.name)
    for column in ("recorded_on", "day", "since", "decided_on"):
        if column in after and golfer is not None:
            fault = past_day_fault(after[column], birth_year=golfer.birth_year)
            if fault:
                raise NormsError(f"{entry.name}: the day {after[column]} {fault}", code="day")
    if entry.kind.word == "consent" and golfer is not None:
        _check_guardian(entry, after, golfer)
    if entry.kind.word == "exclusion" and entry.values["withdrawn_by"]:
        raise NormsError(
            f"{entry.name}: was withdrawn and is only kept on record", code="entry_value"
        )


def _check_guardian(entry: Entry, after: Mapping[str, Any], golfer: Golfer) -> None:
    junior = is_junior(golfer.birth_year, after["decided_on"])
    if junior and after["given"] and not after["guardian"]:
        raise NormsError(
            f"{entry.name}: a junior's yes is given by a guardian: ask them, and add guardian=true",
            code="entry_value",
        )


def _amend_capture(
    store: Store,
    entry: Entry,
    values: Mapping[str, Any],
    file: Path | None,
    profile: Path | None,
) -> tuple[str, set[str]]:
    """Move a capture, and read it again where its hand was wrong; returns its name and codes."""
    code: str = entry.key["code"]
    hand = values.get("hand", entry.values["hand"])
    plays = store.golfers()[values.get("golfer", entry.values["golfer"])].hand
    if "hand" not in values and hand != plays:
        raise NormsError(
            f"{entry.name}: was read from the {hand}, and golfer {values['golfer']} plays from the "
            f"{plays}, so that thrust would have the wrong sign; add hand={plays} and "
            f"--capture FILE (or hand={hand} where that is right)",
            code="other_hand",
        )
    if hand != entry.values["hand"]:
        if file is None:
            raise NormsError(
                f"{entry.name}: another hand turns the sign of thrust, so the file is read again: "
                "name it with --capture FILE",
                code="no_capture",
            )
        again = read_capture_again(store, store.swing(code), file, hand=hand, profile=profile)
        store.entry_rows.replace_swing(again)
    moved = {column: value for column, value in values.items() if column != "hand"}
    new = _code_for(store, code, entry.values, {**entry.values, **moved})
    store.entry_rows.change("swing", {"code": code}, moved)
    if new != code:
        store.entry_rows.rename_swing(code, new)
    name = Entry(kind=entry.kind, key={"code": new}, values={}).name
    return name, {code, new}


def _code_for(store: Store, code: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """Code of a capture that is moved: what it says of golfer, club and day follows."""
    new = code
    for column in ("golfer", "club", "recorded_on"):
        old, now = str(before[column]), str(after[column])
        if old != now:
            pattern = f"(?<![0-9A-Za-z]){re.escape(old)}(?![0-9A-Za-z])"
            new = now.join(re.split(pattern, new))
    if new == code:
        return code
    taken, number, free = store.swing_codes(), 2, new
    while free in taken:
        free, number = f"{new}_{number}", number + 1
    return free


def _refuse_in_use(store: Store, entry: Entry) -> None:
    """Some entries are taken back in another way, or hold others up."""
    word = entry.kind.word
    if word == "exclusion":
        subject = entry.values["golfer"] or entry.values["swing"]
        of = "golfer" if entry.values["golfer"] else "swing"
        raise NormsError(
            f"{entry.name}: a decision stays on record; norms exclude --{of} {subject} --readmit "
            "takes it back",
            code="entry_in_use",
        )
    if word != "golfer":
        return
    code = entry.key["code"]
    held = [one for one in entries_of(store, KINDS["capture"]) if one.values["golfer"] == code]
    if held:
        raise StoreRefused(
            f"{entry.name}: {len(held)} captures are theirs ({held[0].name} …): move or withdraw "
            "them first; who wants to be forgotten is erased with norms erase",
            code="entry_in_use",
        )
