"""What a C3D file claims to hold, read from its first blocks before anything is parsed.

The parser of the library takes a file at its word: cut short, it returns what is there, and a
false count makes it reserve whatever is asked. So the claims are checked against each other and
against the file's length first. Layout: "The C3D File Format User Guide" (Motion Lab Systems,
public), chapters on the header and parameter sections.
"""

import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NoReturn

from norms.errors import CaptureRefused

BLOCK: Final = 512
MAGIC: Final = 0x50
INTEL: Final = 84
DEC: Final = 85
"""Both are little-endian; DEC floats differ, see ``_float``."""
MIPS: Final = 86
"""Big-endian; turned around by ``c3d_byte_order`` before anything else is read."""
MOST_DIMENSIONS: Final = 7
WORD_LIMIT: Final = 65_535
"""A frame count that an unsigned 16-bit word cannot hold is written as this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class C3dLayout:
    """The claims of a C3D file that matter for reading its points.

    Attributes
    ----------
    points, frames : int
    first_frame : int
        Number of the first frame, from 1, in the original recording.
    rate_hz : float
    bytes_wanted : int
        Length that a file with these counts needs at least.
    """

    points: int
    frames: int
    first_frame: int
    rate_hz: float
    bytes_wanted: int


def check_layout(name: str, content: bytes) -> C3dLayout:
    """Read a C3D file's claims and hold them against each other and the file's length.

    Parameters
    ----------
    name : str
        File name for messages.
    content : bytes
        The whole file, in little-endian order.

    Raises
    ------
    CaptureRefused
        ``empty_file``, ``not_a_c3d``, ``cut_short``, ``damaged``, ``no_points``,
        ``frame_count`` or ``rate``.
    """
    start, processor = parameter_block(name, content)
    _, points, analogs, first, last = struct.unpack_from("<5H", content)
    (data_block,) = struct.unpack_from("<H", content, 16)
    parameters = _parameters(name, content, start, processor)
    frames = _frames(name, first, last, parameters)
    if points == 0 or frames == 0:
        raise CaptureRefused(f"{name}: holds {points} points in {frames} frames", code="no_points")
    if data_block < 2:
        _damaged(name, f"data said to start at block {data_block}")
    rate_hz = parameters.get("POINT:RATE", _float(content, 20, processor))
    if not (math.isfinite(rate_hz) and rate_hz > 0):
        raise CaptureRefused(
            f"{name}: states a rate of {rate_hz:g} Hz; a rate is above zero", code="rate"
        )
    number_bytes = 4 if _float(content, 12, processor) < 0 else 2  # by the sign of the scale
    wanted = (data_block - 1) * BLOCK + frames * number_bytes * (4 * points + analogs)
    if len(content) < wanted:
        _cut_short(name, len(content), wanted)
    return C3dLayout(
        points=points,
        frames=frames,
        first_frame=max(first, 1),
        rate_hz=rate_hz,
        bytes_wanted=wanted,
    )


def parameter_block(name: str, content: bytes) -> tuple[int, int]:
    """Where the parameters start, and the processor the file was written for.

    Raises
    ------
    CaptureRefused
        ``empty_file``, ``not_a_c3d``, ``cut_short`` or ``damaged``.
    """
    if not content:
        raise CaptureRefused(f"{name}: the file is empty", code="empty_file")
    if len(content) < 2 or content[1] != MAGIC or content[0] == 0:
        looks = " (it looks like text)" if _is_text(content[:BLOCK]) else ""
        raise CaptureRefused(f"{name}: not a C3D file{looks}; export it again", code="not_a_c3d")
    start = (content[0] - 1) * BLOCK
    if len(content) < max(start, BLOCK) + BLOCK:
        _cut_short(name, len(content), max(start, BLOCK) + BLOCK)
    processor = content[start + 3]
    if processor not in (INTEL, DEC, MIPS):
        _damaged(name, f"processor type {processor} where {INTEL}, {DEC} or {MIPS} is meant")
    return start, processor


def _frames(name: str, first: int, last: int, parameters: dict[str, float]) -> int:
    """The number of frames, once everything that states it agrees."""
    claims: dict[str, int] = {}
    if last != WORD_LIMIT:
        claims["header"] = last - first + 1
    if (stated := parameters.get("POINT:FRAMES", WORD_LIMIT)) != WORD_LIMIT:
        claims["POINT:FRAMES"] = int(stated)
    if "POINT:LONG_FRAMES" in parameters:
        claims["POINT:LONG_FRAMES"] = int(parameters["POINT:LONG_FRAMES"])
    if {"TRIAL:ACTUAL_START_FIELD", "TRIAL:ACTUAL_END_FIELD"} <= parameters.keys():
        begin, end = parameters["TRIAL:ACTUAL_START_FIELD"], parameters["TRIAL:ACTUAL_END_FIELD"]
        claims["TRIAL"] = int(end - begin) + 1
    counts = set(claims.values())
    if len(counts) == 1 and min(counts) >= 0:
        return counts.pop()
    if not counts:
        return WORD_LIMIT - first + 1
    said = ", ".join(f"{place} {count}" for place, count in claims.items())
    raise CaptureRefused(
        f"{name}: its counts of frames disagree ({said}); export it again", code="frame_count"
    )


WANTED: Final = frozenset(
    {
        "POINT:FRAMES",
        "POINT:LONG_FRAMES",
        "POINT:RATE",
        "TRIAL:ACTUAL_START_FIELD",
        "TRIAL:ACTUAL_END_FIELD",
    }
)


def _parameters(name: str, content: bytes, start: int, processor: int) -> dict[str, float]:
    """The wanted numeric parameters by ``GROUP:NAME``."""
    groups: dict[int, str] = {}
    found: dict[str, tuple[int, bytes, int]] = {}
    try:
        for identity, label, at, end in _records(content, start + 4):
            if identity < 0:
                groups[-identity] = label
            else:
                found[f"{identity}:{label}"] = _parameter(name, label, content, at, end)
    except (struct.error, ValueError, IndexError):
        _damaged(name, "the parameter section does not hold together")
    named = {
        f"{groups.get(int(key.split(':')[0]), '')}:{key.split(':')[1]}": value
        for key, value in found.items()
    }
    return {
        key: _number(kind, values, count, processor)
        for key, (kind, values, count) in named.items()
        if key in WANTED and count > 0 and len(values) >= count * abs(kind) > 0
    }


def _parameter(name: str, label: str, content: bytes, at: int, end: int) -> tuple[int, bytes, int]:
    """Kind, bytes and count of a parameter's values, once they fit between ``at`` and ``end``.

    The library takes these numbers at their word, and crashes or never comes back.
    """
    kind, dimensions = struct.unpack_from("<bB", content, at)
    body = at + 2 + dimensions
    count = math.prod(content[at + 2 : body])
    after = body + count * abs(kind)
    if dimensions > MOST_DIMENSIONS or after > end:
        shown = ascii(label)[1:-1]
        _damaged(name, f"parameter {shown} states more values than it has room for")
    return kind, content[body:after], count


def _records(content: bytes, at: int) -> Iterator[tuple[int, str, int, int]]:
    """Walk the linked records: group (negative) or parameter number, name, its body from and to."""
    while True:
        length, identity = struct.unpack_from("<bb", content, at)
        length = abs(length)
        if length == 0 or identity == 0:
            return
        label = content[at + 2 : at + 2 + length].decode("latin-1").strip().upper()
        link = at + 2 + length
        (offset,) = struct.unpack_from("<H", content, link)
        yield identity, label, link + 2, link + offset if offset else len(content)
        if offset == 0:
            return
        at = link + offset


def _number(kind: int, values: bytes, count: int, processor: int) -> float:
    if kind == 4:
        return _float(values, 0, processor)
    if kind == 2 and count >= 2:
        # Two words make one long count, the low word first.
        low, high = struct.unpack_from("<2H", values)
        return float(low + 65_536 * high)
    if kind == 2:
        return float(struct.unpack_from("<H", values)[0])
    return float(values[0])


def _float(content: bytes, at: int, processor: int) -> float:
    """A 32-bit float; DEC's have their words swapped and an exponent two higher."""
    if processor == DEC:
        low, high = struct.unpack_from("<2H", content, at)
        return float(struct.unpack("<f", struct.pack("<2H", high, low))[0]) / 4.0
    return float(struct.unpack_from("<f", content, at)[0])


def _is_text(head: bytes) -> bool:
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return all(character.isprintable() or character.isspace() for character in text)


def _cut_short(name: str, held: int, wanted: int) -> NoReturn:
    raise CaptureRefused(
        f"{name}: cut short: the file holds {held:,} of {wanted:,} bytes; copy or export it again",
        code="cut_short",
    )


def _damaged(name: str, what: str) -> NoReturn:
    raise CaptureRefused(f"{name}: damaged: {what}; copy or export it again", code="damaged")
