"""What stands between a motion and its record: sampling, noise, soft tissue, gaps."""

import numpy as np

from norms.synthetic.parameters import SwingParameters
from norms.synthetic.steps import FloatArray


def capture_times(swing: SwingParameters, rate_hz: float) -> FloatArray:
    """Seconds of the samples of a capture that covers the whole swing, from 0, shape (t,)."""
    return np.arange(int(swing.end_s * rate_hz) + 1) / rate_hz


def white_noise(rng: np.random.Generator, shape: tuple[int, ...], sd: float) -> FloatArray:
    """Independent normal errors of standard deviation ``sd``, in its unit."""
    return sd * rng.standard_normal(shape)


def slow_wander(
    rng: np.random.Generator, times_s: FloatArray, columns: int, sd: float
) -> FloatArray:
    """Slow error, such as skin sliding over bone: four sines of 0.3 to 2 Hz.

    Parameters
    ----------
    rng : numpy.random.Generator
    times_s : ndarray, shape (t,)
    columns : int
        Independent errors wanted.
    sd : float
        Standard deviation over time and repetitions.

    Returns
    -------
    ndarray, shape (t, columns)
    """
    waves = 4
    hz = rng.uniform(0.3, 2.0, (waves, columns))
    phase = rng.uniform(0.0, 2 * np.pi, (waves, columns))
    angles = 2 * np.pi * hz * times_s[:, None, None] + phase
    return np.asarray(sd * np.sqrt(2 / waves) * np.sin(angles).sum(axis=1))


def with_gap(path: FloatArray, first: int, samples: int) -> FloatArray:
    """Copy of a path, shape (t, 3), unseen (NaN) for ``samples`` samples from ``first``."""
    gapped = path.copy()
    gapped[first : first + samples] = np.nan
    return gapped
