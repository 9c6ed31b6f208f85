"""Annexes of an edition: documents as JSON, arrays as doubles, exact both ways."""

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from norms.records import Annex, Edition
from pipelines.store.database import Database

if TYPE_CHECKING:
    import pyarrow as pa


def save_annexes(database: Database, edition: Edition) -> None:
    """Keep the annexes of an edition; inside the transaction that keeps the edition."""
    for place, annex in enumerate(edition.annexes):
        database.rows(
            "add_edition_annex",
            (
                edition.name,
                place,
                annex.kind,
                annex.subject,
                annex.withheld,
                json.dumps(annex.document, allow_nan=False),
            ),
        )
    database.take_in("add_edition_annex_arrays", _array_table(edition))


def _array_table(edition: Edition) -> "pa.Table":
    """One row for each array, its values in row-major order."""
    import pyarrow as pa

    rows = [
        (place, name, values)
        for place, annex in enumerate(edition.annexes)
        for name, values in annex.arrays.items()
    ]
    return pa.table(
        {
            "edition": pa.array([edition.name] * len(rows), pa.string()),
            "place": pa.array([place for place, _, _ in rows], pa.int32()),
            "name": pa.array([name for _, name, _ in rows], pa.string()),
            "shape": pa.array([list(values.shape) for *_, values in rows], pa.list_(pa.int32())),
            "array_values": pa.array(
                [values.ravel() for *_, values in rows], pa.list_(pa.float64())
            ),
        }
    )


def annexes_of(database: Database, edition: str) -> tuple[Annex, ...]:
    """Annexes of an edition, in their order."""
    arrays: dict[int, dict[str, Any]] = {}
    table = database.arrow("edition_annex_arrays", (edition,))
    for place, name, shape, values in zip(
        *(table[column] for column in ("place", "name", "shape", "array_values")), strict=True
    ):
        flat = values.values.to_numpy(zero_copy_only=False)
        arrays.setdefault(place.as_py(), {})[name.as_py()] = np.reshape(flat, shape.as_py())
    return tuple(
        Annex(
            kind=kind,
            subject=subject,
            withheld=withheld,
            document=json.loads(document),
            arrays=arrays.get(place, {}),
        )
        for place, kind, subject, withheld, document in database.rows("edition_annexes", (edition,))
    )
