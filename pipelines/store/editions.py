"""Editions, whole and exact: written in one transaction, read back double for double."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from norms.cohort.definitions import definition_document, definition_of
from norms.errors import StoreRefused
from norms.records import Bands, Cohort, CohortNorms, Edition
from pipelines.store.annexes import annexes_of, save_annexes
from pipelines.store.arrays import axis_columns, curves_of
from pipelines.store.database import Database, Row

if TYPE_CHECKING:
    import pyarrow as pa

CURVE_LIMITS = {"cm": "curve_cm", "low_cm": "curve_low_cm", "high_cm": "curve_high_cm"}
"""Suffix of the columns of ``edition_band``, and the field of ``Bands`` they hold."""


def save_edition(database: Database, edition: Edition, built_at: datetime) -> None:
    """Keep an edition; the same one again changes nothing."""
    kept = database.rows("edition_hash", (edition.name,))
    if kept and kept[0][0] == edition.content_hash:
        return
    if kept:
        before: dict[str, object] = json.loads(database.rows("edition", (edition.name,))[0][1])
        raise StoreRefused(
            f'edition "{edition.name}" is already in the store with other numbers: '
            f"{_what_differs(before, json.loads(_json(edition.parameters)))}; editions are "
            "frozen, choose another name",
            code="edition_exists",
        )
    with database.transaction():
        database.rows(
            "add_edition",
            (
                edition.name,
                edition.content_hash,
                _json(edition.parameters),
                _json(edition.attrition),
                built_at,
            ),
        )
        for kind, document in edition.evidence.items():
            database.rows("add_edition_evidence", (edition.name, kind, _json(document)))
        for cell in edition.cells:
            database.take_in("add_edition_members", _member_table(edition.name, cell))
        save_numbers(database, edition)


def _what_differs(before: Mapping[str, object], now: Mapping[str, object]) -> str:
    """Which settings and program versions two editions were not built alike with."""
    changed = [key for key in {**before, **now} if before.get(key) != now.get(key)]
    if not changed:
        return "built by the same settings and programs, it rests on other swings or decisions"
    told = [
        f"{key.replace('_', ' ')} was {before.get(key, 'not stated')} and is "
        f"{now.get(key, 'not stated')}"
        if isinstance(now.get(key, before.get(key)), str | int | float)
        else f"{key.replace('_', ' ')} were others"
        for key in changed
    ]
    return ", ".join(told)


def save_numbers(database: Database, edition: Edition) -> None:
    """Keep cells, bands and annexes of an edition that has none; inside a transaction."""
    database.take_in("add_edition_cells", _cell_table(edition))
    for cell in edition.cells:
        if cell.bands is not None:
            key = cell.cohort.definition.key
            database.take_in("add_edition_bands", _band_table(edition.name, key, cell.bands))
            database.take_in(
                "add_edition_feature_bands", _feature_table(edition.name, key, cell.bands)
            )
    save_annexes(database, edition)


def put_evidence(database: Database, edition: str, kind: str, document: object) -> None:
    """Keep what explains an edition; what stood there of this kind is replaced."""
    database.rows("put_edition_evidence", (edition, kind, _json(document)))


def _json(value: object) -> str:
    return json.dumps(value, allow_nan=False)


def _cell_table(edition: Edition) -> "pa.Table":
    import pyarrow as pa

    rows: list[dict[str, Any]] = []
    for place, cell in enumerate(edition.cells):
        bands = cell.bands
        golfers, swings = cell.counts
        rows.append(
            {
                "edition": edition.name,
                "place": place,
                "cohort_key": cell.cohort.definition.key,
                "definition": _json(definition_document(cell.cohort.definition)),
                "feature_names": list(cell.cohort.feature_names),
                "withheld": cell.withheld,
                "golfers": golfers,
                "swings": swings,
                "confidence": bands.confidence if bands else None,
                "percents": list(bands.percents) if bands else None,
            }
        )
    names = rows[0] if rows else ()
    return pa.table({name: [row[name] for row in rows] for name in names})


def _member_table(edition: str, cell: CohortNorms) -> "pa.Table":
    import pyarrow as pa

    cohort = cell.cohort
    golfers = len(cohort.golfers)
    return pa.table(
        {
            "edition": [edition] * golfers,
            "cohort_key": [cohort.definition.key] * golfers,
            "golfer": list(cohort.golfers),
            "swings": cohort.swing_counts,
            **axis_columns(cohort.curves_cm),
            "features": pa.array(list(cohort.features), pa.list_(pa.float64())),
        }
    )


def _band_table(edition: str, key: str, bands: Bands) -> "pa.Table":
    import pyarrow as pa

    columns: dict[str, Any] = {}
    for suffix, field in CURVE_LIMITS.items():
        columns |= axis_columns(getattr(bands, field), suffix)
    return pa.table(
        {
            "edition": [edition] * len(bands.percents),
            "cohort_key": [key] * len(bands.percents),
            "percent": list(bands.percents),
            **columns,
        }
    )


def _feature_table(edition: str, key: str, bands: Bands) -> "pa.Table":
    """One row per feature and percentile, features outermost."""
    import pyarrow as pa

    q, d = len(bands.percents), len(bands.feature_names)
    return pa.table(
        {
            "edition": [edition] * (q * d),
            "cohort_key": [key] * (q * d),
            "place": np.repeat(np.arange(d), q),
            "feature": [name for name in bands.feature_names for _ in range(q)],
            "golfers": np.repeat(bands.feature_golfers, q),
            "percent": np.tile(np.array(bands.percents, dtype=float), d),
            "value": bands.feature.T.ravel(),
            "low": bands.feature_low.T.ravel(),
            "high": bands.feature_high.T.ravel(),
        }
    )


def edition(database: Database, name: str) -> Edition:
    """One edition by name."""
    found = database.rows("edition", (name,))
    if not found:
        names = ", ".join(n for (n,) in database.rows("edition_names")) or "none"
        raise StoreRefused(
            f'edition "{name}": is not in the store; editions in it: {names}',
            code="edition_unknown",
        )
    content_hash, parameters, attrition = found[0]
    members = database.arrow("edition_members", (name,))
    bands = database.arrow("edition_bands", (name,))
    features = database.arrow("edition_feature_bands", (name,))
    cells = []
    for row in database.rows("edition_cells", (name,)):
        key, _, _, withheld, golfers, swings, *_ = row
        cohort = _cohort(row, _of_cell(members, key).sort_by("golfer"))
        elsewhere = bool(golfers) and not cohort.golfers
        cells.append(
            CohortNorms(
                cohort=cohort,
                bands=_bands(row, _of_cell(bands, key).sort_by("percent"), _of_cell(features, key)),
                withheld=withheld,
                golfers=golfers if elsewhere else None,
                swings=swings if elsewhere else None,
            )
        )
    return Edition(
        name=name,
        cells=tuple(cells),
        parameters=json.loads(parameters),
        content_hash=content_hash,
        attrition=json.loads(attrition),
        evidence={
            kind: json.loads(document)
            for kind, document in database.rows("edition_evidence", (name,))
        },
        annexes=annexes_of(database, name),
    )


def _of_cell(table: "pa.Table", key: str) -> "pa.Table":
    import pyarrow.compute as pc

    return table.filter(pc.equal(table["cohort_key"], key))


def _cohort(row: Row, members: "pa.Table") -> Cohort:
    _, definition, feature_names, *_ = row
    features = np.array(members["features"].to_pylist(), dtype=np.float64)
    return Cohort(
        definition=definition_of(json.loads(definition)),
        golfers=tuple(members["golfer"].to_pylist()),
        swing_counts=members["swings"].to_numpy(),
        curves_cm=curves_of(members),
        feature_names=tuple(feature_names),
        features=features.reshape(members.num_rows, len(feature_names)),
    )


def _bands(row: Row, curves: "pa.Table", features: "pa.Table") -> Bands | None:
    *_, golfers, swings, confidence, percents = row
    if percents is None:
        return None
    q = len(percents)

    def by_percent(column: str) -> NDArray[np.float64]:
        values: NDArray[np.float64] = features[column].to_numpy().reshape(-1, q).T
        return values

    return Bands(
        percents=tuple(percents),
        golfers=golfers,
        swings=swings,
        confidence=confidence,
        **{field: curves_of(curves, suffix) for suffix, field in CURVE_LIMITS.items()},
        feature_names=tuple(features["feature"].to_pylist()[::q]),
        feature_golfers=features["golfers"].to_numpy()[::q],
        feature=by_percent("value"),
        feature_low=by_percent("low"),
        feature_high=by_percent("high"),
    )
