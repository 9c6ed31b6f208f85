"""The deliberate faults of the academy: one file of each kind in each lab, beside the good ones."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from demo_data.captures import write_swing
from demo_data.golfers import GolferTruth, PlannedSwing, swing_code
from demo_data.labs import LAB_KEYS

STRANGER = "Q0999"
"""A code that is in no roster."""
FAULT_KINDS = (
    "dropped_marker",
    "swapped_sides",
    "metres_as_millimetres",
    "ends_before_impact",
    "duplicate",
    "cut_short",
    "not_in_roster",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One faulty file.

    Attributes
    ----------
    file : str
        Path inside the academy's folder, with forward slashes.
    kind : str
        One of `FAULT_KINDS`.
    swing : str
        Code that the file's name gives.
    same_as : str or None
        For a duplicate: path of the file whose bytes it repeats.
    """

    file: str
    kind: str
    swing: str
    same_as: str | None = None


def capture_path(lab: str, code: str) -> str:
    """Path of a capture inside the academy's folder."""
    return f"captures/{lab}/{code}.c3d"


def write_faults(
    folder: Path, golfers: list[GolferTruth], seed: np.random.SeedSequence
) -> tuple[Fault, ...]:
    """Write every kind of fault once for each lab that has swings, and say what was done."""
    rng = np.random.default_rng(seed)
    faults = []
    for lab in LAB_KEYS:
        here = [(one, s) for one in golfers for s in one.swings if s.lab == lab]
        if not here:
            continue
        for number, kind in enumerate(FAULT_KINDS, start=91):
            golfer, swing = here[int(rng.integers(len(here)))]
            noise = np.random.SeedSequence(int(rng.integers(2**32)))
            faults.append(_write_fault(folder, golfer, swing, kind, number, noise))
    return tuple(faults)


def _write_fault(
    folder: Path,
    golfer: GolferTruth,
    model: PlannedSwing,
    kind: str,
    number: int,
    noise: np.random.SeedSequence,
) -> Fault:
    """Write one fault, with the motion of a good swing of the same golfer as its model."""
    name = STRANGER if kind == "not_in_roster" else model.golfer
    code = swing_code(name, model.recorded_on, model.club, number)
    swing = replace(model, code=code, golfer=name)
    path = capture_path(model.lab, code)
    file = folder / path
    if kind == "duplicate":
        original = capture_path(model.lab, model.code)
        file.write_bytes((folder / original).read_bytes())
        return Fault(file=path, kind=kind, swing=code, same_as=original)
    write_swing(file, swing, golfer.person.golfer.hand, noise, fault=kind)
    if kind == "cut_short":
        whole = file.read_bytes()
        file.write_bytes(whole[: int(0.6 * len(whole))])
    return Fault(file=path, kind=kind, swing=code)
