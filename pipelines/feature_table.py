"""Rows of features as CSV, written whole or not at all."""

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from norms.placement.golfer_document import COLUMNS, feature_rows
from norms.records.golfer_place import GolferPlace
from pipelines.files import write_whole


def features_csv(places: Iterable[GolferPlace]) -> str:
    """One row for each golfer and feature: value and peers' range in the same row."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for place in places:
        writer.writerows(feature_rows(place))
    return text.getvalue()


def write_features(path: Path, places: Iterable[GolferPlace]) -> None:
    """Write `features_csv` to a file.

    Raises
    ------
    NormsError
        If the file cannot be written.
    """
    write_whole(path, features_csv(places))
