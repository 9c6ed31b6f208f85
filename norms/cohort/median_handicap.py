"""Given a value: the handicap whose median it is, and how sure."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from norms.cohort.centile_support import supported_ranges
from norms.cohort.centiles import centile_chart
from norms.records.centile_readings import MedianHandicap
from norms.records.centiles import Centiles

FloatArray = NDArray[np.float64]

_STEP = 0.25
"""Handicap step within which a median is looked for once."""


def handicaps_with_median(
    centiles: Centiles, value: float, *, covariates: ArrayLike = (), confidence: float = 0.90
) -> tuple[MedianHandicap, ...]:
    """Handicaps whose median is this value, rising; empty where there is none in support.

    A median that turns is met more than once: all meetings are given, for a page to show. The
    range about a meeting is that of handicaps whose median's own interval holds the value.

    Parameters
    ----------
    centiles : Centiles
        Of one response.
    value : float
        In the response's own unit.
    covariates : array_like, shape (g,)
    confidence : float

    Returns
    -------
    tuple of MedianHandicap
    """
    row = np.atleast_1d(np.asarray(covariates, dtype=np.float64))

    def median_less_value(handicap: float) -> float:
        chart = centile_chart(centiles, [handicap], covariates=row, percents=(50.0,))
        return float(chart.value[0, 0, 0]) - value

    met: list[MedianHandicap] = []
    for low, high in supported_ranges(centiles.support, row):
        grid = np.linspace(low, high, round((high - low) / _STEP) + 1)
        chart = centile_chart(
            centiles, grid, covariates=row, percents=(50.0,), confidence=confidence
        )
        held = (chart.low[0, 0] <= value) & (value <= chart.high[0, 0])
        gap = chart.value[0, 0] - value
        turns = np.flatnonzero(gap[:-1] * gap[1:] < 0.0)
        found = [float(h) for h in grid[gap == 0.0]]
        found += [float(brentq(median_less_value, grid[at], grid[at + 1])) for at in turns]
        met += [_with_range(handicap, grid, held) for handicap in sorted(found)]
    return tuple(met)


def _with_range(handicap: float, grid: FloatArray, held: NDArray[np.bool_]) -> MedianHandicap:
    """The meeting with the unbroken run of the grid about it that is held."""
    first = last = int(np.abs(grid - handicap).argmin())
    while first > 0 and held[first - 1]:
        first -= 1
    while last < len(grid) - 1 and held[last + 1]:
        last += 1
    return MedianHandicap(
        handicap=handicap,
        low=min(float(grid[first]), handicap),
        high=max(float(grid[last]), handicap),
        open_low=bool(held[0]) and first == 0,
        open_high=bool(held[-1]) and last == len(grid) - 1,
    )
