"""CSV and Parquet tables of named points: ``time_s`` and ``<label>_x``, ``_y``, ``_z``."""

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from norms.errors import CaptureRefused
from pipelines.collect.raw_points import RawPoints, short

TIME = "time_s"
COORDINATES = ("x", "y", "z")
TIME_TOLERANCE = 0.25
"""How far a time may lie off the even grid, in steps: room for times rounded to milliseconds,
none for a row that is missing or stands twice (which puts some time half a step off or more)."""


def read_csv_table(path: Path) -> RawPoints:
    """Read a CSV file with one row per sample; an empty cell is a point not seen.

    Raises
    ------
    CaptureRefused
        Naming the column or the line at fault.
    """
    rows: list[tuple[int, list[str]]] = []
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            lines = csv.reader(stream)
            header = [name.strip() for name in next(lines, [])]
            if not header:
                raise CaptureRefused(f"{path.name}: the file is empty", code="empty_file")
            for row in lines:
                if any(cell.strip() for cell in row):
                    _check_width(path.name, lines.line_num, row, header)
                    rows.append((lines.line_num, row))
    except (UnicodeDecodeError, csv.Error) as fault:
        raise CaptureRefused(f"{path.name}: not a CSV table: {fault}", code="not_a_table") from None
    return _points_from(path.name, header, _numbers(path.name, header, rows))


def read_parquet_table(path: Path) -> RawPoints:
    """Read a Parquet file with one row per sample; a null is a point not seen.

    Raises
    ------
    CaptureRefused
        Naming the column at fault.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    if path.stat().st_size == 0:
        raise CaptureRefused(f"{path.name}: the file is empty", code="empty_file")
    try:
        # One small file: starting threads for it would take longer than reading it.
        with pq.ParquetFile(path, pre_buffer=False) as file:
            table = file.read(use_threads=False)
        names = list(table.column_names)
    except (pa.ArrowException, OSError, UnicodeDecodeError) as fault:
        said = " ".join(str(fault).split())[:120]
        raise CaptureRefused(f"{path.name}: damaged: {said}", code="damaged") from None
    columns: list[NDArray[np.float64]] = []
    for name in names:
        kind = table.schema.field(name).type
        if not (pa.types.is_floating(kind) or pa.types.is_integer(kind)):
            raise CaptureRefused(
                f"{path.name}: column {short(name)} holds {kind} where numbers are needed",
                code="not_a_number",
            )
        columns.append(table.column(name).to_numpy().astype(np.float64))
    values = np.column_stack(columns) if columns else np.zeros((0, 0))
    return _points_from(path.name, names, values)


def _check_width(name: str, line: int, row: list[str], header: list[str]) -> None:
    """Refuse a row as it is read, so that a damaged table is not first held in full."""
    if len(row) != len(header):
        raise CaptureRefused(
            f"{name}: line {line} has {len(row)} cells where the header has {len(header)}",
            code="bad_row",
        )


def _numbers(
    name: str, header: list[str], rows: list[tuple[int, list[str]]]
) -> NDArray[np.float64]:
    cells = [[cell.strip() or "nan" for cell in row] for _, row in rows]
    try:
        return np.array(cells, dtype=np.float64).reshape(len(rows), len(header))
    except ValueError:
        for (line, _), row in zip(rows, cells, strict=True):
            for column, cell in zip(header, row, strict=True):
                if not _is_number(cell):
                    raise CaptureRefused(
                        f"{name}: line {line}, column {short(column)}: '{short(cell)}' is not a "
                        "number",
                        code="not_a_number",
                    ) from None
        raise


def _points_from(name: str, header: list[str], values: NDArray[np.float64]) -> RawPoints:
    repeated = sorted({column for column in header if header.count(column) > 1})
    if repeated:
        raise CaptureRefused(
            f"{name}: column {short(repeated[0])} stands twice", code="repeated_column"
        )
    if len(values) < 2:
        raise CaptureRefused(f"{name}: holds {len(values)} rows of samples", code="no_points")
    if np.isinf(values).any():
        row, column = np.argwhere(np.isinf(values))[0]
        raise CaptureRefused(
            f"{name}: sample {row + 1}, column {short(header[column])}: infinite",
            code="not_a_number",
        )
    place = {column: i for i, column in enumerate(header)}
    labels = [column[:-2] for column in header if column.endswith("_x") and column != "_x"]
    wanted = [[f"{label}_{letter}" for letter in COORDINATES] for label in labels]
    missing = [column for trio in wanted for column in trio if column not in place]
    if not labels or missing:
        lacking = missing[0] if missing else "<label>_x, <label>_y, <label>_z"
        raise CaptureRefused(f"{name}: column {short(lacking)} is missing", code="missing_column")
    places = [place[column] for trio in wanted for column in trio]
    points = values[:, places].reshape(len(values), len(labels), 3)
    # A point of which one coordinate is missing was not seen.
    points = np.where(np.isnan(points).any(axis=2, keepdims=True), np.nan, points)
    rate_hz = _rate_of(name, values[:, place[TIME]]) if TIME in place else None
    return RawPoints(labels=tuple(labels), points=points, rate_hz=rate_hz)


def _rate_of(name: str, time_s: NDArray[np.float64]) -> float:
    """Samples per second of evenly spaced times."""
    if not np.isfinite(time_s).all():
        row = int(np.flatnonzero(~np.isfinite(time_s))[0])
        raise CaptureRefused(f"{name}: sample {row + 1} has no {TIME}", code="time")
    steps = np.diff(time_s)
    usual = float(np.mean(steps))
    off_grid = np.abs(time_s - time_s[0] - usual * np.arange(len(time_s)))
    if usual <= 0 or (steps <= 0).any() or (off_grid > TIME_TOLERANCE * usual).any():
        row = int(np.argmax(np.abs(steps - np.median(steps))))
        raise CaptureRefused(
            f"{name}: {TIME} goes from {time_s[row]:g} to {time_s[row + 1]:g} at sample {row + 2} "
            f"where the usual step is {np.median(steps):g} s; samples must be evenly spaced",
            code="time",
        )
    return 1.0 / usual


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True
