"""A second opinion on fitted centiles that assumes no distribution: quantile regression."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from norms.cohort.centiles import centiles_of_golfers
from norms.errors import CohortRefused
from norms.records.centile_readings import CROSS_CHECK_PERCENTS, CentileCrossCheck
from norms.records.centiles import Centiles
from norms.statistics.quantile_regression import fit_quantile, rearrange
from norms.statistics.splines import SplineBasis

FloatArray = NDArray[np.float64]

_SEGMENTS = 3
_MOST_GOLFERS = 2000
"""More are thinned evenly along handicap: linear programmes of many rows take long."""
_STEP_PCT = 1.0
"""To each side of a percentile, for the slope of the quantile function there."""
_QUARTILES_TO_SD = 1.349
"""Distance between the quartiles of a standard normal."""


def cross_check(
    centiles: Centiles,
    values: ArrayLike,
    handicaps: ArrayLike,
    covariates: ArrayLike | None = None,
    *,
    name: str | None = None,
    percents: Sequence[float] = CROSS_CHECK_PERCENTS,
) -> CentileCrossCheck:
    """How far the centiles lie from those of quantile regression on the same golfers.

    Both are read for each golfer, at their own handicap and covariates, where these are
    supported. Quantile regression takes a cubic B-spline of handicap and a shift for each
    covariate, and is rearranged to rise. Its root mean square distance from the model is set
    against what sampling golfers alone makes of it: with c coefficients and n golfers the mean
    variance of a regression quantile at share p is c p (1 - p) s^2 / n, s the slope of the
    quantile function, where the model holds.

    Parameters
    ----------
    centiles : Centiles
    values, handicaps : array_like, shape (n,)
        What they were fitted to; NaN values are left out.
    covariates : array_like, shape (n, g), optional
        In the columns of the fit.
    name : str, optional
        Which response; the only one if omitted.
    percents : sequence of float
        Rising.

    Returns
    -------
    CentileCrossCheck

    Raises
    ------
    CohortRefused
        If too few golfers are at a supported handicap, or all are at the same.

    References
    ----------
    Koenker and Bassett (1978), Econometrica 46:33; Chernozhukov, Fernandez-Val and Galichon
    (2010), Econometrica 78:1093 (rearrangement).
    """
    y, h = np.asarray(values, dtype=np.float64), np.asarray(handicaps, dtype=np.float64)
    g = len(centiles.covariate_names)
    columns = np.zeros((len(h), 0)) if covariates is None else np.asarray(covariates, np.float64)
    if columns.shape != (len(h), g) or y.shape != h.shape:
        raise ValueError(f"one value, handicap and {g} covariates are needed for each golfer")
    rows = _evenly(np.flatnonzero(np.isfinite(y)), h)
    y, h, columns = y[rows], h[rows], columns[rows]

    around = (25.0, 75.0, *(p + side for p in percents for side in (-_STEP_PCT, _STEP_PCT)))
    model = centiles_of_golfers(centiles, h, columns, percents=(*percents, *around), name=name)
    read = np.isfinite(model).all(axis=0)
    coefficients = _SEGMENTS + 3 + g
    if np.count_nonzero(read) < 3 * coefficients or np.ptp(h) == 0.0:
        raise CohortRefused(
            f"{np.count_nonzero(read)} golfers at supported handicaps are too few for a quantile "
            f"regression of {coefficients} coefficients",
            code="too_few_golfers",
        )
    q = len(percents)
    spread = (model[q + 1, read] - model[q, read]) / _QUARTILES_TO_SD
    free = _regression_quantiles(y, h, columns, percents)[:, read]
    gap = np.sqrt((((model[:q, read] - free) / spread) ** 2).mean(axis=1))

    beside = model[q + 2 :, read]
    slope = (beside[1::2] - beside[::2]) / (2.0 * _STEP_PCT / 100.0) / spread
    share = np.array(percents) / 100.0
    variance = coefficients * share * (1.0 - share) / len(y) * (slope**2).mean(axis=1)
    return CentileCrossCheck(
        golfers=int(np.count_nonzero(read)),
        percents=tuple(percents),
        gap_sd=tuple(gap.tolist()),
        sampling_sd=tuple(np.sqrt(variance).tolist()),
    )


def _evenly(rows: NDArray[np.intp], handicaps: FloatArray) -> NDArray[np.intp]:
    """At most so many of the rows, in equal steps along handicap."""
    if len(rows) <= _MOST_GOLFERS:
        return rows
    steps = np.linspace(0, len(rows) - 1, _MOST_GOLFERS).round().astype(np.intp)
    return np.sort(rows[np.argsort(handicaps[rows], kind="stable")][steps])


def _regression_quantiles(
    y: FloatArray, h: FloatArray, covariates: FloatArray, percents: Sequence[float]
) -> FloatArray:
    """Fitted quantiles of each golfer, shape (q, n), rising with the percentile."""
    basis = SplineBasis(low=float(h.min()), high=float(h.max()), segments=_SEGMENTS)
    # Scaled, so that the programme is well posed whatever a covariate's unit.
    shifts = (covariates - covariates.mean(axis=0)) / covariates.std(axis=0)
    design = np.column_stack([basis.design(h), shifts])
    raw = [design @ fit_quantile(design, y, p / 100.0) for p in percents]
    return rearrange(np.stack(raw, axis=1)).T
