"""Collecting against the C3D reader alone on the same files, in the same run, in processor time.

Files as a full-body laboratory writes them: 60 points at 240 Hz with two force plates' analog
channels at 1200 Hz, of which the profile names nine points. The reader parses all of it.
"""

import os
from pathlib import Path

import ezc3d
import numpy as np
import pytest

from norms.records import Golfer
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths
from pipelines.collect.profile import Profile
from pipelines.collect_captures import collect_captures
from pipelines.store import open_store

FILES, OTHER_POINTS, ANALOG = 150, 51, 12
MOST_TIMES_THE_READER = 1.5


def processor_s() -> float:
    """Processor seconds of this process and of its finished children.

    Steadier than the clock on the wall on a busy machine, and stricter: work in the worker and
    work in the collecting process add up.
    """
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def write_capture(path: Path, rng: np.random.Generator) -> tuple[str, ...]:
    swing = SwingParameters(sway_forward_cm=rng.uniform(8, 15), start_s=0.9, still_s=0.8)
    times = capture_times(swing, 240.0)
    paths = marker_paths(swing, Body(), times)
    labels = [*paths, *(f"body_{k:02d}" for k in range(OTHER_POINTS))]
    points = np.ones((4, len(labels), len(times)))
    points[:3, : len(paths)] = np.stack(list(paths.values()), axis=0).transpose(2, 0, 1) * 10
    points[:3, len(paths) :] = rng.normal(scale=500, size=(3, OTHER_POINTS, len(times)))
    points[:3] += rng.normal(scale=0.5, size=points[:3].shape)
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["RATE"]["value"] = [240.0]
    file["parameters"]["POINT"]["LABELS"]["value"] = tuple(labels)
    file["parameters"]["POINT"]["UNITS"]["value"] = ["mm"]
    file["parameters"]["ANALOG"]["RATE"]["value"] = [1200.0]
    file["parameters"]["ANALOG"]["LABELS"]["value"] = tuple(f"force_{k}" for k in range(ANALOG))
    file["data"]["points"] = points
    file["data"]["analogs"] = rng.normal(size=(1, ANALOG, 5 * len(times)))
    file.write(str(path))
    return tuple(paths)


@pytest.mark.benchmark
def test_collecting_takes_at_most_half_as_long_again_as_parsing(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    folder = tmp_path / "captures"
    folder.mkdir()
    files = [folder / f"Q0001_2026-05-14_driver_{k:03d}.c3d" for k in range(FILES)]
    for file in files:
        roles = write_capture(file, rng)
    profile = Profile.model_validate(
        {
            "lab": {"name": "Bench"},
            "capture": {"file_name": "{golfer}_{date}_{club}_{number}"},
            "points": {role: role for role in roles},
            "units": {"length": "mm"},
            "axes": {"source": "declared", "target": "+x", "up": "+z", "ball": "-y"},
        }
    )
    for file in files:
        ezc3d.c3d(str(file))  # every file once, so that both sides read from memory
    begin = processor_s()
    for file in files:
        ezc3d.c3d(str(file))
    reader_s = processor_s() - begin
    with open_store(tmp_path / "bench.duckdb", create=True) as store:
        store.add_golfers([Golfer(code="Q0001", hand="right")])
        begin = processor_s()
        outcomes = collect_captures([folder], store, profile, workers=1)
        collect_s = processor_s() - begin
    assert all(outcome.status == "accepted" for outcome in outcomes)
    print(
        f"\nreader {1000 * reader_s / FILES:.1f} ms a file, collecting "
        f"{1000 * collect_s / FILES:.1f} ms, ratio {collect_s / reader_s:.2f}"
    )
    assert collect_s <= MOST_TIMES_THE_READER * reader_s
