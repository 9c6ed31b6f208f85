"""An edition as a folder of files that holds no golfer's row, and back into another store.

``edition.json`` carries names, definitions, counts, parameters and the hash; ``curve_bands`` and
``feature_bands``, in Parquet or CSV, carry the percentiles, and ``annex_arrays`` what stands
beside them, one row per number. Nothing of a golfer goes out: no code, no mean, no exclusion.
"""

import json
import shutil
import tempfile
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from norms.cohort.definitions import definition_document, definition_of
from norms.cohort.edition import verify_edition
from norms.errors import CohortRefused, NormsError
from norms.records import Bands, Cohort, CohortNorms, Edition
from norms.vocabulary import AXES, NODES
from pipelines.audit import NOT_STATED, log_edition
from pipelines.exported_annexes import annex_entries, annex_table, annexes_from
from pipelines.store import Store

if TYPE_CHECKING:
    import pandas as pd

SCHEMA_NAME: Final = "edition"
SCHEMA_VERSION: Final = 1
TableFormat = Literal["parquet", "csv"]
EDITION_FILE: Final = "edition.json"
CURVES: Final = "curve_bands"
FEATURES: Final = "feature_bands"
ANNEXES: Final = "annex_arrays"


def export_edition(
    store: Store,
    name: str,
    folder: Path,
    *,
    table_format: TableFormat = "parquet",
    who: str = NOT_STATED,
) -> list[Path]:
    """Write an edition of a store as a new folder of files.

    Parameters
    ----------
    store : Store
        Open for writing: that it was exported is logged.
    name : str
    folder : Path
        Must not exist yet.
    table_format : {"parquet", "csv"}
    who : str
        Role, for the log.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    NormsError
        If the folder exists or cannot be written.
    StoreRefused
        If the store has no such edition.
    """
    edition = store.edition(name)
    if folder.exists():
        raise NormsError(
            f"{folder}: exists already; name a folder that does not", code="folder_in_use"
        )
    try:
        draft = Path(tempfile.mkdtemp(dir=folder.absolute().parent, prefix=f".{folder.name}."))
    except OSError as error:
        raise NormsError(
            f"{folder}: cannot be written: {error.strerror}; check the folder", code="not_written"
        ) from error
    try:
        text = json.dumps(_document(edition, table_format), indent=1, ensure_ascii=False)
        (draft / EDITION_FILE).write_text(text + "\n", encoding="utf-8")
        _write_table(_curve_table(edition), draft / CURVES, table_format)
        _write_table(_feature_table(edition), draft / FEATURES, table_format)
        _write_table(annex_table(edition.annexes), draft / ANNEXES, table_format)
        draft.chmod(0o755)
        log_edition(store, "export", name, edition.content_hash, who)
        draft.rename(folder)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        raise
    return sorted(folder.iterdir())


def import_edition(store: Store, folder: Path, name: str | None = None) -> Edition:
    """Take another academy's edition into a store, without its golfers.

    Parameters
    ----------
    store : Store
        Open for writing.
    folder : Path
        As `export_edition` writes it.
    name : str, optional
        Name to keep it under; its own by default.

    Raises
    ------
    CohortRefused
        If a file is missing or damaged, or the numbers are not those the hash was taken over.
    StoreRefused
        If the name is taken by an edition with other numbers.
    """
    edition = read_edition(folder, name)
    store.save_edition(edition, datetime.now(UTC))
    log_edition(store, "import", edition.name, edition.content_hash, NOT_STATED)
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
        document = json.loads(file.read_text(encoding="utf-8"))
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
    except (ValueError, KeyError, TypeError, IndexError) as error:
        raise _refused(f"{folder}: is not a whole exported edition ({error})") from error
    if not verify_edition(edition):
        raise _refused(
            f"{folder}: the numbers are not those that edition {edition.name} was frozen with"
        )
    return edition


def _refused(message: str) -> CohortRefused:
    return CohortRefused(f"{message}; ask for it again", code="edition_damaged")


