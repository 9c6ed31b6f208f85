"""Reads the academy's tables into a store: roster, dated handicaps, ball speeds.

A table with any fault is refused as a whole, with all of its faults; nothing is imported.
"""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Final

from norms.errors import TableRefused
from norms.records import BallSpeed, DatedHandicap, Golfer
from norms.units import MPS_PER_UNIT, mps_to
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST, HANDS, SEXES
from pipelines.codes import fault_new_codes
from pipelines.erased_codes import refuse_erased, refuse_erased_swings
from pipelines.limits import LONGEST_NAME, past_day_fault
from pipelines.roles import NOT_STATED
from pipelines.store import Store
from pipelines.text_tables import CellFault, Column, Row, TextTable, read_text_table, refuse_faults

HANDICAPS: Final = f"+{-HANDICAP_LOWEST:g} to {HANDICAP_HIGHEST}"
HEIGHTS_CM: Final = (80.0, 250.0)
MASSES_KG: Final = (15.0, 250.0)
BALL_SPEEDS_MPS: Final = (5.0, 115.0)
"""From a chip to beyond the fastest drives measured (about 108 m/s; from memory)."""
CLUB_SPEEDS_MPS: Final = (3.0, 80.0)
EARLIEST_BIRTH_YEAR: Final = 1900
TRUTH: Final = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


def import_roster(
    store: Store,
    roster: Path,
    handicaps: Path | None = None,
    *,
    again: Sequence[str] = (),
    who: str = NOT_STATED,
    why: str = "",
) -> int:
    """Read a roster, and its dated handicaps, into a store.

    A golfer already stored is replaced; golfers of the store that the roster does not name stay.
    Where a table of handicaps is given, it replaces all handicaps of the roster's golfers;
    where none is given, they keep those they have.

    Parameters
    ----------
    store : Store
    roster : Path
        CSV with columns golfer, hand, professional, consents_norms, and where known sex,
        birth_year, height_cm, mass_kg.
    handicaps : Path or None
        CSV with columns golfer, date, handicap_index; "+2.4" is read as -2.4.
    again : sequence of str
        Codes of erased golfers that a person lets in again.
    who, why : str
        Role and reason, for the log.

    Returns
    -------
    int
        Golfers read.

    Raises
    ------
    TableRefused
        Naming file, line, column, value and what is allowed, for every fault of both tables.
    """
    people = read_text_table(roster, ROSTER_COLUMNS)
    people.refuse_repeats("golfer")
    fault_new_codes(people, store.golfers())
    refuse_erased(people, store, again)
    tables = [people]
    if handicaps is not None:
        dated = read_text_table(handicaps, HANDICAP_COLUMNS)
        dated.refuse_repeats("golfer", "date")
        _refuse_strangers(dated, people)
        refuse_before_birth(dated, _birth_years(people))
        tables.append(dated)
    refuse_faults(tables)
    golfers = [_golfer(row) for row in people.rows]
    if handicaps is None:
        known = {code: golfer.handicaps for code, golfer in store.golfers().items()}
    else:
        known = _handicaps_by_golfer(dated)
    said: dict[str, object] = {"golfers": len(golfers), "handicaps": handicaps is not None}
    with store.act("roster", who=who, why=why, details=said) as act:
        if again:
            act.say(let_in_again=[store.audit.pseudonym(code) for code in again])
        store.add_golfers([replace(one, handicaps=known.get(one.code, ())) for one in golfers])
    return len(golfers)


def _refuse_strangers(dated: TextTable, people: TextTable) -> None:
    codes = {row.values.get("golfer") for row in people.rows}
    for row in dated.rows:
        code = row.values.get("golfer")
        if code is not None and code not in codes:
            allowed = f"is not in {people.name}; add the golfer there, or leave this row out"
            dated.fault(row.line, "golfer", code, allowed)


def _birth_years(people: TextTable) -> dict[str, int | None]:
    return {
        row.values["golfer"]: row.values.get("birth_year")
        for row in people.rows
        if "golfer" in row.values
    }


