"""Annexes in an exported edition: documents in its JSON, arrays in one long table."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from norms.records import Annex

if TYPE_CHECKING:
    import pandas as pd


def annex_entries(annexes: Sequence[Annex]) -> list[dict[str, Any]]:
    """Annexes as JSON values; of the arrays only their shapes."""
    return [
        {
            "kind": annex.kind,
            "subject": annex.subject,
            "withheld": annex.withheld,
            "document": annex.document,
            "shapes": {name: list(values.shape) for name, values in annex.arrays.items()},
        }
        for annex in annexes
    ]


def annex_table(annexes: Sequence[Annex]) -> "pd.DataFrame":
    """One row per number: which annex, which array, its place in row-major order, the number."""
    import pandas as pd

    arrays = [
        (place, name, values.ravel())
        for place, annex in enumerate(annexes)
        for name, values in annex.arrays.items()
    ]
    lengths = [values.size for *_, values in arrays]
    places = np.array([place for place, *_ in arrays], dtype=np.int64)
    names = np.array([name for _, name, _ in arrays], dtype=object)
    return pd.DataFrame(
        {
            "annex": np.repeat(places, lengths),
            "name": np.repeat(names, lengths),
            "place": np.concatenate([np.arange(n) for n in lengths] or [np.empty(0, np.int64)]),
            "value": np.concatenate([values for *_, values in arrays] or [np.empty(0)]),
        }
    )


def annexes_from(entries: Sequence[Mapping[str, Any]], table: "pd.DataFrame") -> tuple[Annex, ...]:
    """Annexes of their entries and the rows of the table, which may stand in any order.

    Raises
    ------
    KeyError, ValueError
        If an array is not whole.
    """
    rows = dict(tuple(table.groupby(["annex", "name"], sort=False)))
    return tuple(
        Annex(
            kind=entry["kind"],
            subject=entry["subject"],
            withheld=entry["withheld"],
            document=entry["document"],
            arrays={
                name: _array(rows.get((place, name)), shape)
                for name, shape in entry["shapes"].items()
            },
        )
        for place, entry in enumerate(entries)
    )


def _array(rows: "pd.DataFrame | None", shape: list[int]) -> np.ndarray[Any, Any]:
    size = int(np.prod(shape))
    if (0 if rows is None else len(rows)) != size:
        raise ValueError(f"an array of an annex is not whole: {size} numbers are needed")
    flat = np.empty(size)
    if rows is not None:
        flat[rows["place"].to_numpy(dtype=np.int64)] = rows["value"].to_numpy(dtype=np.float64)
    return flat.reshape(shape)
