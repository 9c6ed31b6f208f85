"""What an error of measurement means: the smallest change, and spread within over between."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

FloatArray = NDArray[np.float64]


def smallest_detectable_change(error: ArrayLike, confidence: float = 0.95) -> FloatArray:
    """Smallest difference of two measurements that chance explains too rarely.

    Parameters
    ----------
    error : array_like
        Standard error of either measurement.
    confidence : float
        0.95 gives 1.96 · √2 · error.
    """
    return np.asarray(special.ndtri((1 + confidence) / 2) * np.sqrt(2) * np.asarray(error))


def individuality_index(within_sd: ArrayLike, between_sd: ArrayLike) -> FloatArray:
    """Spread of one person's measurements over the spread between people, an SD ratio.

    A low index means that people keep to themselves: a person's change can be large for that
    person and still lie inside the group's limits. Harris 1974 (Clin Chem 20:1535) put the marks
    at 0.6 and 1.4 (from memory). Infinite where people do not differ.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.divide(within_sd, between_sd))
