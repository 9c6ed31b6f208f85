"""Rules that say whether two groups may share reference limits."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

FloatArray = NDArray[np.float64]

HARRIS_BOYD_SD_RATIO: Final = 1.5
"""Harris and Boyd (1990), Clin. Chem. 36:265 (from memory)."""

ACTING_ON_ABOVE: Final = 0.041
SHARING_UP_TO: Final = 0.032
"""Lahti et al. (2002), Clin. Chem. 48:338: 4.1 % outside a limit justifies partitioning, 3.2 %
combining (abstract)."""
ACTING_ON_BELOW: Final = 0.009
SHARING_FROM: Final = 0.018
"""Lahti et al. (2004), Clin. Chem. 50:891: the counterparts for the group with too few outside
(from memory)."""

SMALLEST_DIFFERENCE_SD: Final = 3 * (2 / 120) ** 0.5
"""Harris-Boyd's critical difference of two means in standard deviations, with groups of one size:
z = d sqrt(n / 2) against 3 sqrt(n / 120) leaves d = 0.387 at every n."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HarrisBoyd:
    """Difference of means, and of spreads, against Harris and Boyd's limits.

    Attributes
    ----------
    means, sds : tuple of 2 floats
    z, z_critical : float
        Partition where z exceeds 3 sqrt((n1 + n2) / 240).
    sd_ratio : float
        Larger over smaller standard deviation; partition where it exceeds 1.5.
    """

    means: tuple[float, float]
    sds: tuple[float, float]
    z: float
    z_critical: float
    sd_ratio: float

    @property
    def by_mean(self) -> bool:
        """Whether the means alone ask for partitioning."""
        return self.z > self.z_critical

    @property
    def by_sd(self) -> bool:
        """Whether the spreads alone ask for partitioning."""
        return self.sd_ratio > HARRIS_BOYD_SD_RATIO


