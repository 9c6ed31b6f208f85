"""The signed map's quantities: how far a curve is from another, axis by axis, phase by phase."""

from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from norms.vocabulary import AXES, EVENT_NODES, PHASES

FloatArray = NDArray[np.float64]

PARTS: Final[tuple[tuple[str, str], ...]] = tuple(
    (axis, phase) for axis in AXES for phase in PHASES
)
QUANTITIES: Final[tuple[str, ...]] = (
    *(f"distance {axis} {phase}" for axis, phase in PARTS),
    *(f"signed {axis} {phase}" for axis, phase in PARTS),
    "overall",
)
"""Names of what `quantities_of` returns."""

_BOUNDARIES: Final = tuple(EVENT_NODES.values())


class ProfileParts(NamedTuple):
    """Distances in cm, arrays of shape (..., 9) in the order of ``PARTS``."""

    distance: FloatArray
    signed: FloatArray

    @property
    def shape(self) -> FloatArray:
        """What is left of the distance without the mean difference."""
        left: FloatArray = np.sqrt(np.maximum(self.distance**2 - self.signed**2, 0.0))
        return left

    @property
    def overall(self) -> FloatArray:
        """Root mean square of the nine distances, shape (...)."""
        return overall_deviation(self.distance)


def overall_deviation(distances: FloatArray) -> FloatArray:
    """Root of the mean square of the parts, shape (..., parts) to (...).

    Not their mean: with N parts of T nodes each, N T overall^2 is then the squared distance of
    the whole curves.

    References
    ----------
    Baker et al. (2009), Gait Posture 30:265.
    """
    overall: FloatArray = np.sqrt(np.mean(np.square(distances), axis=-1))
    return overall


def parts_of(departures_cm: FloatArray) -> ProfileParts:
    """Distances of curves from a reference.

    Parameters
    ----------
    departures_cm : ndarray, shape (..., 3, 301)
        Curve minus reference. The node where two phases meet belongs to both.
    """
    phases = [departures_cm[..., first : last + 1] for first, last in pairwise(_BOUNDARIES)]
    shape = (*departures_cm.shape[:-2], len(PARTS))
    distance = np.stack([np.sqrt((phase**2).mean(axis=-1)) for phase in phases], axis=-1)
    signed = np.stack([phase.mean(axis=-1) for phase in phases], axis=-1)
    return ProfileParts(distance=distance.reshape(shape), signed=signed.reshape(shape))


def quantities_of(departures_cm: FloatArray) -> FloatArray:
    """Everything that the signed map shows, shape (..., 19), in the order of ``QUANTITIES``."""
    parts = parts_of(departures_cm)
    return np.concatenate([parts.distance, parts.signed, parts.overall[..., None]], axis=-1)


def deviation_index(overall_cm: float, log_mean: float, log_sd: float) -> float:
    """Overall deviation as an index: 100 is usual, and each 10 below is one spread of the log.

    Parameters
    ----------
    overall_cm : float
        Above 0.
    log_mean, log_sd : float
        Of the natural logarithm of the peers' overall deviations.

    References
    ----------
    Schwartz and Rozumalski (2008), Gait Posture 28:351; Baker et al. (2009), Gait Posture 30:265.
    """
    return float(100.0 - 10.0 * (np.log(overall_cm) - log_mean) / log_sd)
