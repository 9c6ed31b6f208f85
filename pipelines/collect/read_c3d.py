"""C3D files, through ezc3d, held against their own claims before and after."""

import struct
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from ezc3d import ezc3d
from numpy.typing import NDArray

from norms.errors import CaptureRefused, Notice
from pipelines.collect.c3d_byte_order import intel_bytes
from pipelines.collect.c3d_layout import MIPS, C3dLayout, check_layout, parameter_block
from pipelines.collect.raw_points import RawPoints


def read_c3d(path: Path) -> RawPoints:
    """Read the points and events of a C3D file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    RawPoints
        Points marked as invalid (residual −1), and points at exactly (0, 0, 0), which is how
        many programs write a point that was not seen, are NaN.

    Raises
    ------
    CaptureRefused
        If the file is empty, no C3D, cut short or damaged, or its counts contradict each other.
    """
    content = path.read_bytes()
    if parameter_block(path.name, content)[1] != MIPS:
        return _read(path.name, path, content)
    try:
        content = intel_bytes(content)
    except (struct.error, IndexError):
        said = "the parameter section does not hold together; copy or export it again"
        raise CaptureRefused(f"{path.name}: damaged: {said}", code="damaged") from None
    # A file without a name, so that nothing stays behind even where the parser crashes.
    with tempfile.TemporaryFile() as turned:
        turned.write(content)
        turned.seek(0)
        return _read(path.name, Path(f"/dev/fd/{turned.fileno()}"), content)


def _read(name: str, path: Path, content: bytes) -> RawPoints:
    """Read a little-endian file, called ``name`` in messages."""
    layout = check_layout(name, content)
    # The binding's own object: its dictionary view would also unpack residuals, camera masks and
    # analogue channels, half again the time, and nothing here reads them.
    try:
        file = ezc3d.c3d(str(path))
        points = np.array(file.get_points()[:3], dtype=np.float64)
    except (RuntimeError, ValueError, IndexError, OSError) as fault:
        said = " ".join(str(fault).split())[:120]
        raise CaptureRefused(f"{name}: damaged: {said}", code="damaged") from None
    if points.shape != (3, layout.points, layout.frames):
        raise CaptureRefused(
            f"{name}: {points.shape[2]} frames of {points.shape[1]} points could be read "
            f"where the file states {layout.frames} of {layout.points}; export it again",
            code="frame_count",
        )
    x, y, z = points
    with np.errstate(invalid="ignore"):  # infinite coordinates of both signs make a NaN, as meant
        unseen = ((x == 0) & (y == 0) & (z == 0)) | ~np.isfinite(x + y + z)
    if unseen.all():
        raise CaptureRefused(f"{name}: no point is seen in any frame", code="no_points")
    points[:, unseen] = np.nan
    events, notices = _events(name, file, layout)
    unit = _strings(file, "POINT", "UNITS")
    return RawPoints(
        labels=_labels(file, layout.points),
        points=points.transpose(2, 1, 0),
        rate_hz=layout.rate_hz,
        unit=unit[0] if unit and unit[0] else None,
        events_s=events,
        notices=notices,
    )


def _labels(file: Any, count: int) -> tuple[str, ...]:
    """Labels of the points; more than 255 continue in LABELS2, LABELS3 …; the rest are empty."""
    labels: list[str] = []
    names = ["LABELS", *(f"LABELS{i}" for i in range(2, 2 + count // 255))]
    for name in names:
        labels.extend(_strings(file, "POINT", name))
    return tuple([*labels, *[""] * count][:count])


def _events(
    name: str, file: Any, layout: C3dLayout
) -> tuple[dict[str, tuple[float, ...]], tuple[Notice, ...]]:
    """Event times in seconds from the first sample, by label."""
    labels = _strings(file, "EVENT", "LABELS")
    times = _times_s(file)
    if not labels or times.size == 0:
        return {}, ()
    times, notices = _from_first_sample(times, layout)
    events: dict[str, tuple[float, ...]] = {}
    for label, time_s in zip(labels, times, strict=False):
        events[label] = (*events.get(label, ()), float(time_s))
    return events, notices


def _from_first_sample(
    times: NDArray[np.float64], layout: C3dLayout
) -> tuple[NDArray[np.float64], tuple[Notice, ...]]:
    """Turn times that count from the start of the original recording into times in this file.

    In a trimmed file event times may count from either; a time beyond the last sample shows which.
    """
    trimmed_s = (layout.first_frame - 1) / layout.rate_hz
    last_s = (layout.frames - 1) / layout.rate_hz
    if trimmed_s == 0:
        return times, ()
    if times.max() > last_s + 0.5 / layout.rate_hz:
        said = (
            f"event times count from the original recording; {trimmed_s:.3f} s before the first "
            "frame kept were subtracted"
        )
        return times - trimmed_s, (Notice(code="event_clock", message=said, severity="note"),)
    if times.min() >= trimmed_s:
        said = (
            f"the file starts at frame {layout.first_frame} and its event times fit both clocks; "
            "they were taken to count from the first frame kept"
        )
        return times, (Notice(code="event_clock_unclear", message=said),)
    return times, ()


def _times_s(file: Any) -> NDArray[np.float64]:
    """EVENT:TIMES holds minutes in its first row and seconds in its second."""
    parameter = _parameter(file, "EVENT", "TIMES")
    if parameter is None:
        return np.zeros(0)
    values = np.asarray(parameter.valuesAsDouble(), dtype=np.float64)
    if list(parameter.dimension())[:1] != [2]:
        return np.zeros(0)
    minutes, seconds = values.reshape(-1, 2).T
    return np.asarray(60.0 * minutes + seconds)


def _strings(file: Any, group: str, name: str) -> list[str]:
    parameter = _parameter(file, group, name)
    if parameter is None or parameter.type() != ezc3d.CHAR:
        return []
    return [value.strip() for value in parameter.valuesAsString()]


def _parameter(file: Any, group: str, name: str) -> Any:
    parameters = file.parameters()
    if not parameters.isGroup(group) or not parameters.group(group).isParameter(name):
        return None
    return parameters.group(group).parameter(name)
