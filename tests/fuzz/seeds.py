"""Sound files of every format, small and whole, that the fuzzer damages."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

TESTS = Path(__file__).parents[1]


def helpers(name: str, place: str) -> ModuleType:
    """A conftest of the readers' tests, which writes files of their formats."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, TESTS / "pipelines/collect" / place)
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


def write_seeds(folder: Path) -> list[Path]:
    """Write one sound file of each kind; all of them are read by the profile beside them."""
    captures = helpers("capture_helpers", "conftest.py")
    variants = helpers("variant_helpers", "c3d_variants/conftest.py")
    points, labels = captures.swing_points_mm(), list(captures.LABELS.values())
    few = points[:12]
    events = (("Top", 1.3), ("Impact", 1.55))
    seeds = [
        captures.write_c3d(folder / "whole.c3d", events=dict(events)),
        captures.write_c3d(folder / "library.c3d", few, events={"Top": 0.02}),
        captures.write_csv(folder / "whole.csv", points[::4], labels),
        captures.write_csv(folder / "few.csv", few, labels),
        _parquet(folder / "few.parquet", few, labels),
        _parquet(folder / "whole.parquet", points, labels),
        _bvh(folder / "few.bvh", 6),
        _bvh(folder / "long.bvh", 300),
    ]
    for processor, name in variants.NAMES.items():
        for scale, kind in ((-1.0, "floats"), (0.1, "words")):
            path = folder / f"{name.lower()}_{kind}.c3d"
            choices = {"processor": processor, "scale": scale, "events": events, "analog": 2}
            seeds.append(variants.write_variant(path, few, labels, **choices))
    return seeds


def _parquet(path: Path, points: np.ndarray, labels: list[str]) -> Path:
    columns = {"time_s": np.arange(len(points)) / 240.0}
    for place, label in enumerate(labels):
        for axis, letter in enumerate("xyz"):
            columns[f"{label}_{letter}"] = points[:, place, axis]
    pq.write_table(pa.table(columns), path)
    return path


def _bvh(path: Path, frames: int) -> Path:
    joints = "".join(
        f"  JOINT {name}\n  {{\n    OFFSET {x} 0 0\n    CHANNELS 3 Zrotation Xrotation Yrotation\n"
        "    End Site\n    {\n      OFFSET 0 -40 0\n    }\n  }\n"
        for name, x in (("LeftUpLeg", 10), ("RightUpLeg", -10))
    )
    head = (
        "HIERARCHY\nROOT Hips\n{\n  OFFSET 0 0 0\n  CHANNELS 6 Xposition Yposition Zposition "
        f"Zrotation Xrotation Yrotation\n{joints}}}\nMOTION\nFrames: {frames}\nFrame Time: 0.01\n"
    )
    rows = "".join(f"1 90 2 {i} 0 0 0 0 0 0 0 {i}\n" for i in range(frames))
    path.write_text(head + rows)
    return path