def refuse_before_birth(dated: TextTable, birth_years: Mapping[str, int | None]) -> None:
    """Note a fault for every row whose day is before its golfer was born."""
    for row in dated.rows:
        day, year = row.values.get("date"), birth_years.get(row.values.get("golfer", ""))
        if day is not None and (fault := past_day_fault(day, today=day, birth_year=year)):
            dated.fault(row.line, "date", day, fault)


def _golfer(row: Row) -> Golfer:
    facts = {name: value for name, value in row.values.items() if name != "golfer"}
    return Golfer(code=row.values["golfer"], **facts)


def _handicaps_by_golfer(dated: TextTable) -> dict[str, tuple[DatedHandicap, ...]]:
    entries: dict[str, list[DatedHandicap]] = {}
    for row in sorted(dated.rows, key=lambda row: row.values["date"]):
        entry = DatedHandicap(since=row.values["date"], index=row.values["handicap_index"])
        entries.setdefault(row.values["golfer"], []).append(entry)
    return {code: tuple(those) for code, those in entries.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedsRead:
    """What came of a table of ball speeds: how many, and of which swings that are not stored."""

    count: int
    not_stored: tuple[str, ...]


def import_ball_speeds(store: Store, table: Path, *, who: str = NOT_STATED) -> SpeedsRead:
    """Read ball speeds, and club speeds where measured, into a store.

    A swing without a ball speed is left out: missing stays missing. A speed already stored is
    replaced. The swing itself may be collected later.

    Parameters
    ----------
    store : Store
    table : Path
        CSV with columns swing, one of ball_speed_mph, ball_speed_mps, ball_speed_kmh, and
        optionally one of club_speed_mph, club_speed_mps, club_speed_kmh.
    who : str
        Role, for the log.

    Returns
    -------
    SpeedsRead

    Raises
    ------
    TableRefused
        Naming file, line, column, value and what is allowed, for every fault.
    """
    read = read_text_table(table, SPEED_COLUMNS)
    ball = _one_of(read, "ball_speed")
    if ball is None:
        raise TableRefused(
            f"{table}: has no column of ball speed: name it by its unit, one of "
            f"{', '.join(f'ball_speed_{unit}' for unit in MPS_PER_UNIT)}",
            code="column_missing",
        )
    club = _one_of(read, "club_speed")
    read.refuse_repeats("swing")
    refuse_erased_swings(read, store)
    refuse_faults([read])
    speeds = [
        BallSpeed(
            swing=row.values["swing"],
            ball_speed_mps=row.values[ball],
            club_speed_mps=row.values[club] if club else None,
        )
        for row in read.rows
        if row.values[ball] is not None
    ]
    with store.act("speeds", who=who, details={"speeds": len(speeds)}):
        store.add_ball_speeds(speeds)
    known = store.swing_codes()
    unknown = tuple(speed.swing for speed in speeds if speed.swing not in known)
    return SpeedsRead(count=len(speeds), not_stored=unknown)


def _one_of(table: TextTable, quantity: str) -> str | None:
    """The column that holds a quantity, whatever its unit; two would contradict each other."""
    found = [name for name in table.columns if name.startswith(quantity)]
    if len(found) > 1:
        raise TableRefused(
            f"{table.name}: has {' and '.join(found)}: keep one of them", code="column_repeated"
        )
    return found[0] if found else None


# What a cell may hold: each function reads a filled cell, or says what is allowed.


def read_code(text: str) -> str:
    """Code of a golfer or a swing."""
    if not text.isprintable() or len(text) > LONGEST_NAME:
        raise CellFault(f"a code of at most {LONGEST_NAME} printable characters is needed")
    return text


def read_handicap(text: str) -> float:
    """Handicap index from "+10" (stored as -10.0) to "54.0"."""
    plus = text.startswith("+") and not text.startswith("+-")
    number = _number(text.removeprefix("+") if plus else text, HANDICAPS)
    index = -number if plus else number
    if not HANDICAP_LOWEST <= index <= HANDICAP_HIGHEST:
        raise CellFault(f"allowed is {HANDICAPS}; correct it")
    return index + 0.0  # "+0.0" is 0.0, not -0.0


def _number(text: str, allowed: str) -> float:
    # Plain decimals only: float() would also take "nan", "inf" and "1_000".
    if not re.fullmatch(r"-?\d+(\.\d+)?|-?\.\d+", text, re.ASCII):
        raise CellFault(f"is not a number; allowed is {allowed}")
    return float(text)


def _number_between(low: float, high: float, unit: str) -> Callable[[str], float]:
    allowed = f"{low:.4g} to {high:.4g} {unit}"

    def read(text: str) -> float:
        value = _number(text, allowed)
        if not low <= value <= high:
            raise CellFault(f"allowed is {allowed}; correct it, or leave it empty where unknown")
        return value

    return read


def _speed_between(limits_mps: tuple[float, float], unit: str) -> Callable[[str], float]:
    """Reads a speed in its column's unit and turns it into m/s."""
    low, high = (mps_to(limit, unit) for limit in limits_mps)
    read_shown = _number_between(math.ceil(low), math.floor(high), unit)
    return lambda text: read_shown(text) * MPS_PER_UNIT[unit]


def read_day(text: str) -> date:
    """Day as 2026-04-30."""
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
            raise ValueError
        day = date.fromisoformat(text)
    except ValueError:
        raise CellFault("is not a day; write it as 2026-04-30") from None
    if fault := past_day_fault(day):
        raise CellFault(fault)
    return day


def _read_birth_year(text: str) -> int:
    this_year = date.today().year
    allowed = f"a year from {EARLIEST_BIRTH_YEAR} to {this_year}"
    if not re.fullmatch(r"\d{4}", text, re.ASCII):
        raise CellFault(f"allowed is {allowed}")
    if not EARLIEST_BIRTH_YEAR <= int(text) <= this_year:
        raise CellFault(f"allowed is {allowed}; correct it, or leave it empty where unknown")
    return int(text)


def one_word_of(words: Sequence[str]) -> Callable[[str], str]:
    """Reads one of some words, in any case."""

    def read(text: str) -> str:
        if text.lower() not in words:
            raise CellFault(f"allowed is {' or '.join(words)}")
        return text.lower()

    return read


def read_truth(text: str) -> bool:
    """Yes or no, in the usual spellings."""
    if text.lower() not in TRUTH:
        raise CellFault("allowed is true or false")
    return TRUTH[text.lower()]


def _may(name: str, read: Callable[[str], object], *, number: bool = False) -> Column:
    """A column that may be absent, and its cells empty."""
    return Column(name=name, read=read, needed=False, filled=False, number=number)


ROSTER_COLUMNS: Final = (
    Column(name="golfer", read=read_code),
    _may("sex", one_word_of(SEXES)),
    _may("birth_year", _read_birth_year),
    Column(name="hand", read=one_word_of(HANDS)),
    _may("height_cm", _number_between(*HEIGHTS_CM, "cm"), number=True),
    _may("mass_kg", _number_between(*MASSES_KG, "kg"), number=True),
    Column(name="professional", read=read_truth),
    Column(name="consents_norms", read=read_truth),
)
HANDICAP_COLUMNS: Final = (
    Column(name="golfer", read=read_code),
    Column(name="date", read=read_day),
    Column(name="handicap_index", read=read_handicap, number=True),
)
SPEED_COLUMNS: Final = (
    Column(name="swing", read=read_code),
    *(
        _may(f"{quantity}_{unit}", _speed_between(limits, unit), number=True)
        for quantity, limits in (("ball_speed", BALL_SPEEDS_MPS), ("club_speed", CLUB_SPEEDS_MPS))
        for unit in MPS_PER_UNIT
    ),
)
