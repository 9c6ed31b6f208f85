"""Bands as they may leave the store: no number in them is a recognisable golfer's own.

The limits of a percentile's interval are order statistics, so each is the exact mean of one
golfer; with 5 golfers the median's limits are the two extreme golfers. Who is extreme is often
known at the academy. The rule: below 10 golfers every number, and from 10 on every limit that is
the smallest or largest golfer's, is rounded to a step of about a tenth of the intervals' width,
limits outward. An interval only becomes wider by it, so that its confidence still holds.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records import Bands, Cohort

ROUNDED_BELOW: Final = 10
"""Golfers below whom every number is rounded: twice the usual privacy minimum, our choice."""
STEPS_PER_WIDTH: Final = 10
SHOWN_RULE: Final = (
    f"below {ROUNDED_BELOW} golfers every number, and from {ROUNDED_BELOW} on every limit that is "
    "the smallest or largest golfer's own mean, is rounded to a step of about a tenth of the "
    "interval's width, limits outward"
)
"""As an edition and a page say it."""

FloatArray = NDArray[np.float64]


def published_bands(bands: Bands, cohort: Cohort) -> Bands:
    """Bands whose numbers are nobody's own.

    Parameters
    ----------
    bands : Bands
        Of the cohort, as computed.
    cohort : Cohort
        n golfers.

    Returns
    -------
    Bands
        Limits at or outside those given; NaN stays NaN.
    """
    n = len(cohort.golfers)
    curves = _published(
        bands.curve_cm, bands.curve_low_cm, bands.curve_high_cm, cohort.curves_cm, n, each=(0, 2)
    )
    columns = [cohort.feature_names.index(name) for name in bands.feature_names]
    features = _published(
        bands.feature,
        bands.feature_low,
        bands.feature_high,
        cohort.features[:, columns],
        bands.feature_golfers,
        each=(0,),
    )
    return Bands(
        percents=bands.percents,
        golfers=bands.golfers,
        swings=bands.swings,
        confidence=bands.confidence,
        curve_cm=curves[0],
        curve_low_cm=curves[1],
        curve_high_cm=curves[2],
        feature_names=bands.feature_names,
        feature_golfers=bands.feature_golfers,
        feature=features[0],
        feature_low=features[1],
        feature_high=features[2],
    )


def _published(
    value: FloatArray,
    low: FloatArray,
    high: FloatArray,
    means: FloatArray,
    golfers: int | FloatArray,
    *,
    each: tuple[int, ...],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rounded values and limits, shape (q, ...); one step for all entries along axes ``each``."""
    step = rounding_step(high - low, each)
    few = np.broadcast_to(np.asarray(golfers) < ROUNDED_BELOW, value.shape)
    smallest, largest = _extremes(means)
    return (
        np.where(few, np.round(value / step) * step, value),
        np.where(few | (low <= smallest), np.floor(low / step) * step, low),
        np.where(few | (high >= largest), np.ceil(high / step) * step, high),
    )


def _extremes(means: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Smallest and largest golfer of each column; infinite for a column without values."""
    present = ~np.isnan(means)
    return (
        np.min(np.where(present, means, np.inf), axis=0, initial=np.inf),
        np.max(np.where(present, means, -np.inf), axis=0, initial=-np.inf),
    )


def rounding_step(width: FloatArray, each: tuple[int, ...]) -> FloatArray:
    """A step of 1, 2 or 5 times a power of ten, at least a tenth of the mean width.

    Parameters
    ----------
    width : ndarray
        Of intervals, NaN where there is none.
    each : tuple of int
        Axes along which one step serves.

    Returns
    -------
    ndarray
        Shape of ``width`` with length 1 along ``each``.
    """
    known = np.where(np.isnan(width), 0.0, width)
    counted = np.count_nonzero(~np.isnan(width), axis=each, keepdims=True)
    mean = known.sum(axis=each, keepdims=True) / np.maximum(counted, 1)
    wanted = np.where(mean > 0, mean / STEPS_PER_WIDTH, 1.0)  # no width at all: any step serves
    decade = 10.0 ** np.floor(np.log10(wanted))
    multiple = np.select([wanted <= decade * m for m in (1.0, 2.0, 5.0)], [1.0, 2.0, 5.0], 10.0)
    step: FloatArray = multiple * decade
    return step
