"""Rows of features as CSV, written whole or not at all."""

from collections.abc import Iterable
from pathlib import Path

from norms.placement.golfer_document import COLUMNS, feature_rows
from norms.records.golfer_place import GolferPlace
from pipelines.csv_cells import rows_csv
from pipelines.files import write_whole
from pipelines.output_kinds import TABLE


def features_csv(places: Iterable[GolferPlace]) -> str:
    """One row for each golfer and feature: value and peers' range in the same row."""
    return rows_csv(COLUMNS, (row for place in places for row in feature_rows(place)))


def write_features(path: Path, places: Iterable[GolferPlace]) -> None:
    """Write `features_csv` to a file.

    Raises
    ------
    NormsError
        If the file cannot be written.
    """
    write_whole(path, features_csv(places), TABLE)
