"""Tidy tables in a folder, each as Parquet and as CSV, whole or not at all."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pipelines.csv_cells import frame_csv
from pipelines.files import parquet_bytes, write_bytes_whole
from pipelines.output_kinds import PARQUET, TABLE, Kind
from pipelines.outputs import place_for

if TYPE_CHECKING:
    import pandas as pd

KINDS: Final[Mapping[str, Kind]] = {".parquet": PARQUET, ".csv": TABLE}


def table_files(table: "pd.DataFrame") -> dict[str, bytes]:
    """The content of a table's files, by suffix."""
    return {
        ".parquet": parquet_bytes(table),
        ".csv": frame_csv(table, float_format="%.10g").encode("utf-8"),
    }


def refuse_foreign(folder: Path, name: str, suffixes: Iterable[str]) -> None:
    """Refuse a folder in which a file of a table's name is not one that this program wrote.

    Raises
    ------
    NormsError
    """
    for suffix in suffixes:
        place_for(folder / f"{name}{suffix}", KINDS[suffix], inside=folder)


def write_files(folder: Path, name: str, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write a table's files into a folder that is there.

    Raises
    ------
    NormsError
        If one of them cannot be written.
    """
    for suffix, content in files.items():
        write_bytes_whole(folder / f"{name}{suffix}", content, KINDS[suffix], inside=folder)
    return tuple(folder / f"{name}{suffix}" for suffix in files)
