"""How well position and rate are known after the filter: noise that passes, motion that does not.

The noise that passes follows from the filter's gain, for noise that is white. The motion that the
filter takes off is estimated by filtering once more: what a second run takes off the smoothed
motion is, to first order, what the first took off the true one (Tukey's twicing).
"""

from functools import lru_cache
from typing import Final

import numpy as np

from norms.records import FilterFacts, FloatArray
from norms.swing.condition import design_cutoff, low_pass, usable_cutoff

GRID: Final = 4096
MEDIAN_LENGTH: Final = 1.5381722544550522
"""Median length of three coordinates, each normal of mean zero and sd one (chi distribution)."""
MAD_TO_SD: Final = 1.4826
"""Median absolute value to standard deviation, for a normal distribution of mean zero."""


@lru_cache(maxsize=64)
def noise_gains(cutoff_hz: float, rate_hz: float) -> tuple[float, float, float]:
    """What the dual-pass filter makes of white noise of sd 1 in the samples.

    Parameters
    ----------
    cutoff_hz, rate_hz : float

    Returns
    -------
    position : float
        Sd that is left in position.
    rate : float
        Sd of its derivative, per second.
    removed : float
        Sd of raw minus filtered.

    Notes
    -----
    Root mean squares of the gain, of the gain times 2 pi f, and of 1 minus the gain, over the
    frequencies from 0 to half the rate.
    """
    frequency = (np.arange(GRID) + 0.5) / GRID * rate_hz / 2.0
    warped = np.tan(np.pi * frequency / rate_hz) / np.tan(
        np.pi * design_cutoff(cutoff_hz, rate_hz) / rate_hz
    )
    gain = 1.0 / (1.0 + warped**4)
    derivative = 2.0 * np.pi * frequency * gain
    position, rate, removed = (
        float(np.sqrt(np.mean(part**2))) for part in (gain, derivative, 1.0 - gain)
    )
    return position, rate, removed


def rate_noise(left_out_cm: FloatArray, rate_hz: float, cutoff_hz: float) -> float:
    """Sd of the noise left in one coordinate of the velocity, cm/s, whichever way the axes lie.

    Parameters
    ----------
    left_out_cm : ndarray, shape (t, 3)
        What the filter took off the samples.
    rate_hz, cutoff_hz : float
    """
    _, rate, removed = noise_gains(usable_cutoff(cutoff_hz, rate_hz), rate_hz)
    length = np.sqrt(np.einsum("ta,ta->t", left_out_cm, left_out_cm))
    return rate / removed * float(np.median(length)) / MEDIAN_LENGTH


def filter_facts(
    raw_cm: FloatArray,
    smooth_cm: FloatArray,
    rate_hz: float,
    cutoff_hz: float,
    *,
    method: str,
    within: slice,
) -> FilterFacts:
    """Noise before and after the filter, and the rate that it took off the motion.

    Parameters
    ----------
    raw_cm, smooth_cm : ndarray, shape (t, 3)
        Before and after ``low_pass`` at ``cutoff_hz``.
    rate_hz, cutoff_hz : float
    method : str
        How the cutoff came about.
    within : slice
        Samples from start to finish.

    Returns
    -------
    FilterFacts

    Notes
    -----
    The noise is the robust sd of raw minus smooth, over the share of white noise that the filter
    removes; motion that the filter takes off counts as noise, so that it errs on the large side.
    """
    cutoff = usable_cutoff(cutoff_hz, rate_hz)
    position, rate, removed = noise_gains(cutoff, rate_hz)
    noise = MAD_TO_SD * np.median(np.abs(raw_cm - smooth_cm), axis=0) / removed
    taken_off = smooth_cm - low_pass(smooth_cm, rate_hz, cutoff_hz)
    bias = np.abs(np.gradient(taken_off, 1.0 / rate_hz, axis=0))[within].max(axis=0)
    return FilterFacts(
        cutoff_hz=cutoff,
        cutoff_method=method if cutoff == cutoff_hz else "lowered",
        noise_sd_cm=noise,
        position_sd_cm=position * noise,
        rate_sd_cm_s=rate * noise,
        rate_bias_cm_s=bias,
    )
