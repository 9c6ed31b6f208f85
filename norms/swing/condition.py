"""Points made ready for measuring: gaps filled where that is honest, noise taken off.

Filling is by a cubic fitted to the samples on both sides of a gap, never beyond a stated longest
gap and never past the first or last sample seen. The filter is a dual-pass Butterworth of second
order each way, its cutoff corrected for the second pass.
"""

from functools import lru_cache
from typing import Final

import numpy as np
from scipy.signal import butter, filtfilt

from norms.records import BoolArray, FloatArray

ORDER_PER_PASS: Final = 2
FEWEST_BESIDE_GAP: Final = 6
HIGHEST_NYQUIST_SHARE: Final = 0.8
"""A cutoff above this share of the Nyquist frequency is lowered to it: beyond, a filter's gain
is set by the warping of the frequency axis rather than by the cutoff."""


def seen_samples(points: FloatArray) -> BoolArray:
    """Which samples are finite in every coordinate; shape (t,) from (t, ...)."""
    return np.asarray(np.isfinite(points).all(axis=tuple(range(1, points.ndim))))


def gap_lengths(seen: BoolArray) -> list[tuple[int, int]]:
    """Runs of unseen samples as (first, one past last).

    Parameters
    ----------
    seen : ndarray of bool, shape (t,)
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([True], seen, [True])).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def fill_gaps(path_cm: FloatArray, longest_samples: int) -> tuple[FloatArray, BoolArray]:
    """Fill inner gaps no longer than ``longest_samples``.

    Parameters
    ----------
    path_cm : ndarray, shape (t, 3)
        NaN in any coordinate means that the point was not seen.
    longest_samples : int

    Returns
    -------
    filled : ndarray, shape (t, 3)
        NaN remains in gaps that are too long and before the first or after the last sample seen.
    was_filled : ndarray of bool, shape (t,)
    """
    seen = seen_samples(path_cm)
    was_filled = np.zeros(len(seen), dtype=bool)
    if seen.all():
        return path_cm, was_filled
    if seen.sum() < 4:
        return np.where(seen[:, None], path_cm, np.nan), was_filled
    for first, end in gap_lengths(seen):
        if first > 0 and end < len(seen) and end - first <= longest_samples:
            was_filled[first:end] = True
    filled = np.where(seen[:, None], path_cm, np.nan)
    for first, end in gap_lengths(~was_filled):
        filled[first:end] = _across(path_cm, seen, first, end)
    return filled, was_filled


def _across(path_cm: FloatArray, seen: BoolArray, first: int, end: int) -> FloatArray:
    """Least-squares cubic over a gap, from as many samples on either side as the gap is long.

    A fit to several samples, unlike an interpolating spline, does not carry the noise of the
    two samples at the brink into the gap as a slope.
    """
    reach = max(FEWEST_BESIDE_GAP, end - first)
    around = np.arange(max(0, first - reach), min(len(seen), end + reach))
    beside = around[seen[around]]
    middle, half = (first + end - 1) / 2.0, (len(around) + 1) / 2.0
    powers = np.vander((beside - middle) / half, 4)
    coefficients, *_ = np.linalg.lstsq(powers, path_cm[beside], rcond=None)
    inside = (np.arange(first, end) - middle) / half
    return np.asarray(np.vander(inside, 4) @ coefficients)


def cutoff_correction(passes: int = 2, order: int = ORDER_PER_PASS) -> float:
    """Factor by which a cutoff shrinks when a filter runs several times.

    Parameters
    ----------
    passes : int
    order : int
        Order of one pass.

    Returns
    -------
    float
        ``(2**(1/passes) - 1)**(1/(2 order))``; 0.802243 for two passes of second order.

    Notes
    -----
    Winter, Biomechanics and Motor Control of Human Movement.
    """
    return float((2.0 ** (1.0 / passes) - 1.0) ** (1.0 / (2.0 * order)))


def design_cutoff(cutoff_hz: float, rate_hz: float) -> float:
    """Cutoff of one pass such that both passes together have gain 1/sqrt(2) at ``cutoff_hz``.

    Corrected on the warped frequency axis of the bilinear transform, so that it is exact near
    the Nyquist frequency too (Robertson & Dowling 2003, J Electromyogr Kinesiol 13:569).
    """
    warped = np.tan(np.pi * cutoff_hz / rate_hz) / cutoff_correction()
    return float(rate_hz / np.pi * np.arctan(warped))


def usable_cutoff(cutoff_hz: float, rate_hz: float) -> float:
    """The cutoff, lowered to ``HIGHEST_NYQUIST_SHARE`` of the Nyquist frequency where above."""
    return min(cutoff_hz, HIGHEST_NYQUIST_SHARE * rate_hz / 2.0)


@lru_cache(maxsize=64)
def _coefficients(cutoff_hz: float, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    b, a = butter(ORDER_PER_PASS, design_cutoff(cutoff_hz, rate_hz), fs=rate_hz)
    return b, a


def low_pass(
    values: FloatArray, rate_hz: float, cutoff_hz: float, *, pad_samples: int | None = None
) -> FloatArray:
    """Dual-pass Butterworth filter along the first dimension.

    Parameters
    ----------
    values : ndarray, shape (t, ...)
        Finite values.
    rate_hz, cutoff_hz : float
        The gain at ``cutoff_hz`` is 1/sqrt(2) after both passes.
    pad_samples : int, optional
        Samples added at either end by point reflection, so that the ends are not bent; by
        default two periods of the cutoff, at most all but one sample.

    Returns
    -------
    ndarray, shape (t, ...)
    """
    cutoff = usable_cutoff(cutoff_hz, rate_hz)
    if pad_samples is None:
        pad_samples = int(np.ceil(4.0 * rate_hz / cutoff))
    b, a = _coefficients(cutoff, rate_hz)
    return np.asarray(
        filtfilt(b, a, values, axis=0, padtype="odd", padlen=min(pad_samples, len(values) - 1))
    )
