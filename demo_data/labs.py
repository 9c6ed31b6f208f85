"""The academy's two labs, as their own profiles describe them, and their C3D files."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from norms.units import CM_PER_UNIT

FloatArray = NDArray[np.float64]

LAB_KEYS = ("north_bay", "range_hut")
GRID_CM = 0.001
"""Coordinates are written in steps of 0.01 mm, so that a last bit of rounding changes no file."""
ORIGIN_CM = {"north_bay": (35.0, -60.0, 0.0), "range_hut": (-120.0, 40.0, 0.0)}
"""Where a lab's golfers stand, canonical coordinates from the lab's own origin."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lab:
    """How one lab records.

    Attributes
    ----------
    key : str
        Name of its folder and profile.
    profile : str
        Text of the profile.
    labels : dict of str to str
        Label in the files by role.
    unit : str
        Unit of length, as the files state it.
    rate_hz : float
    axes : ndarray, shape (3, 3)
        Columns are the canonical x, y, z in laboratory coordinates.
    impact_label : str or None
        Label of the impact event in the files' EVENT group.
    """

    key: str
    profile: str
    labels: dict[str, str]
    unit: str
    rate_hz: float
    axes: FloatArray
    impact_label: str | None

    def coordinates(self, path_cm: FloatArray) -> FloatArray:
        """Canonical points, shape (…, 3), cm, in the lab's own axes and unit."""
        moved = (path_cm + np.array(ORIGIN_CM[self.key])) @ self.axes.T
        return np.asarray(np.round(moved / GRID_CM) * (GRID_CM / CM_PER_UNIT[self.unit]))


def _direction(word: str) -> FloatArray:
    out = np.zeros(3)
    out["xyz".index(word[1])] = -1.0 if word[0] == "-" else 1.0
    return out


@cache
def load_lab(key: str) -> Lab:
    """Read a lab from the profile that lies beside this module."""
    text = Path(__file__).with_name(f"{key}.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    target, up = _direction(table["axes"]["target"]), _direction(table["axes"]["up"])
    return Lab(
        key=key,
        profile=text,
        labels=table["points"],
        unit=table["units"]["length"],
        rate_hz=float(table["rate"]["hz"]),
        axes=np.column_stack([target, np.cross(up, target), up]),
        impact_label=table["events"].get("impact"),
    )


def write_capture(
    file: Path, lab: Lab, points: dict[str, FloatArray], *, unit: str, impact_s: float | None
) -> None:
    """Write one C3D file.

    Parameters
    ----------
    file : pathlib.Path
    lab : Lab
    points : dict of str to ndarray, shape (t, 3)
        Laboratory coordinates by label; NaN where a point was not seen.
    unit : str
        What the file claims its unit to be.
    impact_s : float or None
        Time of the impact event, where the lab records one.
    """
    import ezc3d

    stacked = np.stack(list(points.values()), axis=1)  # (t, m, 3)
    unseen: NDArray[np.bool_] = np.any(np.isnan(stacked), axis=2)
    homogeneous = np.ones((4, *unseen.T.shape))
    homogeneous[:3] = np.where(unseen[..., None], 0.0, stacked).transpose(2, 1, 0)

    c3d = ezc3d.c3d()
    point = c3d["parameters"]["POINT"]
    point["RATE"]["value"] = [lab.rate_hz]
    point["LABELS"]["value"] = list(points)
    point["UNITS"]["value"] = [unit]
    c3d["data"]["points"] = homogeneous
    c3d["data"]["meta_points"]["residuals"] = np.where(unseen, -1.0, 0.0).T[None]
    if lab.impact_label is not None and impact_s is not None:
        # C3D counts event times in minutes and seconds.
        c3d.add_event(time=[0.0, impact_s], context="General", label=lab.impact_label)
    c3d.write(str(file))
    _blank_signature(file)


def _blank_signature(file: Path) -> None:
    """Blank what the writing library signs every file with: its version, a person's address.

    A character parameter is stored as its name, two bytes to the next one, the type −1, one
    dimension, the length, and the text (C3D user guide, parameter section).
    """
    with file.open("r+b") as stream:
        head = stream.read(8192)
        group = head.find(b"EZC3D")
        for parameter in (b"VERSION", b"CONTACT"):
            name = head.find(parameter, group)
            if group < 0 or name < 0:
                continue
            text = name + len(parameter) + 5
            stream.seek(text)
            stream.write(b" " * head[text - 1])