def harris_boyd(first: FloatArray, second: FloatArray, *, paired: bool = False) -> HarrisBoyd:
    """Harris and Boyd's criteria for two groups of values.

    Parameters
    ----------
    first, second : ndarray, shape (n1,) and (n2,)
        One value per golfer, on a scale on which they are near normal.
    paired : bool
        True where entry i of both is the same golfer: z then uses the spread of the differences.

    Raises
    ------
    ValueError
        With fewer than 2 values in a group.

    References
    ----------
    Harris and Boyd (1990), Clin. Chem. 36:265.
    """
    difference, error, _ = _difference(first, second, paired=paired)
    means = float(np.mean(first)), float(np.mean(second))
    sds = float(np.std(first, ddof=1)), float(np.std(second, ddof=1))
    return HarrisBoyd(
        means=means,
        sds=sds,
        z=float(_ratio(abs(difference), error)),
        z_critical=3 * ((len(first) + len(second)) / 240) ** 0.5,
        sd_ratio=_ratio(max(sds), min(sds)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ProportionsOutside:
    """Share of each group beyond the common limits.

    Attributes
    ----------
    limits : tuple of 2 floats
        The 2.5th and 97.5th percentile of both groups together (Hyndman and Fan's type 6).
    below, above : tuple of 2 floats
        Share of the first and of the second group below the lower, above the upper limit.
    verdict : {"partition", "combine", "marginal"}
    """

    limits: tuple[float, float]
    below: tuple[float, float]
    above: tuple[float, float]
    verdict: Literal["partition", "combine", "marginal"]


def proportions_outside(first: FloatArray, second: FloatArray) -> ProportionsOutside:
    """Lahti's criteria: how much of each group lies beyond the common reference limits.

    2.5 % is meant to lie beyond each limit. Partition where any share is at least 4.1 % or at most
    0.9 %, combine where all are between 1.8 and 3.2 %, else marginal. The shares of small groups
    jump in steps of 1/n (0.8 percentage points at 120 golfers), so the verdict needs a test beside
    it before it may decide.

    Parameters
    ----------
    first, second : ndarray, shape (n1,) and (n2,)
        Both groups weigh by their size, as sampled.

    Raises
    ------
    ValueError
        With an empty group.

    References
    ----------
    Lahti et al. (2002), Clin. Chem. 48:338; (2004), Clin. Chem. 50:891.
    """
    if min(len(first), len(second)) == 0:
        raise ValueError("groups: each needs at least one golfer")
    low, high = np.quantile(np.concatenate([first, second]), [0.025, 0.975], method="weibull")
    # A limit often is one of the values; rounding must not put that value beyond itself.
    rounding = 1e-12 * max(abs(low), abs(high))
    below = _pair(np.mean(group < low - rounding) for group in (first, second))
    above = _pair(np.mean(group > high + rounding) for group in (first, second))
    return ProportionsOutside(
        limits=(float(low), float(high)),
        below=below,
        above=above,
        verdict=_verdict(np.array([*below, *above])),
    )


def _verdict(shares: FloatArray) -> Literal["partition", "combine", "marginal"]:
    if ((shares >= ACTING_ON_ABOVE) | (shares <= ACTING_ON_BELOW)).any():
        return "partition"
    if ((shares >= SHARING_FROM) & (shares <= SHARING_UP_TO)).all():
        return "combine"
    return "marginal"


def mean_p_value(first: FloatArray, second: FloatArray, *, paired: bool = False) -> float:
    """Two-sided p value of a difference of means: Welch's t, or the paired t."""
    difference, error, freedom = _difference(first, second, paired=paired)
    return float(2 * special.stdtr(freedom, -_ratio(abs(difference), error)))


def spread_p_value(first: FloatArray, second: FloatArray, *, paired: bool = False) -> float:
    """Two-sided p value of a difference of spreads: t on absolute deviations from the medians.

    For two groups this is Brown and Forsythe's test (1974, J. Am. Stat. Assoc. 69:364) with
    Welch's variance; for pairs, its counterpart on the same golfers.
    """
    return mean_p_value(
        np.abs(first - np.median(first)), np.abs(second - np.median(second)), paired=paired
    )


def standardised_difference(
    first: FloatArray,
    second: FloatArray,
    *,
    paired: bool = False,
    smallest_sd: float = 0.0,
    confidence: float = 0.90,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Difference of means over the groups' common standard deviation, with an interval.

    Groups whose 90 % interval lies within +/- `SMALLEST_DIFFERENCE_SD` are shown to be near enough
    at the 5 % level (two one-sided tests: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657).

    Parameters
    ----------
    first, second : ndarray, shape (n1, ...) and (n2, ...)
    paired : bool
    smallest_sd : float
        Floor of the standard deviation divided by, e.g. the laboratory's noise.
    confidence : float

    Returns
    -------
    difference, low, high : ndarray, shape (...)
        In standard deviations, root mean square of both groups'; NaN where that is zero.
    """
    difference, error, freedom = _difference(first, second, paired=paired)
    sd = np.sqrt((np.var(first, axis=0, ddof=1) + np.var(second, axis=0, ddof=1)) / 2)
    sd = np.maximum(sd, smallest_sd)
    reach = special.stdtrit(freedom, (1 + confidence) / 2) * error
    with np.errstate(invalid="ignore", divide="ignore"):
        return difference / sd, (difference - reach) / sd, (difference + reach) / sd


def _difference(
    first: FloatArray, second: FloatArray, *, paired: bool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Difference of means, its standard error and its degrees of freedom (Welch's, or n - 1)."""
    if min(len(first), len(second)) < 2:
        raise ValueError(f"groups: {len(first)} and {len(second)} values, each needs 2")
    if paired:
        steps = first - second
        error = np.std(steps, axis=0, ddof=1) / np.sqrt(len(steps))
        return np.mean(steps, axis=0), error, np.full_like(error, len(steps) - 1)
    parts = [np.var(group, axis=0, ddof=1) / len(group) for group in (first, second)]
    variance = parts[0] + parts[1]
    with np.errstate(invalid="ignore", divide="ignore"):
        freedom = variance**2 / (
            parts[0] ** 2 / (len(first) - 1) + parts[1] ** 2 / (len(second) - 1)
        )
    freedom = np.where(variance > 0, freedom, 1.0)
    return np.mean(first, axis=0) - np.mean(second, axis=0), np.sqrt(variance), freedom


def _ratio(above: float | FloatArray, below: float | FloatArray) -> float:
    """Quotient of two non-negative numbers: 0/0 is 0 (no difference), x/0 infinite."""
    if above == 0:
        return 0.0
    return float(above / below) if below > 0 else float("inf")


def _pair(shares: Iterable[float]) -> tuple[float, float]:
    first, second = (float(share) for share in shares)
    return first, second
