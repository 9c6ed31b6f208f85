"""What a reader hands over: labelled points as the file states them, nothing interpreted yet."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.errors import Notice

LONGEST_NAME: Final = 60
"""Letters of a label or a column that a message shows."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RawPoints:
    """Points over time in a file's own labels, units and axes.

    Attributes
    ----------
    labels : tuple of str
        Label of each of the m points, as in the file; may repeat where the file repeats it.
    points : ndarray, shape (t, m, 3)
        In the file's unit; NaN where a point was not seen.
    rate_hz : float or None
        Samples per second where the file states it.
    unit : str or None
        Unit of length where the file states it, as written there.
    events_s : Mapping of str to tuple of float
        Times of each event label of the file, seconds from the first sample.
    notices : tuple of Notice
    """

    labels: tuple[str, ...]
    points: NDArray[np.float64]
    rate_hz: float | None = None
    unit: str | None = None
    events_s: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        if self.points.ndim != 3 or self.points.shape[1:] != (len(self.labels), 3):
            raise ValueError(f"points: shape {self.points.shape} for {len(self.labels)} labels")


def short(name: str) -> str:
    """A file's own word as a message shows it: on one line, printable, not longer than that."""
    shown = "".join(c if c.isprintable() else " " for c in name)
    shown = " ".join(shown.split())
    return shown if len(shown) <= LONGEST_NAME else shown[: LONGEST_NAME - 1] + "…"
