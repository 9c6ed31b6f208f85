"""Collecting against the C3D reader alone on the same files, in the same run.

Files as a full-body laboratory writes them: 60 points at 240 Hz with two force plates' analog
channels at 1200 Hz, of which the profile names nine points. The reader parses all of it.

What a file costs once the workers run is the difference between many files and few, over the
files between: starting a worker and opening a store cost the same in both. Processor time is
steadier than the clock on the wall on a busy machine, and stricter: work in the worker and work in
the collecting process add up.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import ezc3d
import numpy as np
import pytest

from norms.records import Golfer
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths
from pipelines.collect.profile import Profile
from pipelines.collect_captures import collect_captures
from pipelines.store import open_store

pytestmark = pytest.mark.benchmark

FEW, MANY, OTHER_POINTS, ANALOG = 60, 460, 51, 12
REPEATS = 3
"""Of which the shortest time counts: whatever else the machine does only adds to it."""
MOST_TIMES_THE_READER = 1.3
LEAST_TIMES_AS_FAST = 1.7
"""On two processes, against one."""
IDLE_LOAD = 0.25
"""Load, per core, up to which a time on the wall says something of the program."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Seconds of a collecting run: on the wall, of this process, and of its workers together."""

    wall_s: float
    own_s: float
    workers_s: float

    @property
    def processor_s(self) -> float:
        """Seconds of all processes together."""
        return self.own_s + self.workers_s

    def __sub__(self, other: "Spent") -> "Spent":
        return Spent(
            wall_s=self.wall_s - other.wall_s,
            own_s=self.own_s - other.own_s,
            workers_s=self.workers_s - other.workers_s,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Captures:
    """Files of one lab, all of them in the machine's memory already, and the lab's profile."""

    files: Sequence[Path]
    profile: Profile


def now() -> Spent:
    """Seconds so far; those of workers once they have ended."""
    spent = os.times()
    return Spent(
        wall_s=perf_counter(),
        own_s=spent.user + spent.system,
        workers_s=spent.children_user + spent.children_system,
    )


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


@pytest.fixture(scope="module")
def load() -> float:
    """Of the machine before the captures are written, which is a load of its own."""
    return os.getloadavg()[0]


@pytest.fixture(scope="module")
def captures(load: float, tmp_path_factory: pytest.TempPathFactory) -> Captures:
    rng = np.random.default_rng(1)
    folder = tmp_path_factory.mktemp("captures")
    files = [folder / f"Q0001_2026-05-14_driver_{k:03d}.c3d" for k in range(MANY)]
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
    read(files)
    return Captures(files=files, profile=profile)


def read(files: Sequence[Path]) -> float:
    """Processor seconds that the reader alone takes for the files."""
    begin = now()
    for file in files:
        ezc3d.c3d(str(file))
    return (now() - begin).own_s


def collect(captures: Captures, count: int, workers: int, store_path: Path) -> Spent:
    with open_store(store_path, create=True) as store:
        store.add_golfers([Golfer(code="Q0001", hand="right")])
        begin = now()
        outcomes = collect_captures(
            captures.files[:count], store, captures.profile, workers=workers
        )
        spent = now() - begin
    assert [outcome.status for outcome in outcomes] == ["accepted"] * count
    return spent


def between(captures: Captures, workers: int, folder: Path) -> Spent:
    """What the files between few and many cost."""
    few = collect(captures, FEW, workers, folder / f"few{workers}.duckdb")
    return collect(captures, MANY, workers, folder / f"many{workers}.duckdb") - few


def test_two_processes_are_faster_on_the_wall(captures, load, tmp_path) -> None:
    cores = os.cpu_count() or 1
    if cores < 2 or load > IDLE_LOAD * cores:
        pytest.skip(f"two workers want two idle cores; there are {cores}, at a load of {load:.1f}")
    walls: dict[int, list[float]] = {1: [], 2: []}
    for repeat in range(REPEATS):
        for workers, times in walls.items():
            folder = tmp_path / f"{workers}_{repeat}"
            folder.mkdir()
            times.append(between(captures, workers, folder).wall_s)
    print("\n" + "; ".join(f"{n} at work: {np.round(times, 2)} s" for n, times in walls.items()))
    assert min(walls[1]) >= LEAST_TIMES_AS_FAST * min(walls[2])


@pytest.fixture(scope="module")
def one(captures: Captures, tmp_path_factory: pytest.TempPathFactory) -> Spent:
    """What the files between few and many cost on one process."""
    return between(captures, 1, tmp_path_factory.mktemp("one"))


@pytest.fixture(scope="module")
def two(captures: Captures, tmp_path_factory: pytest.TempPathFactory) -> Spent:
    """The same on two processes."""
    return between(captures, 2, tmp_path_factory.mktemp("two"))


def test_a_file_costs_little_more_than_its_parse(captures, one) -> None:
    files = MANY - FEW
    reader_s = read(captures.files[:files])
    ratio = one.processor_s / reader_s
    print(
        f"\nreader {1000 * reader_s / files:.1f} ms a file, worker "
        f"{1000 * one.workers_s / files:.1f} ms, collecting process "
        f"{1000 * one.own_s / files:.1f} ms, ratio {ratio:.2f}"
    )
    assert ratio <= MOST_TIMES_THE_READER


def test_two_processes_share_the_work_and_nothing_else_holds_them_up(one, two) -> None:
    """By processor time: as fast as the busiest of the two workers and the collecting process."""
    fastest = max(one.workers_s, one.own_s) / max(two.workers_s / 2.0, two.own_s)
    print(
        f"\none process: worker {one.workers_s:.2f} s, collecting {one.own_s:.2f} s; two: workers "
        f"{two.workers_s:.2f} s, collecting {two.own_s:.2f} s; {fastest:.2f} times as fast"
    )
    assert fastest >= LEAST_TIMES_AS_FAST
