"""Matches ball speeds that carry a time, but no swing code, to the swings of a session.

Captures keep the day and the order of swings, not the time of day. So the speeds of a golfer's
session with a club are put in the order of their times, and matched where there are exactly as
many as swings; a session with more or fewer is left alone, because nobody could say which is
which.
"""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from norms.errors import TableRefused
from norms.records import BallSpeed
from norms.units import MPS_PER_UNIT
from pipelines.import_tables import SPEED_COLUMNS, read_code
from pipelines.limits import past_day_fault
from pipelines.roles import NOT_STATED
from pipelines.store import Store
from pipelines.text_tables import CellFault, Column, Row, TextTable, read_text_table, refuse_faults

Session = tuple[str, str, date]
"""Golfer, club, day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedMatch:
    """What became of a table of timed speeds.

    Attributes
    ----------
    matched : int
        Swings that now have a speed.
    unmatched : tuple of str
        Sessions left alone, with why, in words.
    """

    matched: int
    unmatched: tuple[str, ...]


def match_speeds_by_time(store: Store, table: Path, *, who: str = NOT_STATED) -> SpeedMatch:
    """Read timed ball speeds into a store.

    Parameters
    ----------
    store : Store
        Open for writing, the sessions' swings already collected.
    table : Path
        CSV with columns golfer, club, time (2026-04-30 14:05:09), one of ball speed by its unit
        and optionally one of club speed.

    Raises
    ------
    TableRefused
        Naming file, line, column, value and what is allowed, for every fault.
    """
    read = read_text_table(table, TIMED_COLUMNS)
    ball, club = _column(read, "ball_speed"), _column(read, "club_speed")
    if ball is None:
        known = ", ".join(f"ball_speed_{unit}" for unit in MPS_PER_UNIT)
        raise TableRefused(
            f"{table}: has no column of ball speed: name it by its unit, one of {known}",
            code="column_missing",
        )
    read.refuse_repeats("golfer", "time")
    refuse_faults([read])
    swings = _swings_by_session(store)
    speeds: list[BallSpeed] = []
    unmatched = []
    for session, rows in _rows_by_session(read.rows).items():
        codes = swings.get(session, [])
        if len(codes) != len(rows):
            golfer, with_club, day = session
            unmatched.append(
                f"golfer {golfer}, {with_club}, {day}: {len(rows)} speeds for {len(codes)} swings"
            )
            continue
        speeds += [
            BallSpeed(
                swing=code,
                ball_speed_mps=row.values[ball],
                club_speed_mps=row.values[club] if club else None,
            )
            for code, row in zip(codes, rows, strict=True)
            if row.values[ball] is not None
        ]
    with store.act("timed speeds", who=who, details={"speeds": len(speeds)}):
        store.add_ball_speeds(speeds)
    return SpeedMatch(matched=len(speeds), unmatched=tuple(unmatched))


def _column(table: TextTable, quantity: str) -> str | None:
    found = [name for name in table.columns if name.startswith(quantity)]
    if len(found) > 1:
        raise TableRefused(
            f"{table.name}: has {' and '.join(found)}: keep one of them", code="column_repeated"
        )
    return found[0] if found else None


def _swings_by_session(store: Store) -> dict[Session, list[str]]:
    """Codes of the stored swings of each session, in their order (a code ends in its number)."""
    pool = store.swing_pool()
    sessions: dict[Session, list[str]] = defaultdict(list)
    for place, code in enumerate(pool.swings):
        session = (pool.golfers[place], pool.clubs[place].lower(), pool.recorded_on[place])
        sessions[session].append(code)
    return {session: sorted(codes, key=_natural) for session, codes in sessions.items()}


def _natural(code: str) -> list[tuple[int, str]]:
    """Sorting key under which 2 comes before 10."""
    parts = re.split(r"(\d+)", code)
    return [(int(part), "") if part.isdigit() else (0, part) for part in parts]


def _rows_by_session(rows: Sequence[Row]) -> dict[Session, list[Row]]:
    """Rows of each session, rows without a speed too: each stands for a swing."""
    sessions: dict[Session, list[Row]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: row.values["time"]):
        moment: datetime = row.values["time"]
        key = (row.values["golfer"], row.values["club"].lower(), moment.date())
        sessions[key].append(row)
    return sessions


def _read_time(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise CellFault("is not a time; write it as 2026-04-30 14:05:09") from None
    if len(text) < len("2026-04-30 14:05"):
        raise CellFault("is a day without a time; write it as 2026-04-30 14:05:09")
    if fault := past_day_fault(moment.date()):
        raise CellFault(fault)
    return moment.replace(tzinfo=None)


TIMED_COLUMNS = (
    Column(name="golfer", read=read_code),
    Column(name="club", read=read_code),
    Column(name="time", read=_read_time),
    *(column for column in SPEED_COLUMNS if column.name != "swing"),
)