def _document(edition: Edition, table_format: TableFormat) -> dict[str, Any]:
    cells = []
    for cell in edition.cells:
        golfers, swings = cell.counts
        bands = cell.bands
        cells.append(
            {
                "definition": definition_document(cell.cohort.definition),
                "golfers": golfers,
                "swings": swings,
                "withheld": cell.withheld,
                "percents": list(bands.percents) if bands else None,
                "confidence": bands.confidence if bands else None,
                "features": list(bands.feature_names) if bands else [],
                "feature_golfers": bands.feature_golfers.tolist() if bands else [],
            }
        )
    return {
        "schema": {"name": SCHEMA_NAME, "version": SCHEMA_VERSION},
        "name": edition.name,
        "sha256": edition.content_hash,
        "tables": table_format,
        "units": {"curves": "cm, sway + toward the target, thrust + toward the ball, lift + up"},
        "parameters": dict(edition.parameters),
        "cells": cells,
        "annexes": annex_entries(edition.annexes),
    }


def _curve_table(edition: Edition) -> "pd.DataFrame":
    """One row per group, percentile, axis and node."""
    import pandas as pd

    parts = []
    for cell in edition.cells:
        if cell.bands is None:
            continue
        q = len(cell.bands.percents)
        parts.append(
            pd.DataFrame(
                {
                    "cohort": cell.cohort.definition.key,
                    "percent": np.repeat(cell.bands.percents, len(AXES) * NODES),
                    "axis": np.tile(np.repeat(AXES, NODES), q),
                    "node": np.tile(np.arange(NODES), q * len(AXES)),
                    "value_cm": cell.bands.curve_cm.ravel(),
                    "low_cm": cell.bands.curve_low_cm.ravel(),
                    "high_cm": cell.bands.curve_high_cm.ravel(),
                }
            )
        )
    names = ("cohort", "percent", "axis", "node", "value_cm", "low_cm", "high_cm")
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(names))


def _feature_table(edition: Edition) -> "pd.DataFrame":
    """One row per group, percentile and feature."""
    import pandas as pd

    parts = []
    for cell in edition.cells:
        if cell.bands is None:
            continue
        q, d = len(cell.bands.percents), len(cell.bands.feature_names)
        parts.append(
            pd.DataFrame(
                {
                    "cohort": cell.cohort.definition.key,
                    "percent": np.repeat(cell.bands.percents, d),
                    "feature": np.tile(cell.bands.feature_names, q),
                    "value": cell.bands.feature.ravel(),
                    "low": cell.bands.feature_low.ravel(),
                    "high": cell.bands.feature_high.ravel(),
                }
            )
        )
    names = ("cohort", "percent", "feature", "value", "low", "high")
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(names))


def _write_table(table: "pd.DataFrame", path: Path, table_format: TableFormat) -> None:
    if table_format == "csv":
        # Python's shortest text of a double reads back as the same double.
        table.to_csv(path.with_suffix(".csv"), index=False, lineterminator="\n")
    else:
        table.to_parquet(path.with_suffix(".parquet"), index=False)


def _read_table(path: Path, table_format: str) -> "pd.DataFrame":
    import pandas as pd

    if table_format != "csv":
        return pd.read_parquet(path.with_suffix(".parquet"))
    import pyarrow as pa
    from pyarrow import csv

    # Not pandas: how exactly it reads a double has changed between its versions.
    words = dict.fromkeys(("cohort", "axis", "feature", "name"), pa.string())
    numbers = dict.fromkeys(
        ("percent", "value", "low", "high", "value_cm", "low_cm", "high_cm"), pa.float64()
    )
    options = csv.ConvertOptions(column_types=words | numbers)
    table: pd.DataFrame = csv.read_csv(
        path.with_suffix(".csv"), convert_options=options
    ).to_pandas()
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
        evidence={"imported": {"name": document["name"], "sha256": document["sha256"]}},
    )


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
