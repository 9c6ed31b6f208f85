"""From handicap and covariates to the columns of each parameter's linear predictor."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from norms.records.centiles import CentileTerm
from norms.statistics.location_scale_shape import box_cox, sinh_arcsinh
from norms.statistics.location_scale_shape.problem import Family, Term
from norms.statistics.splines import SplineBasis, difference_penalty

FloatArray = NDArray[np.float64]

FAMILIES: dict[str, Family] = {sinh_arcsinh.NAME: sinh_arcsinh, box_cox.NAME: box_cox}

_SHAPE_PRECISION = 4.0
"""Skew, log tail and power have a normal prior of standard deviation 1/2 about their start."""
_SCALE_STEP_PRECISION = 1.0
"""Neighbouring spline coefficients of the log scale differ by about 1 at most, a priori."""
_LEAST_SMOOTHING = {"location": 0.1, "scale": 1.0}


def design_columns(
    term: CentileTerm, handicaps: FloatArray, covariates: FloatArray, ends: tuple[float, float]
) -> FloatArray:
    """Columns of one parameter's predictor.

    Parameters
    ----------
    term : CentileTerm
    handicaps : ndarray, shape (n,)
        Within ``ends``.
    covariates : ndarray, shape (n, g)
        Scaled to 0 to 1 over the golfers' range.
    ends : tuple of 2 floats
        Range of handicap of the fit.

    Returns
    -------
    ndarray, shape (n, c_j)
    """
    columns = [_handicap_columns(term, handicaps, ends)]
    if term.covariates:
        columns.append(covariates)
    return np.hstack(columns)


def _handicap_columns(
    term: CentileTerm, handicaps: FloatArray, ends: tuple[float, float]
) -> FloatArray:
    low, high = ends
    if term.kind == "spline":
        if len(handicaps) == 1:
            return _spline_row(low, high, term.segments, float(handicaps[0]))
        return SplineBasis(low=low, high=high, segments=term.segments).design(handicaps)
    ones = np.ones((len(handicaps), 1))
    if term.kind == "constant":
        return ones
    if term.kind == "linear":
        across = (2.0 * handicaps - low - high) / (high - low)
        return np.column_stack([ones, across])
    return ones[:, :0]


@lru_cache(maxsize=4096)
def _spline_row(low: float, high: float, segments: int, handicap: float) -> FloatArray:
    """One row of a spline's design: placing asks for it again for every feature of a swing."""
    row = SplineBasis(low=low, high=high, segments=segments).design([handicap])
    row.flags.writeable = False
    return row


def spline_columns(term: CentileTerm) -> int:
    """Number of a spline term's own columns, before those of covariates."""
    return term.segments + SplineBasis(low=0.0, high=1.0, segments=1).degree


def fit_terms(
    terms: Sequence[CentileTerm],
    handicaps: FloatArray,
    covariates: FloatArray,
    ends: tuple[float, float],
) -> tuple[Term, ...]:
    """Designs and penalties of all parameters, for the penalised fit."""
    parts = ("location", "scale", "shape", "shape")
    return tuple(
        _fit_term(term, part, design_columns(term, handicaps, covariates, ends))
        for term, part in zip(terms, parts[: len(terms)], strict=True)
    )


def _fit_term(term: CentileTerm, part: str, design: FloatArray) -> Term:
    count = design.shape[1]
    penalty, prior, rank = np.zeros((count, count)), np.zeros((count, count)), 0
    if part == "shape":
        prior = _SHAPE_PRECISION * np.eye(count)
    if term.kind == "spline":
        own = spline_columns(term)
        penalty[:own, :own] = difference_penalty(own, order=2)
        rank = own - 2
        if part == "scale":
            prior[:own, :own] = _SCALE_STEP_PRECISION * difference_penalty(own, order=1)
            prior[own:, own:] = _SCALE_STEP_PRECISION * np.eye(count - own)
    least = _LEAST_SMOOTHING.get(part, 0.0)
    return Term(design=design, penalty=penalty, prior=prior, rank=rank, least_smoothing=least)
