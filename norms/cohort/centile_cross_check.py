"""A second opinion on fitted centiles that assumes no distribution: quantile regression."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from norms.cohort.centiles import centile_chart
from norms.records.centiles import Centiles
from norms.statistics.quantile_regression import fit_quantile, rearrange
from norms.statistics.splines import SplineBasis
from norms.vocabulary import BAND_PERCENTS

FloatArray = NDArray[np.float64]

_SEGMENTS = 3
_QUARTILES_TO_SD = 1.349
"""Distance between the quartiles of a standard normal."""


def quantile_regression_centiles(
    values: ArrayLike,
    handicaps: ArrayLike,
    at: ArrayLike,
    *,
    percents: Sequence[float] = BAND_PERCENTS,
    weights: ArrayLike | None = None,
) -> FloatArray:
    """Centiles by regression quantiles on a cubic B-spline of handicap, rearranged to rise.

    Parameters
    ----------
    values, handicaps : array_like, shape (n,)
    at : array_like, shape (h,)
        Handicaps within those of the golfers.
    percents : sequence of float
        Equally weighted in the rearrangement, which is then sorting.
    weights : array_like, shape (n,), optional

    Returns
    -------
    ndarray, shape (q, h)
    """
    y, h = np.asarray(values, dtype=np.float64), np.asarray(handicaps, dtype=np.float64)
    basis = SplineBasis(low=float(h.min()), high=float(h.max()), segments=_SEGMENTS)
    design, wanted = basis.design(h), basis.design(at)
    raw = [wanted @ fit_quantile(design, y, p / 100.0, weights=weights) for p in percents]
    return rearrange(np.stack(raw, axis=1)).T


def cross_check(
    centiles: Centiles,
    values: ArrayLike,
    handicaps: ArrayLike,
    *,
    percents: Sequence[float] = BAND_PERCENTS,
    weights: ArrayLike | None = None,
) -> FloatArray:
    """Root mean square gap between the model's centiles and those of quantile regression.

    Taken over the supported handicaps and divided by the model's spread there, the distance
    between its quartiles over 1.349.

    Parameters
    ----------
    centiles : Centiles
        Of one feature, without covariates.
    values, handicaps : array_like, shape (n,)
        What it was fitted to.
    percents : sequence of float
    weights : array_like, shape (n,), optional

    Returns
    -------
    ndarray, shape (q,)

    Raises
    ------
    ValueError
        If the centiles have covariates, are of several responses, or no handicap is supported.
    """
    if centiles.covariate_names or len(centiles.names) != 1:
        raise ValueError("centiles: one response without covariates is needed")
    at = centiles.support.handicaps[centiles.support.supported[0]]
    if not len(at):
        raise ValueError("centiles: no handicap is supported by enough golfers")
    model = centile_chart(centiles, at, percents=(*percents, 25.0, 75.0)).value[0]
    spread = (model[-1] - model[-2]) / _QUARTILES_TO_SD
    free = quantile_regression_centiles(values, handicaps, at, percents=percents, weights=weights)
    gaps: FloatArray = np.sqrt((((model[:-2] - free) / spread) ** 2).mean(axis=1))
    return gaps
