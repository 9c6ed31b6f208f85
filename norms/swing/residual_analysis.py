"""A cutoff frequency from the capture itself, by Winter's residual analysis.

What a low-pass filter takes away is noise alone where the cutoff lies above the movement: there
the residual falls along a straight line, whose value at 0 Hz is the size of the noise. The
cutoff chosen leaves a residual of that size, so that as much movement is cut as noise is let
through. The noise is taken to be white.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from norms.records._arrays import FloatArray
from norms.swing.condition import low_pass

TAIL_RATE_SHARES: Final = (0.1, 0.3)
"""Band of cutoffs, as shares of the sampling rate, where the line of the noise is fitted."""
TAIL_LOWEST_HZ: Final = 15.0
"""No cutoff below this is taken to cut noise alone: pelvis movement in the downswing reaches
about 10 Hz (common practice)."""
LOWEST_HZ: Final = 2.0
GRID: Final = 40
FEWEST_SAMPLES: Final = 50


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ResidualAnalysis:
    """What residual analysis found.

    Attributes
    ----------
    cutoff_hz : float
        The largest of the coordinates' own cutoffs, so that no coordinate's movement is cut;
        where both passes together have gain 1/sqrt(2).
    coordinate_cutoff_hz : ndarray, shape (k,)
        NaN for a coordinate without noise.
    noise_sd : ndarray, shape (k,)
        Intercept of the line, in the unit of the samples: the noise of a raw sample, about 3 %
        too low for white noise.
    cutoffs_hz : ndarray, shape (f,)
    residual : ndarray, shape (f, k)
        Root mean square of raw minus filtered, to be shown beside the choice.
    """

    cutoff_hz: float
    coordinate_cutoff_hz: FloatArray
    noise_sd: FloatArray
    cutoffs_hz: FloatArray
    residual: FloatArray


def choose_cutoff(
    samples: FloatArray, rate_hz: float, tail_hz: tuple[float, float] | None = None
) -> ResidualAnalysis:
    """Choose the cutoff of the dual-pass filter of ``norms.swing.condition``.

    Parameters
    ----------
    samples : ndarray, shape (t, k)
        Finite coordinates over time, one column each, before filtering.
    rate_hz : float
    tail_hz : tuple of 2 floats, optional
        Cutoffs between which the residual is noise alone; by default a tenth to three tenths of
        the rate, from 15 Hz on.

    Returns
    -------
    ResidualAnalysis

    Raises
    ------
    ValueError
        If a sample is not finite, there are fewer than 50, or the rate is too low to leave a
        band of noise above the movement.

    Notes
    -----
    Winter, Biomechanics and Motor Control of Human Movement, residual analysis.
    """
    values = np.asarray(samples, dtype=np.float64)
    if values.ndim != 2 or len(values) < FEWEST_SAMPLES or not np.isfinite(values).all():
        raise ValueError(
            f"samples: shape {values.shape} where {FEWEST_SAMPLES} or more finite samples of "
            "k coordinates are needed"
        )
    tail = tail_hz or _default_tail(rate_hz)
    grid = np.unique(
        np.concatenate([np.geomspace(LOWEST_HZ, tail[0], GRID), np.linspace(*tail, GRID // 4)])
    )
    residual = residual_rms(values, rate_hz, grid)
    in_tail = grid >= tail[0]
    intercept = np.polyfit(grid[in_tail], residual[in_tail], 1)[1]
    own = np.array(
        [
            _crossing(grid, column, level)
            for column, level in zip(residual.T, intercept, strict=True)
        ]
    )
    known = np.isfinite(own)
    return ResidualAnalysis(
        cutoff_hz=float(own[known].max()) if known.any() else float(grid[-1]),
        coordinate_cutoff_hz=own,
        noise_sd=np.maximum(intercept, 0.0),
        cutoffs_hz=grid,
        residual=residual,
    )


def residual_rms(samples: FloatArray, rate_hz: float, cutoffs_hz: FloatArray) -> FloatArray:
    """Root mean square of raw minus filtered, for each cutoff.

    Parameters
    ----------
    samples : ndarray, shape (t, k)
    rate_hz : float
    cutoffs_hz : ndarray, shape (f,)

    Returns
    -------
    ndarray, shape (f, k)
    """
    squares = [
        ((samples - low_pass(samples, rate_hz, float(cutoff))) ** 2).mean(axis=0)
        for cutoff in cutoffs_hz
    ]
    return np.asarray(np.sqrt(squares))


def _default_tail(rate_hz: float) -> tuple[float, float]:
    low, high = (share * rate_hz for share in TAIL_RATE_SHARES)
    low = max(low, TAIL_LOWEST_HZ)
    if high < 1.1 * low:
        raise ValueError(
            f"rate_hz: {rate_hz:g} leaves no band of noise above {low:g} Hz; state the cutoff"
        )
    return low, high


def _crossing(grid: FloatArray, residual: FloatArray, level: float) -> float:
    """Lowest cutoff whose residual is no larger than ``level``, interpolated."""
    if level <= 0:
        return np.nan
    above = np.flatnonzero(residual > level)
    if len(above) == 0:
        return float(grid[0])
    last = int(above[-1])
    if last + 1 == len(grid):
        return float(grid[-1])
    share = (residual[last] - level) / (residual[last] - residual[last + 1])
    return float(grid[last] + share * (grid[last + 1] - grid[last]))
