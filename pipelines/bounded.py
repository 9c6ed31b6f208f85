"""Text, TOML and JSON of others, read within limits: no file hangs the program or ends it.

A file is looked at before it is read whole, parsed without letting nesting or a number of a
million digits through, and its content walked once, without recursion, before any model sees it.
"""

import json
import math
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

VALUE_SHOWN: Final = 60
"""Characters of a key or value that a message repeats."""


class BeyondReason(ValueError):
    """A file that asks for more than is read; its text says what was found and what is allowed."""


class NotReadable(ValueError):
    """A file that is not of its kind; its text says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """How large a document may be.

    Attributes
    ----------
    size : int
        Bytes of its file.
    depth : int
        Tables and lists within one another.
    values : int
        Keys and entries together; of TOML, lines as well.
    entries : int
        Of one list or table.
    text : int
        Characters of one text.
    key : int
        Characters of one key.
    number : float
        Largest magnitude of a number.
    finite : bool
        Whether infinite numbers and those that are none are refused here, and not by key.
    """

    size: int
    depth: int
    values: int
    entries: int
    text: int
    key: int
    number: float
    finite: bool


PERSONS_TOML: Final = Shape(
    size=1_000_000,
    depth=8,
    values=20_000,
    entries=2_000,
    text=10_000,
    key=200,
    number=1e15,
    finite=False,
)
"""What a person writes by hand; the longest example in the house has 40 lines."""
EDITION_JSON: Final = Shape(
    size=64_000_000,
    depth=32,
    values=4_000_000,
    entries=1_000_000,
    text=100_000,
    key=500,
    number=1e300,
    finite=True,
)
"""What an academy exports with an edition; one of 300 golfers has about 200 kB."""


def bounded_bytes(path: Path, limit: int) -> bytes:
    """A file's bytes, of which there may be so many; endless files (devices, pipes) end there.

    Raises
    ------
    OSError
    BeyondReason
    """
    with path.open("rb") as stream:
        content = stream.read(limit + 1)
    if len(content) > limit:
        raise BeyondReason(
            f"holds more than {limit / 1e6:g} MB, and no more is read; check that it is the right "
            "file"
        )
    return content


def read_toml_file(path: Path, shape: Shape = PERSONS_TOML) -> tuple[str, dict[str, Any]]:
    """Text and content of a TOML file.

    Raises
    ------
    OSError
    NotReadable
        If it is not TOML.
    BeyondReason
        If it is larger, deeper or longer than allowed, or holds a number that nobody can mean.
    """
    content = bounded_bytes(path, shape.size)
    try:
        # Line ends as a text file's: TOML takes both.
        text = content.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise NotReadable(str(error)) from None
    if text.count("\n") > shape.values:
        raise BeyondReason(f"has more than {shape.values:,} lines; shorten it")
    return text, _parsed(tomllib.loads, text, shape)


def read_json_file(path: Path, shape: Shape = EDITION_JSON) -> Any:
    """Content of a JSON file.

    Raises
    ------
    OSError
    NotReadable
        If it is not JSON in UTF-8.
    BeyondReason
        If it is larger, deeper or longer than allowed, or holds a number that is none.
    """
    content = bounded_bytes(path, shape.size)
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise NotReadable(str(error)) from None
    return _parsed(_json_of, text, shape)


def _json_of(text: str) -> Any:
    return json.loads(text, parse_constant=_no_number)


def _no_number(word: str) -> None:
    raise BeyondReason(f"holds {word} where a number is needed; correct it")


def _parsed(parse: Callable[[str], Any], text: str, shape: Shape) -> Any:
    try:
        content = parse(text)
    except RecursionError:
        raise BeyondReason(
            f"nests tables and lists deeper than {shape.depth}; correct it"
        ) from None
    except BeyondReason:
        raise
    except ValueError as error:
        # Python's own words for a number of too many digits say nothing to a person.
        if "int_max_str_digits" in str(error):
            raise BeyondReason("holds a number of thousands of digits; correct it") from None
        raise NotReadable(short_words(str(error), 300)) from None
    check_shape(content, shape)
    return content


def check_shape(content: object, shape: Shape) -> None:
    """Refuse a document that is deeper, longer or holds larger numbers than allowed.

    Raises
    ------
    BeyondReason
        Naming the place.
    """
    seen = 0
    waiting: list[tuple[str, int, object]] = [("", 0, content)]
    while waiting:
        place, depth, value = waiting.pop()
        seen += 1
        if seen > shape.values:
            raise BeyondReason(f"holds more than {shape.values:,} values; shorten it")
        if fault := _fault_of(value, shape):
            raise BeyondReason(f"{place + ': ' if place else ''}{fault}")
        if isinstance(value, dict | list):
            if depth >= shape.depth:
                raise BeyondReason(
                    f"{place}: nests tables and lists deeper than {shape.depth}; correct it"
                )
            waiting += [
                (_place(place, key), depth + 1, inner) for key, inner in _inner(value, shape)
            ]


def _inner(value: dict[str, Any] | list[Any], shape: Shape) -> Iterator[tuple[str | int, object]]:
    if isinstance(value, list):
        yield from enumerate(value, start=1)
        return
    for key, inner in value.items():
        if len(key) > shape.key:
            raise BeyondReason(
                f"the key {short_words(key)} has {len(key):,} characters, and {shape.key} are "
                "allowed; shorten it"
            )
        yield key, inner


def _fault_of(value: object, shape: Shape) -> str | None:
    if isinstance(value, str) and len(value) > shape.text:
        return f"{len(value):,} characters, where {shape.text:,} are allowed; shorten it"
    if isinstance(value, dict | list) and len(value) > shape.entries:
        return f"{len(value):,} entries, where {shape.entries:,} are allowed; shorten it"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if isinstance(value, float) and not math.isfinite(value):
        return (
            f"{value} is no number that can be reckoned with; correct it" if shape.finite else None
        )
    if abs(value) > shape.number:
        return f"a number beyond {shape.number:g}; correct it"
    return None


def _place(place: str, key: str | int) -> str:
    """Name of what is inside; long ones lose their beginning."""
    inner = str(key) if isinstance(key, int) else short_words(key)
    return f"{place}.{inner}"[-2 * VALUE_SHOWN :].lstrip(".") if place else inner


def short_words(text: str, length: int = VALUE_SHOWN) -> str:
    """Words on one line, cut where they are long."""
    line = " ".join(text.split())
    return line if len(line) <= length else f"{line[:length]}…"
