"""A small writer of C3D files in the variants that real systems write.

Laid out by hand after "The C3D File Format User Guide" (Motion Lab Systems, public), so that the
readers are held against the format and not against the library that they are built on.
"""

import struct
import sys
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray

BLOCK = 512
INTEL, DEC, MIPS = 84, 85, 86
NAMES = {INTEL: "Intel", DEC: "DEC", MIPS: "MIPS"}


class Bytes:
    """Numbers in the byte order of one processor."""

    def __init__(self, processor: int) -> None:
        self.processor = processor
        self.order = ">" if processor == MIPS else "<"

    def words(self, *values: int) -> bytes:
        return struct.pack(f"{self.order}{len(values)}H", *(int(v) & 0xFFFF for v in values))

    def reals(self, values: NDArray[np.float64] | Sequence[float]) -> bytes:
        array = np.asarray(values, dtype=np.float64).ravel()
        if self.processor == DEC:
            # A DEC float has the words of four times its value, exchanged.
            pairs = (4 * array).astype("<f4").view("<u2").reshape(-1, 2)
            return pairs[:, ::-1].astype("<u2").tobytes()
        return array.astype(f"{self.order}f4").tobytes()


class Parameters:
    """The parameter section: groups and their parameters."""

    def __init__(self, bytes_: Bytes) -> None:
        self.bytes, self.content, self.groups = bytes_, b"", 0

    def group(self, name: str) -> None:
        self.groups += 1
        self._record(-self.groups, name, b"\0")

    def numbers(self, name: str, values: Sequence[float], shape: Sequence[int] = ()) -> None:
        self._parameter(name, 4, shape, self.bytes.reals(values))

    def words(self, name: str, values: Sequence[int], shape: Sequence[int] = ()) -> None:
        self._parameter(name, 2, shape, self.bytes.words(*values))

    def texts(self, name: str, texts: Sequence[str]) -> None:
        width = max(map(len, texts), default=0)
        data = "".join(text.ljust(width) for text in texts).encode()
        self._parameter(name, -1, [width, len(texts)], data)

    def _parameter(self, name: str, kind: int, shape: Sequence[int], data: bytes) -> None:
        body = struct.pack("<bB", kind, len(shape)) + bytes(shape) + data + b"\0"
        self._record(self.groups, name, body)

    def _record(self, number: int, name: str, body: bytes) -> None:
        head = struct.pack("<bb", len(name), number) + name.encode()
        self.content += head + self.bytes.words(len(body) + 2) + body

    def section(self) -> bytes:
        whole = self.content + bytes(2)
        blocks = (4 + len(whole)) // BLOCK + 1
        head = bytes([1, 0x50, blocks, self.bytes.processor])
        return (head + whole).ljust(blocks * BLOCK, b"\0")


def write_variant(
    path: Path,
    points: NDArray[np.float64],
    labels: Sequence[str],
    *,
    processor: int = INTEL,
    scale: float = -1.0,
    unit: str | None = "mm",
    rate_hz: float = 240.0,
    first_frame: int = 1,
    events: Sequence[tuple[str, float]] = (),
    analog: int = 0,
) -> Path:
    """Write points, shape (t, m, 3), NaN for a gap.

    Parameters
    ----------
    path : Path
    points : ndarray
    labels : sequence of str
        More than 255 continue in LABELS2, LABELS3 ….
    processor : int
    scale : float
        Negative: floats. Positive: words of so many units each.
    unit : str or None
    rate_hz : float
    first_frame : int
    events : sequence of (label, seconds)
    analog : int
        Analogue channels, one sample a frame, that a reader of points has to step over.
    """
    b = Bytes(processor)
    frames, count = points.shape[:2]
    last = first_frame + frames - 1
    section = b""
    for _ in range(2):  # the section states where the data start, which its own length decides
        data_block = 2 + len(section) // BLOCK
        parameters = Parameters(b)
        _point_group(parameters, frames, count, labels, scale, unit, rate_hz, data_block)
        _analog_group(parameters, analog, rate_hz)
        if events:
            _event_group(parameters, events)
        section = parameters.section()
    header = bytes([2, 0x50]) + b.words(count, analog, first_frame, last, 10)
    header += b.reals([scale]) + b.words(data_block, 1) + b.reals([rate_hz])
    path.write_bytes(header.ljust(BLOCK, b"\0") + section + _data(b, points, scale, analog))
    return path


def _point_group(
    parameters: Parameters,
    frames: int,
    count: int,
    labels: Sequence[str],
    scale: float,
    unit: str | None,
    rate_hz: float,
    data_block: int,
) -> None:
    parameters.group("POINT")
    parameters.words("USED", [count])
    parameters.words("FRAMES", [frames])
    parameters.words("DATA_START", [data_block])
    parameters.numbers("RATE", [rate_hz])
    parameters.numbers("SCALE", [scale])
    for part, start in enumerate(range(0, len(labels), 255), start=1):
        ending = "" if part == 1 else str(part)
        parameters.texts(f"LABELS{ending}", labels[start : start + 255])
        parameters.texts(f"DESCRIPTIONS{ending}", [""] * len(labels[start : start + 255]))
    if unit is not None:
        parameters.texts("UNITS", [unit])


def _analog_group(parameters: Parameters, analog: int, rate_hz: float) -> None:
    parameters.group("ANALOG")
    parameters.words("USED", [analog])
    parameters.numbers("RATE", [rate_hz])
    parameters.numbers("GEN_SCALE", [1.0])
    parameters.texts("LABELS", [f"V{channel}" for channel in range(analog)])
    parameters.texts("DESCRIPTIONS", [""] * analog)
    if analog:
        parameters.numbers("SCALE", [1.0] * analog, [analog])
        parameters.words("OFFSET", [0] * analog, [analog])


def _event_group(parameters: Parameters, events: Sequence[tuple[str, float]]) -> None:
    """Times in minutes and seconds, one pair for each event."""
    parameters.group("EVENT")
    parameters.words("USED", [len(events)])
    parameters.texts("LABELS", [label for label, _ in events])
    times = [value for _, time_s in events for value in (time_s // 60, time_s % 60)]
    parameters.numbers("TIMES", times, [2, len(events)])


def _data(b: Bytes, points: NDArray[np.float64], scale: float, analog: int) -> bytes:
    gap = np.isnan(points).any(axis=2)
    residual = np.where(gap, -1.0, 0.0)[..., None]
    rows = np.concatenate([np.where(gap[..., None], 0.0, points), residual], axis=2)
    frames = rows.reshape(len(points), -1)
    channels = np.tile(np.arange(analog) + 7.0, (len(points), 1))
    if scale < 0:
        return b.reals(np.concatenate([frames, channels], axis=1))
    rows[..., :3] = np.rint(rows[..., :3] / scale)
    frames = np.concatenate([rows.reshape(len(points), -1), channels], axis=1)
    return frames.astype(np.int64).astype(f"{b.order}i2").tobytes()


@pytest.fixture(scope="session")
def variants() -> ModuleType:
    """The helpers of this file, which a test cannot import by name."""
    return sys.modules[__name__]
