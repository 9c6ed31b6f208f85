"""The point that tells a swing's events, club head or hands, cleaned for that purpose."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from norms.errors import SwingRefused
from norms.records import FloatArray
from norms.swing.condition import low_pass
from norms.swing.filter_error import rate_noise

Source = Literal["club", "hands"]

CUTOFF_HZ: Final = {"club": 25.0, "hands": 12.0}
"""Filters for finding events only; the club moves faster than the hands."""
FEWEST_SEEN: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mover:
    """Path and velocity of club head or hands over the whole capture.

    Attributes
    ----------
    source : {"club", "hands"}
    raw_cm : ndarray, shape (t, 3)
    velocity : ndarray, shape (t, 3)
        cm/s, filtered.
    speed : ndarray, shape (t,)
    rate_hz : float
    noise_cm_s : float
        Standard deviation of the noise left in one coordinate of the velocity.
    """

    source: Source
    raw_cm: FloatArray
    velocity: FloatArray
    speed: FloatArray
    rate_hz: float
    noise_cm_s: float

    def second(self, sample: float) -> float:
        """Seconds of a sample, fractions allowed."""
        return float(sample / self.rate_hz)

    @property
    def last_s(self) -> float:
        """Seconds of the last sample."""
        return self.second(len(self.speed) - 1)


def mover_of(path_cm: FloatArray, source: Source, rate_hz: float) -> Mover:
    """Velocity by central differences of the filtered path; still where nothing was seen.

    Raises
    ------
    SwingRefused
        ``no_swing`` if the point is hardly ever seen.
    """
    seen = np.flatnonzero(np.isfinite(path_cm).all(axis=1))
    if len(seen) < FEWEST_SEEN:
        raise SwingRefused(f"the {source} is hardly ever seen in this capture", code="no_swing")
    first, last = int(seen[0]), int(seen[-1])
    inner = path_cm[first : last + 1]
    if not np.isfinite(inner).all():
        inner = _bridge(inner)
    whole = np.concatenate(
        [np.repeat(inner[:1], first, 0), inner, np.repeat(inner[-1:], len(path_cm) - 1 - last, 0)]
    )
    cutoff_hz = CUTOFF_HZ[source]
    smooth = low_pass(whole, rate_hz, cutoff_hz)
    velocity = np.gradient(smooth, 1.0 / rate_hz, axis=0)
    left_out = (whole - smooth)[first : last + 1]
    return Mover(
        source=source,
        raw_cm=whole,
        velocity=velocity,
        speed=np.sqrt(np.einsum("ij,ij->i", velocity, velocity)),
        rate_hz=rate_hz,
        noise_cm_s=rate_noise(left_out, rate_hz, cutoff_hz),
    )


def _bridge(path: FloatArray) -> FloatArray:
    """Straight lines over gaps too long to fill: a path to search events on, never to measure."""
    seen = np.isfinite(path).all(axis=1)
    samples = np.arange(len(path))
    return np.stack([np.interp(samples, samples[seen], path[seen, a]) for a in range(3)], axis=1)
