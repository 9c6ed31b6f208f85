"""Reads a CSV table by declared columns and lists every fault with line, column and value."""

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from norms.errors import TableRefused
from pipelines.bounded import BeyondReason, bounded_bytes, short_words
from pipelines.csv_cells import cell_as_meant
from pipelines.limits import LARGEST_TABLE, LONGEST_CELL, MOST_COLUMNS, MOST_ROWS

SEPARATORS: Final = (",", ";", "\t")
FAULTS_SHOWN: Final = 20
VALUE_SHOWN: Final = 40
"""Characters of a faulty value that a message repeats."""


class CellFault(Exception):
    """A cell that cannot be read; its text says what is allowed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One declared column.

    Attributes
    ----------
    name : str
    read : callable
        Turns the text of a filled cell into its value, or raises `CellFault`.
    needed : bool
        Whether the column must be there.
    filled : bool
        Whether a cell may not be left empty; an empty one is None.
    number : bool
        Whether a decimal comma is understood where the separator is not itself a comma.
    """

    name: str
    read: Callable[[str], Any]
    needed: bool = True
    filled: bool = True
    number: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row's values by column; a faulty cell has none."""

    line: int
    values: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """What a table holds.

    Attributes
    ----------
    name : str
        Path for messages.
    columns : tuple of str
        Declared columns that the table has.
    rows : list of Row
    faults : list of (int, str)
        Line, and what is wrong there.
    """

    name: str
    columns: tuple[str, ...]
    rows: list[Row]
    faults: list[tuple[int, str]]

    def fault(self, line: int, column: str, value: object, allowed: str) -> None:
        """Note a fault of one cell."""
        text = str(value)
        shown = text if len(text) <= VALUE_SHOWN else f"{text[:VALUE_SHOWN]}…"
        self.faults.append((line, f'{column} "{shown}": {allowed}'))

    def refuse_repeats(self, *key: str) -> None:
        """Note a fault for every row whose key columns repeat those of a row before it."""
        first: dict[tuple[Any, ...], int] = {}
        for row in self.rows:
            values = tuple(row.values.get(name) for name in key)
            if None in values:
                continue
            line = first.setdefault(values, row.line)
            if line != row.line:
                shown = ", ".join(map(str, values))
                allowed = f"is already in line {line}; keep one of them"
                self.fault(row.line, ", ".join(key), shown, allowed)


def refuse_faults(tables: Iterable[TextTable]) -> None:
    """Refuse tables with faults, all listed up to a limit, in order of line.

    Raises
    ------
    TableRefused
        With code ``table_faults``.
    """
    lines = [
        f"{table.name}:{line} {what}" for table in tables for line, what in sorted(table.faults)
    ]
    if len(lines) == 1:
        raise TableRefused(f"{lines[0]}; nothing was imported", code="table_faults")
    if lines:
        hidden = len(lines) - FAULTS_SHOWN
        shown = [*lines[:FAULTS_SHOWN], *([f"and {hidden} more"] if hidden > 0 else [])]
        head = f"{len(lines)} faults, nothing was imported:"
        raise TableRefused("\n  ".join([head, *shown]), code="table_faults")


def read_text_table(path: Path, columns: Sequence[Column]) -> TextTable:
    """Read a CSV table in UTF-8, separated by commas, semicolons or tabs.

    Columns come in any order and in any case; columns that are not declared are left alone.
    Blank lines are skipped. A decimal comma is understood where commas do not separate.

    Parameters
    ----------
    path : Path
    columns : sequence of Column

    Returns
    -------
    TextTable
        With the faults of its cells, which ``refuse_faults`` turns into a refusal.

    Raises
    ------
    TableRefused
        ``table_missing``, ``table_too_large``, ``table_not_text``, ``table_empty``,
        ``column_missing`` or ``column_repeated``: faults after which no cell could be trusted.
    """
    text = _text(path)
    separator = _separator(text, columns)
    records = _records(path, text, separator)
    header = [name.strip().lower() for name in records[0][1]]
    _check_header(path, header, columns)
    if len(records) == 1:
        raise TableRefused(f"{path}: has a header but no rows: check the file", code="table_empty")
    declared = {column.name: column for column in columns}
    table = TextTable(
        name=str(path),
        columns=tuple(name for name in header if name in declared),
        rows=[],
        faults=[],
    )
    for line, cells in records[1:]:
        if len(cells) == len(header):
            by_column = {
                declared[n]: c for n, c in zip(header, cells, strict=True) if n in declared
            }
            table.rows.append(_row(table, line, by_column, decimal_comma=separator != ","))
        else:
            found = f"{len(cells)} cells where the header has {len(header)}"
            table.faults.append((line, f"has {found}: correct the row"))
    return table


