"""What is read off fitted centiles: charts, places of single values, and a second opinion.

Letters as in `norms.records.centiles`.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records._arrays import FloatArray, frozen_array, set_field

IntArray = NDArray[np.int64]

CROSS_CHECK_PERCENTS: Final = (10.0, 50.0, 90.0)
"""Centiles that are held against quantile regression."""

AGREES_WITHIN: Final = 1.5
"""A gap from quantile regression is agreement up to this many times what sampling alone makes.

Where the model holds, one of the three gaps is larger in 5 of 100 cohorts of 80 golfers, and in
fewer of larger ones (200 simulated cohorts each).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CentileCrossCheck:
    """Fitted centiles held against quantile regression, which assumes no distribution.

    Attributes
    ----------
    golfers : int
        At supported handicaps, for whom both were read.
    percents : tuple of q floats
    gap_sd : tuple of q floats
        Root mean square distance between the two over golfers, in the golfers' standard
        deviations about the centiles.
    sampling_sd : tuple of q floats
        The distance that sampling golfers alone makes, where the model holds.
    """

    golfers: int
    percents: tuple[float, ...]
    gap_sd: tuple[float, ...]
    sampling_sd: tuple[float, ...]

    @property
    def agrees(self) -> bool:
        """Whether sampling golfers alone explains every gap."""
        pairs = zip(self.gap_sd, self.sampling_sd, strict=True)
        return all(gap <= AGREES_WITHIN * sampling for gap, sampling in pairs)


@dataclass(frozen=True, slots=True, kw_only=True)
class MedianHandicap:
    """A handicap whose median is a value in question.

    Attributes
    ----------
    handicap : float
    low, high : float
        Handicaps around it of which the median's interval holds the value, within those that
        golfers support.
    open_low, open_high : bool
        Whether that range is cut off by where support ends.
    """

    handicap: float
    low: float
    high: float
    open_low: bool
    open_high: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CentileChart:
    """Centiles read at chosen handicaps; NaN where golfers do not support them.

    Attributes
    ----------
    names : tuple of r str
    percents : tuple of q floats
    handicaps : ndarray, shape (h,)
    golfers : ndarray of int, shape (h,)
        Golfers near each handicap: to be shown beside the centiles.
    confidence : float
    value, low, high : ndarray, shape (r, q, h)
        Centile and its interval.
    """

    names: tuple[str, ...]
    percents: tuple[float, ...]
    handicaps: FloatArray
    golfers: IntArray
    confidence: float
    value: FloatArray
    low: FloatArray
    high: FloatArray

    def __post_init__(self) -> None:
        h = len(self.handicaps)
        set_field(self, "handicaps", frozen_array("handicaps", self.handicaps, (h,)))
        set_field(self, "golfers", frozen_array("golfers", self.golfers, (h,), dtype="int64"))
        shape = (len(self.names), len(self.percents), h)
        for name in ("value", "low", "high"):
            set_field(self, name, frozen_array(name, getattr(self, name), shape))


@dataclass(frozen=True, slots=True, kw_only=True)
class CentilePlace:
    """One value held against golfers of its handicap.

    Attributes
    ----------
    name : str
    value, handicap : float
    golfers : int
        Golfers near this handicap.
    z, z_error : float or None
        Standard normal score and its standard error; None where withheld.
    percentile, percentile_low, percentile_high : float or None
        0 to 100, with its interval.
    value_error : float or None
        Standard error of the value that ``z_error`` and the interval allow for besides few
        golfers; None where the value was taken as known.
    confidence : float
    withheld : str or None
        Why there is no score, and the nearest handicaps that have one.
    """

    name: str
    value: float
    handicap: float
    golfers: int
    confidence: float
    z: float | None = None
    z_error: float | None = None
    percentile: float | None = None
    percentile_low: float | None = None
    percentile_high: float | None = None
    value_error: float | None = None
    withheld: str | None = None
