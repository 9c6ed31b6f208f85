"""An edition as a folder of files that holds no golfer's row.

``edition.json`` carries names, definitions, counts, parameters and the hash; ``curve_bands`` and
``feature_bands``, in Parquet or CSV, carry the percentiles, and ``annex_arrays`` what stands
beside them, one row per number. Nothing of a golfer goes out: no code, no mean, no exclusion.
"""

import io
import json
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from norms.cohort.definitions import definition_document
from norms.errors import StoreRefused
from norms.records import Edition
from norms.vocabulary import AXES, NODES
from pipelines.audit import edition_said
from pipelines.consents import counted_without_consent
from pipelines.csv_cells import frame_csv
from pipelines.exported_annexes import annex_entries, annex_table
from pipelines.files import DRAFT_NAME, put_whole, settle_folder, sweep_drafts
from pipelines.outputs import cannot_be_written, folder_for
from pipelines.roles import NOT_STATED
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
        If the store has no such edition, or it counts golfers who do not agree to norms, or not
        any more: what is out cannot be called back.
    """
    edition = store.edition(name)
    if unwilling := len(counted_without_consent(store, edition)):
        raise StoreRefused(
            f"edition {name}: counts {unwilling} golfer{'s' * (unwilling != 1)} who "
            f"{'does' if unwilling == 1 else 'do'} not agree to norms today, or whose guardian's "
            "word is missing; build a new edition (norms build) and share that one",
            code="no_consent",
        )
    place = folder_for(folder, new=True)
    text = json.dumps(_document(edition, table_format), indent=1, ensure_ascii=False)
    tables = {
        CURVES: _curve_table(edition),
        FEATURES: _feature_table(edition),
        ANNEXES: annex_table(edition.annexes),
    }
    files = {EDITION_FILE: f"{text}\n".encode()} | {
        f"{name}.{table_format}": _table_bytes(table, table_format)
        for name, table in tables.items()
    }
    draft = None
    try:
        sweep_drafts(place.parent)
        draft = Path(tempfile.mkdtemp(*DRAFT_NAME, place.parent))
        for name_in, content in files.items():
            put_whole(draft / name_in, content)
        draft.chmod(0o755)
        to = store.audit.without_codes(str(folder))
        store.audit.record("export", who, edition_said(edition) | {"folder": to})
        draft.rename(folder_for(folder, new=True))
        settle_folder(place.parent)
    except OSError as error:
        cannot_be_written(folder, f"{error.strerror or error}; check the disk and the folder")
    finally:
        if draft is not None:
            shutil.rmtree(draft, ignore_errors=True)
    return sorted(folder.iterdir())


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


def _table_bytes(table: "pd.DataFrame", table_format: TableFormat) -> bytes:
    """An exported table is a source for whoever reads it, and bears no mark of an output."""
    if table_format == "csv":
        # Python's shortest text of a double reads back as the same double.
        return frame_csv(table).encode("utf-8")
    buffer = io.BytesIO()
    table.to_parquet(buffer, index=False)
    return buffer.getvalue()
