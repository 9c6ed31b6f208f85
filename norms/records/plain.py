"""A record taken apart into plain JSON values and named arrays, and put together again, exactly."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date
from functools import cache
from math import isfinite
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

from norms.records._arrays import FloatArray

Arrays = dict[str, FloatArray]
Record = TypeVar("Record")


def take_apart(record: object) -> tuple[dict[str, Any], Arrays]:
    """Plain values and arrays of a record.

    Parameters
    ----------
    record : dataclass instance
        Its fields hold text, numbers, dates, arrays, records, and tuples or mappings of these.

    Returns
    -------
    document : dict
        JSON values; a number that JSON does not know is the text ``"nan"``, ``"inf"`` or
        ``"-inf"``.
    arrays : dict of str to ndarray of float
        By place in the record, e.g. ``"support.handicaps"`` or ``"features.3.t"``.
    """
    arrays: Arrays = {}
    return _plain(record, "", arrays), arrays


def put_together(
    kind: type[Record], document: Mapping[str, Any], arrays: Mapping[str, FloatArray]
) -> Record:
    """The record that `take_apart` took apart.

    Parameters
    ----------
    kind : type
        A dataclass.
    document : Mapping of str to JSON values
    arrays : Mapping of str to ndarray
    """
    record: Record = _typed(kind, document, "", arrays)
    return record


def _plain(value: Any, place: str, arrays: Arrays) -> Any:
    if is_dataclass(value):
        named = {field.name: getattr(value, field.name) for field in fields(value)}
        return _plain_values(named, place, arrays)
    if isinstance(value, Mapping):
        return _plain_values(value, place, arrays)
    if isinstance(value, (tuple, list)):
        return [_plain(item, f"{place}{i}.", arrays) for i, item in enumerate(value)]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return float(value) if isfinite(value) else str(float(value))
    return value


def _plain_values(named: Mapping[str, Any], place: str, arrays: Arrays) -> dict[str, Any]:
    document = {}
    for name, value in named.items():
        if isinstance(value, np.ndarray):
            arrays[f"{place}{name}"] = value.astype(np.float64)
        else:
            document[name] = _plain(value, f"{place}{name}.", arrays)
    return document


def _typed(kind: Any, value: Any, place: str, arrays: Mapping[str, FloatArray]) -> Any:
    if value is None:
        return None
    if get_origin(kind) in (Union, UnionType):
        kind = next(one for one in get_args(kind) if one is not type(None))
    if is_dataclass(kind):
        return _record(kind, value, place, arrays)
    if kind is float:
        return float(value)
    if kind is date:
        return date.fromisoformat(value)
    origin = get_origin(kind)
    if origin is tuple:
        kinds = _item_kinds(get_args(kind), value)
        return tuple(
            _typed(one, item, f"{place}{i}.", arrays)
            for i, (one, item) in enumerate(zip(kinds, value, strict=True))
        )
    if isinstance(origin, type) and issubclass(origin, Mapping):
        item_kind = get_args(kind)[1]
        return {
            name: _typed(item_kind, item, f"{place}{name}.", arrays) for name, item in value.items()
        }
    return value


def _record(kind: Any, document: Any, place: str, arrays: Mapping[str, FloatArray]) -> Any:
    hints = _hints(kind)
    values = {}
    for field in fields(kind):
        where = f"{place}{field.name}"
        if where in arrays:
            values[field.name] = arrays[where]
        elif field.name in document:
            values[field.name] = _typed(
                hints[field.name], document[field.name], f"{where}.", arrays
            )
    return kind(**values)


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def _item_kinds(kinds: tuple[Any, ...], items: Sequence[Any]) -> Sequence[Any]:
    return [kinds[0]] * len(items) if len(kinds) == 2 and kinds[1] is Ellipsis else kinds
