"""Bands that hold whole curves of new golfers, by leaving each golfer out in turn."""

from math import ceil
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from norms.cohort.bands import BAND_OF
from norms.errors import CohortRefused
from norms.records import Cohort
from norms.records.whole_curve import WholeCurveBands
from norms.vocabulary import AXES

FloatArray = NDArray[np.float64]

METHOD: Final = (
    "largest deviation of each golfer's curve from the mean of the others, in the others' standard "
    "deviation; the band's factor is the ceil((n + 1) level)-th smallest of them"
)
_BLOCK: Final = 512
"""Golfers held against the others at a time, so that memory stays near that of the curves."""


def build_whole_curve_bands(
    cohort: Cohort, *, noise_cm: float, level: float = 0.90
) -> WholeCurveBands:
    """Simultaneous prediction bands of a cohort, per axis and for the three axes jointly.

    Each golfer is held against the mean and the spread of all others. A new golfer's largest
    deviation ranks among the n values so obtained like one more of them, so that the
    ceil((n + 1) level)-th smallest is exceeded by a share of at most 1 - level (conformal
    prediction; the jackknife's small excess of width, from n - 1 golfers standing in for n, errs
    on the safe side). No shape of the distribution and no smoothness of the curves is assumed,
    and nothing periodic.

    Parameters
    ----------
    cohort : Cohort
    noise_cm : float
        The lab's noise, the floor of the spread, above 0.
    level : float
        Share of whole curves to hold.

    Raises
    ------
    CohortRefused
        If the cohort has too few golfers for the level (9 for 0.90), or noise or level are not
        allowed values.

    References
    ----------
    Barber et al. (2021), Ann. Stat. 49:486 (jackknife); Diquigiovanni, Fontana and Vantini (2022),
    J. Multivar. Anal. 189:104879 (conformal bands of functions); Vovk (2012), ACML: with n
    golfers the share truly held is close to Beta(k, n + 1 - k) distributed.
    """
    _check_choices(noise_cm, level)
    n = len(cohort.golfers)
    rank = ceil((n + 1) * level - 1e-9)
    if rank > n or n < 3:
        raise CohortRefused(
            f"{cohort.definition.label}: {n} golfers are too few for a {100 * level:g} % "
            f"whole-curve band; {golfers_for_whole_curves(level)} are needed",
            code="too_few_golfers",
        )
    maxima = leave_one_out_maxima(cohort.curves_cm, noise_cm)
    factors = np.sort(maxima, axis=0)[rank - 1]
    joint = np.sort(maxima.max(axis=1))[rank - 1]
    share_low, share_high = special.betaincinv(rank, n + 1 - rank, [0.05, 0.95])
    return WholeCurveBands(
        level=level,
        golfers=n,
        swings=int(cohort.swing_counts.sum()),
        mean_cm=cohort.curves_cm.mean(axis=0),
        sd_cm=np.maximum(cohort.curves_cm.std(axis=0, ddof=1), noise_cm),
        floor_cm=noise_cm,
        axis_factors=factors,
        joint_factor=float(joint),
        share_low=float(share_low),
        share_high=float(share_high),
        method=METHOD,
        band_of=BAND_OF,
    )


def golfers_for_whole_curves(level: float = 0.90) -> int:
    """Fewest golfers at which the band of this level exists, at least 3."""
    return max(3, ceil(level / (1 - level) - 1e-9))


def leave_one_out_maxima(curves_cm: FloatArray, floor_cm: float) -> FloatArray:
    """Largest deviation of each golfer from the others, by axis, in the others' spread.

    With n golfers, mean m and sum of squares S about it, golfer i's departure e from m is
    n e / (n - 1) from the others' mean, and the others' variance is
    (S - n e^2 / (n - 1)) / (n - 2): two passes over the curves serve all golfers.

    Parameters
    ----------
    curves_cm : ndarray, shape (n, 3, 301)
    floor_cm : float
        Smallest standard deviation divided by.

    Returns
    -------
    maxima : ndarray, shape (n, 3)
    """
    n = len(curves_cm)
    mean = curves_cm.mean(axis=0)
    squares = curves_cm.var(axis=0) * n
    maxima = np.empty((n, len(AXES)))
    for first in range(0, n, _BLOCK):
        departure = np.abs(curves_cm[first : first + _BLOCK] - mean)
        variance = (squares - departure**2 * (n / (n - 1))) / (n - 2)
        # Rounding may leave a variance just below 0 where the others agree.
        spread = np.maximum(np.sqrt(np.maximum(variance, 0.0)), floor_cm)
        maxima[first : first + _BLOCK] = (departure * (n / (n - 1)) / spread).max(axis=-1)
    return maxima


def _check_choices(noise_cm: float, level: float) -> None:
    if not 0 < noise_cm < float("inf"):
        raise CohortRefused(
            f"noise {noise_cm} cm: a positive floor is needed, because every curve is zero at the "
            "start; give the lab's own noise (a marker system's is about 0.1 cm)",
            code="noise",
        )
    if not 0.5 <= level < 1:
        raise CohortRefused(f"level {level}: allowed is 0.5 to below 1; 0.9 is usual", code="level")
