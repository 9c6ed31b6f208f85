"""How a record takes an array: shape checked against its letters, copied, made read-only."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def frozen_array(
    name: str, value: ArrayLike, shape: tuple[int | None, ...], *, dtype: Any = np.float64
) -> Any:
    """Return a read-only copy of ``value`` after checking its shape.

    Parameters
    ----------
    name : str
        Field name for the message.
    value : array_like
    shape : tuple of int or None
        Length wanted along each dimension; ``None`` accepts any.
    dtype : data type, optional

    Raises
    ------
    ValueError
        If the number of dimensions or a length differs.
    """
    array = np.array(value, dtype=dtype)
    fits = array.ndim == len(shape) and all(
        want is None or want == got for want, got in zip(shape, array.shape, strict=True)
    )
    if not fits:
        wanted = tuple("any" if want is None else want for want in shape)
        raise ValueError(f"{name}: shape {array.shape} where {wanted} is needed")
    array.flags.writeable = False
    return array


def set_field(record: object, name: str, value: object) -> None:
    """Assign a field of a frozen record during its own construction."""
    object.__setattr__(record, name, value)


def freeze_fields(record: object, shapes: Mapping[str, tuple[int | None, ...]]) -> None:
    """Freeze several float array fields of ``record`` in place; for use in ``__post_init__``."""
    for name, shape in shapes.items():
        set_field(record, name, frozen_array(name, getattr(record, name), shape))
