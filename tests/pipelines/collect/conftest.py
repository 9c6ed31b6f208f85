"""Small captures of an invented swing, for the tests of this folder through one fixture."""

import sys
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import ezc3d
import numpy as np
import pytest
from numpy.typing import NDArray

RATE_HZ = 240.0
LABELS = {
    "left_asis": "LASI",
    "right_asis": "RASI",
    "left_psis": "LPSI",
    "right_psis": "RPSI",
    "left_hand": "LHAN",
    "right_hand": "RHAN",
    "club_head": "CLUB",
    "left_foot": "LTOE",
    "right_foot": "RTOE",
}
"""Lab frame: target +x, up +z, ball −y, of a right-handed golfer; millimetres."""

NORTH_BAY = """
[lab]
name = "North bay"

[capture]
file_name = "{golfer}_{date}_{club}_{number}"

[points]
left_asis = "LASI"
right_asis = "RASI"
left_psis = "LPSI"
right_psis = "RPSI"
left_hand = "LHAN"
right_hand = "RHAN"
club_head = "CLUB"
left_foot = "LTOE"
right_foot = "RTOE"

[units]
length = "mm"

[axes]
source = "declared"
target = "+x"
up = "+z"
ball = "-y"

[rate]
hz = 240

[events]
source = "club"

[conditioning]
cutoff_hz = 12
longest_gap_s = 0.1
"""


def swing_points_mm(*, still_s: float = 0.5) -> NDArray[np.float64]:
    """Points of one swing, shape (t, 9, 3): the pelvis sways back and forward, the club turns.

    Start at ``still_s``, top 0.8 s and impact 1.05 s later, at rest 0.7 s after impact.
    """
    start, top, impact, finish = still_s + np.array([0.0, 0.8, 1.05, 1.75])
    time = np.arange(round((finish + 0.3) * RATE_HZ)) / RATE_HZ
    sway = _through(time, [start, top - 0.1, finish], [0.0, -60.0, 110.0])
    lift = _through(time, [start, top + 0.05, finish], [0.0, -30.0, 20.0])
    turn = np.radians(_through(time, [start, top, finish], [0.0, -40.0, 80.0]))
    centre = np.stack([sway, 0.2 * lift, 950.0 + lift], axis=1)
    # Facing −y, the golfer has the target (+x) to the left.
    body = {
        "LASI": (120, -90, 10),
        "RASI": (-120, -90, 10),
        "LPSI": (45, 70, 25),
        "RPSI": (-45, 70, 25),
    }
    paths = {
        name: centre + _turned(np.array(place, dtype=float), turn) for name, place in body.items()
    }
    angle = np.radians(_through(time, [start, top, impact, finish], [0.0, -230.0, 0.0, 230.0]))
    for name, radius in (("LHAN", 550.0), ("RHAN", 560.0), ("CLUB", 1500.0)):
        paths[name] = np.stack(
            [
                radius * np.sin(angle),
                -300 - 0.2 * radius * np.cos(angle),
                1400 - radius * np.cos(angle),
            ],
            axis=1,
        )
    for name, x in (("LTOE", 220.0), ("RTOE", -220.0)):
        paths[name] = np.tile([x, -150.0, 60.0], (len(time), 1))
    return np.stack([paths[label] for label in LABELS.values()], axis=1)


def _through(
    time: NDArray[np.float64], at: list[float], values: list[float]
) -> NDArray[np.float64]:
    """Smooth steps from value to value, at rest in each."""
    path = np.full(len(time), values[0])
    for (t0, t1), (v0, v1) in zip(pairwise(at), pairwise(values), strict=True):
        share = np.clip((time - t0) / (t1 - t0), 0.0, 1.0)
        path = path + (v1 - v0) * (10 * share**3 - 15 * share**4 + 6 * share**5)
    return path


def _turned(place: NDArray[np.float64], turn: NDArray[np.float64]) -> NDArray[np.float64]:
    x, y, z = place
    return np.stack(
        [
            x * np.cos(turn) - y * np.sin(turn),
            x * np.sin(turn) + y * np.cos(turn),
            np.full(len(turn), z),
        ],
        axis=1,
    )


def write_c3d(
    path: Path,
    points: NDArray[np.float64] | None = None,
    labels: list[str] | None = None,
    *,
    unit: str | None = "mm",
    rate_hz: float = RATE_HZ,
    events: dict[str, float] | None = None,
) -> Path:
    """A C3D file of these points, by default of the invented swing."""
    points = swing_points_mm() if points is None else points
    labels = list(LABELS.values()) if labels is None else labels
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["RATE"]["value"] = [rate_hz]
    file["parameters"]["POINT"]["LABELS"]["value"] = labels
    file["parameters"]["POINT"]["UNITS"]["value"] = [] if unit is None else [unit]
    data = np.ones((4, points.shape[1], points.shape[0]))
    data[:3] = points.transpose(2, 1, 0)
    file["data"]["points"] = data
    for label, time_s in (events or {}).items():
        file.add_event(time=[int(time_s // 60), time_s % 60], context="General", label=label)
    file.write(str(path))
    return path


def write_csv(
    path: Path, points: NDArray[np.float64], labels: list[str], *, time: bool = True
) -> Path:
    """A CSV table of these points; NaN becomes an empty cell."""
    header = [f"{label}_{letter}" for label in labels for letter in "xyz"]
    rows = [",".join((["time_s"] if time else []) + header)]
    for i, sample in enumerate(points.reshape(len(points), -1)):
        cells = ["" if np.isnan(value) else repr(float(value)) for value in sample]
        rows.append(",".join(([repr(i / RATE_HZ)] if time else []) + cells))
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def write_profile(folder: Path, text: str = NORTH_BAY, *, name: str = "north_bay.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def captures() -> ModuleType:
    """The helpers of this file, which a test cannot import by name."""
    return sys.modules[__name__]


@pytest.fixture
def north_bay(tmp_path: Path) -> Path:
    """A valid profile for the invented captures."""
    return write_profile(tmp_path)
