"""The smallest effect that a design could have found."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

FloatArray = NDArray[np.float64]


def smallest_detectable(
    standard_error: ArrayLike, freedom: ArrayLike, *, level: float = 0.05, power: float = 0.80
) -> FloatArray:
    """Effect that a two-sided t test of this standard error finds with the stated power.

    Parameters
    ----------
    standard_error, freedom : array_like, shape (c,)
    level : float
        Chance of a false positive.
    power : float
        Chance of finding an effect of this size.

    Returns
    -------
    ndarray, shape (c,)
        In the unit of the standard error; (t(1 - level/2) + t(power)) SE, which is within 1 % of
        the noncentral t distribution's answer from 10 degrees of freedom on (Bloom 1995,
        Evaluation Review 19:547).
    """
    df = np.asarray(freedom, dtype=np.float64)
    reach = stats.t.ppf(1.0 - level / 2.0, df) + stats.t.ppf(power, df)
    return np.asarray(reach * np.asarray(standard_error, dtype=np.float64), dtype=np.float64)
