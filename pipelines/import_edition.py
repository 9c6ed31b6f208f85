"""Another academy's exported edition read, verified against its hash, and taken into a store."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from norms.cohort.definitions import definition_of
from norms.cohort.edition import verify_edition
from norms.errors import CohortRefused
from norms.records import Bands, Cohort, CohortNorms, Edition
from norms.records.edition import IMPORTED
from norms.vocabulary import AXES, NODES
from pipelines.audit import edition_said
from pipelines.bounded import BeyondReason, read_json_file, short_words
from pipelines.codes import check_edition_name
from pipelines.csv_cells import cell_as_meant
from pipelines.export_edition import (
    ANNEXES,
    CURVES,
    EDITION_FILE,
    FEATURES,
    SCHEMA_NAME,
    SCHEMA_VERSION,
)
from pipelines.exported_annexes import annexes_from
from pipelines.limits import (
    LARGEST_EXPORT,
    MOST_EXPORTED_ROWS,
    MOST_GOLFERS,
    MOST_SWINGS_OF_CELL,
)
from pipelines.roles import NOT_STATED
from pipelines.store import Store

if TYPE_CHECKING:
    import pandas as pd

_NOT_WHOLE: Final = (
    ValueError,
    KeyError,
    TypeError,
    IndexError,
    AttributeError,
    ArithmeticError,
    RecursionError,
    MemoryError,
)
"""What a document of another form ends in, wherever it is first noticed."""


def import_edition(
    store: Store, folder: Path, name: str | None = None, *, who: str = NOT_STATED
) -> Edition:
    """Take another academy's edition into a store, without its golfers.

    Parameters
    ----------
    store : Store
        Open for writing.
    folder : Path
        As `export_edition` writes it.
    name : str, optional
        Name to keep it under; its own by default.
    who : str
        Role, for the log.

    Raises
    ------
    CohortRefused
        If a file is missing or damaged, or the numbers are not those the hash was taken over.
    StoreRefused
        If the name is taken by an edition with other numbers.
    """
    edition = read_edition(folder, name)
    check_edition_name(edition.name, store.edition_names())
    with store.act("import", who=who, details=edition_said(edition)):
        store.save_edition(edition, datetime.now(UTC))
    return edition


def read_edition(folder: Path, name: str | None = None) -> Edition:
    """Read an exported edition and verify its numbers against its hash.

    Raises
    ------
    CohortRefused
        If a file is missing or damaged, or a number was changed.
    """
    file = folder / EDITION_FILE
    try:
        document = read_json_file(file)
        version = (document["schema"]["name"], document["schema"]["version"])
        if version != (SCHEMA_NAME, SCHEMA_VERSION):
            raise _refused(f"{file}: is {version}, and this program reads version {SCHEMA_VERSION}")
        curves = _read_table(folder / CURVES, document["tables"])
        features = _read_table(folder / FEATURES, document["tables"])
        arrays = _read_table(folder / ANNEXES, document["tables"])
        annexes = annexes_from(document["annexes"], arrays)
        edition = replace(_edition(document, curves, features, name), annexes=annexes)
    except OSError as error:
        raise _refused(f"{error.filename}: cannot be read ({error.strerror})") from error
    except BeyondReason as error:
        raise _refused(f"{file}: {error}") from error
    except _NOT_WHOLE as error:
        said = short_words(str(error) or type(error).__name__, 200)
        raise _refused(f"{folder}: is not a whole exported edition ({said})") from error
    if not _holds_together(edition):
        raise _refused(
            f"{folder}: the numbers are not those that edition {edition.name} was frozen with"
        )
    return edition


def _holds_together(edition: Edition) -> bool:
    try:
        return verify_edition(edition)
    except _NOT_WHOLE:
        return False  # what cannot even be hashed was not frozen


def _refused(message: str) -> CohortRefused:
    return CohortRefused(f"{message}; ask for it again", code="edition_damaged")


def _read_table(path: Path, table_format: str) -> "pd.DataFrame":
    import pandas as pd
    import pyarrow as pa
    import pyarrow.parquet as pq
    from pyarrow import csv

    file = path.with_suffix(".csv" if table_format == "csv" else ".parquet")
    if file.stat().st_size > LARGEST_EXPORT:
        raise BeyondReason(f"{file.name} holds more than {LARGEST_EXPORT / 1e6:g} MB")
    if table_format != "csv":
        # Compression lets a small file hold any number of rows: asked before they are read.
        if pq.read_metadata(file).num_rows > MOST_EXPORTED_ROWS:
            raise BeyondReason(f"{file.name} holds more than {MOST_EXPORTED_ROWS:,} rows")
        return pd.read_parquet(file)

    # Not pandas: how exactly it reads a double has changed between its versions.
    words = dict.fromkeys(("cohort", "axis", "feature", "name"), pa.string())
    numbers = dict.fromkeys(
        ("percent", "value", "low", "high", "value_cm", "low_cm", "high_cm"), pa.float64()
    )
    options = csv.ConvertOptions(column_types=words | numbers)
    table: pd.DataFrame = csv.read_csv(file, convert_options=options).to_pandas()
    for word in words.keys() & set(table.columns):
        table[word] = table[word].map(cell_as_meant, na_action="ignore")
    return table


def _edition(
    document: dict[str, Any],
    curves: "pd.DataFrame",
    features: "pd.DataFrame",
    name: str | None,
) -> Edition:
    curves_of = dict(tuple(curves.groupby("cohort", sort=False)))
    features_of = dict(tuple(features.groupby("cohort", sort=False)))
    cells = []
    for cell in document["cells"]:
        _check_counts(cell)
        definition = definition_of(cell["definition"])
        bands = None
        if cell["percents"] is not None:
            bands = _bands(cell, curves_of[definition.key], features_of.get(definition.key))
        names = tuple(cell["features"])
        nobody = Cohort(
            definition=definition,
            golfers=(),
            swing_counts=np.empty(0),
            curves_cm=np.empty((0, len(AXES), NODES)),
            feature_names=names,
            features=np.empty((0, len(names))),
        )
        cells.append(
            CohortNorms(
                cohort=nobody,
                bands=bands,
                withheld=cell["withheld"],
                golfers=cell["golfers"],
                swings=cell["swings"],
            )
        )
    return Edition(
        name=name or document["name"],
        cells=tuple(cells),
        parameters=document["parameters"],
        content_hash=document["sha256"],
        attrition={},
        evidence={IMPORTED: {"name": document["name"], "sha256": document["sha256"]}},
    )


def _check_counts(cell: dict[str, Any]) -> None:
    """Refuse a cell with counts, percents or a confidence that cannot be."""
    for key, most in (("golfers", MOST_GOLFERS), ("swings", MOST_SWINGS_OF_CELL)):
        if type(cell[key]) is not int or not 0 <= cell[key] <= most:
            raise ValueError(f"{key} of a group: a count up to {most:,} is needed")
    if cell["percents"] is None:
        return
    if not all(0.0 < percent < 100.0 for percent in cell["percents"]):
        raise ValueError("percents of a group: above 0 and below 100 is needed")
    if not 0.0 < cell["confidence"] < 1.0:
        raise ValueError("confidence of a group: above 0 and below 1 is needed")


def _bands(cell: dict[str, Any], curves: "pd.DataFrame", features: "pd.DataFrame | None") -> Bands:
    """Bands of one cell; rows may stand in any order."""
    percents, names = tuple(cell["percents"]), tuple(cell["features"])
    axis = {name: place for place, name in enumerate(AXES)}
    at = (
        np.array([percents.index(p) for p in curves["percent"]]),
        np.array([axis[name] for name in curves["axis"]]),
        curves["node"].to_numpy(dtype=np.int64),
    )
    rows = (np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64))
    if features is not None:
        rows = (
            np.array([percents.index(p) for p in features["percent"]]),
            np.array([names.index(name) for name in features["feature"]]),
        )

    def curve(column: str) -> np.ndarray[Any, Any]:
        table = np.full((len(percents), len(AXES), NODES), np.nan)
        table[at] = curves[column].to_numpy(dtype=np.float64)
        return table

    def feature(column: str) -> np.ndarray[Any, Any]:
        table = np.full((len(percents), len(names)), np.nan)
        if features is not None:
            table[rows] = features[column].to_numpy(dtype=np.float64)
        return table

    return Bands(
        percents=percents,
        golfers=cell["golfers"],
        swings=cell["swings"],
        confidence=cell["confidence"],
        curve_cm=curve("value_cm"),
        curve_low_cm=curve("low_cm"),
        curve_high_cm=curve("high_cm"),
        feature_names=names,
        feature_golfers=np.array(cell["feature_golfers"]),
        feature=feature("value"),
        feature_low=feature("low"),
        feature_high=feature("high"),
    )