def _text(path: Path) -> str:
    try:
        content = bounded_bytes(path, LARGEST_TABLE)
    except OSError as error:
        raise TableRefused(
            f"{path}: cannot be read ({error.strerror}): check the path", code="table_missing"
        ) from error
    except BeyondReason as fault:
        raise TableRefused(f"{path}: {fault}", code="table_too_large") from fault
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise TableRefused(
            f"{path}:{line} is not text in UTF-8: save the table as CSV in UTF-8",
            code="table_not_text",
        ) from error
    if not text.strip(' ,;\t\r\n"'):
        raise TableRefused(f"{path}: is empty: check the file", code="table_empty")
    return text


def _separator(text: str, columns: Sequence[Column]) -> str:
    """The separator that makes most declared columns of the first line."""
    names = {column.name for column in columns}
    first = text.lstrip().splitlines()[0].lower().replace('"', "")
    return max(
        SEPARATORS, key=lambda separator: len(names & set(map(str.strip, first.split(separator))))
    )


def _records(path: Path, text: str, separator: str) -> list[tuple[int, list[str]]]:
    """Rows that are not blank, each with the line it begins on (a quoted cell may hold several)."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    records: list[tuple[int, list[str]]] = []
    begins = 1
    try:
        for cells in reader:
            _refuse_too_much(path, begins, cells, len(records))
            if any(cell.strip() for cell in cells):
                records.append((begins, [cell_as_meant(cell.strip()) for cell in cells]))
            begins = reader.line_num + 1
    except csv.Error as error:
        raise TableRefused(
            f"{path}:{begins} cannot be read as a row of a table ({error}): check the quotes",
            code="table_not_text",
        ) from error
    return records


def _refuse_too_much(path: Path, line: int, cells: Sequence[str], rows: int) -> None:
    """Refuse a table as it is read, before it is held in full."""
    longest = max(map(len, cells), default=0)
    for found, most, what in (
        (rows, MOST_ROWS, "rows"),
        (len(cells), MOST_COLUMNS, "cells in a row"),
        (longest, LONGEST_CELL, "characters in a cell"),
    ):
        if found > most:
            raise TableRefused(
                f"{path}:{line} more than {most:,} {what}, and no more are read: check that it is "
                "the right file",
                code="table_too_large",
            )


def _check_header(path: Path, header: Sequence[str], columns: Sequence[Column]) -> None:
    repeated = sorted({name for name in header if name and header.count(name) > 1})
    if repeated:
        raise TableRefused(
            f"{path}: the header names {short_words(', '.join(repeated))} twice: keep one column "
            "of each",
            code="column_repeated",
        )
    names = [column.name for column in columns]
    for column in columns:
        if column.name in header:
            continue
        others = [name for name in header if name not in names]
        alike = get_close_matches(column.name, others, n=1, cutoff=0.8)
        if column.needed or alike:
            hint = f' (is "{alike[0]}" meant? rename or remove it)' if alike else ""
            raise TableRefused(
                f"{path}: has no column {column.name}{hint}; known columns: {', '.join(names)}",
                code="column_missing",
            )


def _row(table: TextTable, line: int, cells: dict[Column, str], *, decimal_comma: bool) -> Row:
    values: dict[str, Any] = {}
    for column, text in cells.items():
        if not text:
            values[column.name] = None
            if column.filled:
                table.fault(line, column.name, text, "must be filled in")
            continue
        readable = text.replace(",", ".") if decimal_comma and column.number else text
        try:
            values[column.name] = column.read(readable)
        except CellFault as fault:
            table.fault(line, column.name, text, str(fault))
    return Row(line=line, values=values)
