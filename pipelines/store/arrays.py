"""Between NumPy arrays and the fixed-length lists of an Arrow table."""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from norms.vocabulary import AXES, NODES

if TYPE_CHECKING:
    import pyarrow as pa


def fixed_lists(values: NDArray[np.floating[Any]]) -> "pa.FixedSizeListArray":
    """Rows of a (n, w) array as n lists of length w, in the array's own precision."""
    import pyarrow as pa

    width = values.shape[1]
    return pa.FixedSizeListArray.from_arrays(pa.array(np.ascontiguousarray(values).ravel()), width)


def axis_columns(
    curves_cm: NDArray[np.floating[Any]], suffix: str = "cm"
) -> dict[str, "pa.FixedSizeListArray"]:
    """Columns ``sway_<suffix>``, ``thrust_<suffix>``, ``lift_<suffix>`` of (n, 3, 301) curves."""
    return {f"{axis}_{suffix}": fixed_lists(curves_cm[:, place]) for place, axis in enumerate(AXES)}


def rows_of(table: "pa.Table", column: str, width: int) -> NDArray[Any]:
    """A column of fixed-length lists as an array of shape (n, width)."""
    lists = table[column].combine_chunks()
    array: NDArray[Any] = lists.flatten().to_numpy(zero_copy_only=False).reshape(-1, width)
    return array


def curves_of(table: "pa.Table", suffix: str = "cm") -> NDArray[np.float64]:
    """Curves of shape (n, 3, 301) out of the columns that ``axis_columns`` makes."""
    curves = np.empty((table.num_rows, len(AXES), NODES))
    for place, axis in enumerate(AXES):
        curves[:, place] = rows_of(table, f"{axis}_{suffix}", NODES)
    return curves
