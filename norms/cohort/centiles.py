"""Read fitted centiles: charts over handicap, the place of one value."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from norms.cohort.centile_design import FAMILIES, design_columns
from norms.cohort.centile_support import (
    golfers_near,
    is_supported,
    why_unsupported,
)
from norms.records.centile_readings import CentileChart, CentilePlace
from norms.records.centiles import Centiles
from norms.vocabulary import BAND_PERCENTS, NODES

FloatArray = NDArray[np.float64]

_LEAST_OF_VALUE = 1e-3
"""Share of a positive value to which its lower limit is cut where it would pass zero."""


def centile_chart(
    centiles: Centiles,
    handicaps: ArrayLike,
    *,
    covariates: ArrayLike = (),
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
) -> CentileChart:
    """Centiles at chosen handicaps, each with its interval and the golfers near it.

    Parameters
    ----------
    centiles : Centiles
    handicaps : array_like, shape (h,)
    covariates : array_like, shape (g,)
        One value for each covariate of the fit, in its own unit.
    percents : sequence of float
        Above 0, below 100.
    confidence : float
        Of each centile's own interval, by the delta method.

    Returns
    -------
    CentileChart
        NaN where golfers do not support the handicap, or where the LMS family has no such value.
    """
    h = np.atleast_1d(np.asarray(handicaps, dtype=np.float64))
    row = _covariate_row(centiles, covariates)
    inside = np.flatnonzero(is_supported(centiles.support, h, row))
    shape = (len(centiles.names), len(percents), len(h))
    value, error = np.full(shape, np.nan), np.full(shape, np.nan)
    if len(inside):
        designs = _designs(centiles, h[inside], row)
        eta = _predictors(centiles.coefficients, designs)
        for place, percent in enumerate(percents):
            z = np.full((1, len(inside)), ndtri(percent / 100.0))
            at = FAMILIES[centiles.family].value_at(z, eta)
            value[:, place, inside] = at
            slope = FAMILIES[centiles.family].score_slope(at, eta)
            error[:, place, inside] = _score_error(centiles, designs, eta, at) / slope
    half = ndtri(0.5 + confidence / 2.0) * error
    return CentileChart(
        names=centiles.names,
        percents=tuple(percents),
        handicaps=h,
        golfers=golfers_near(centiles.support, h),
        confidence=confidence,
        value=value,
        low=value - half,
        high=value + half,
    )


def curve_centiles(
    centiles: Centiles,
    handicap: float,
    *,
    covariates: ArrayLike = (),
    percents: Sequence[float] = BAND_PERCENTS,
) -> FloatArray:
    """Centile curves of one axis at one handicap, on all nodes.

    Parameters
    ----------
    centiles : Centiles
        Of one axis.
    handicap : float
    covariates : array_like, shape (g,)
    percents : sequence of float

    Returns
    -------
    ndarray, shape (q, 301)
        In cm; NaN at nodes without centiles, everywhere where the handicap is not supported.
    """
    chart = centile_chart(centiles, [handicap], covariates=covariates, percents=percents)
    curves = np.full((len(percents), NODES), np.nan)
    nodes = [int(name.split("@")[1]) for name in centiles.names]
    curves[:, nodes] = chart.value[:, :, 0].T
    return curves


def place_by_handicap(
    centiles: Centiles,
    value: float,
    handicap: float,
    *,
    name: str | None = None,
    covariates: ArrayLike = (),
    confidence: float = 0.90,
    own_row: tuple[float, float] | None = None,
    value_error: float | None = None,
) -> CentilePlace:
    """Where one value falls among golfers of this handicap.

    Parameters
    ----------
    centiles : Centiles
    value : float
        In the response's own unit.
    handicap : float
        Plus handicaps negative.
    name : str, optional
        Which response; the only one if omitted.
    covariates : array_like, shape (g,)
    confidence : float
        Of the interval of the percentile: what sampling golfers leaves open, by the delta method.
    own_row : tuple of 2 floats, optional
        Value and handicap of the golfer's own row, where the golfer is in the fit with weight 1:
        it is taken out by one Newton step, the smoothing held.
    value_error : float, optional
        Standard error of the value, e.g. of a mean of few swings. The two uncertainties are put
        together by the sum of the squares of their reaches on either side.

    Returns
    -------
    CentilePlace
        Withheld with the nearest supported range where golfers do not support the handicap.

    Raises
    ------
    KeyError
        If ``name`` is not among the responses.
    ValueError
        If ``name`` is omitted and there are several.

    References
    ----------
    Zou and Donner (2008), Stat. Med. 27:1693 (limits put together side by side).
    """
    place = _response(centiles, name)
    h, y = np.array([handicap]), np.array([[value]])
    row = _covariate_row(centiles, covariates)
    answer = CentilePlace(
        name=centiles.names[place],
        value=value,
        handicap=handicap,
        golfers=int(golfers_near(centiles.support, h)[0]),
        confidence=confidence,
    )
    refusal = _refusal(centiles, value, handicap, row)
    if refusal is not None:
        return replace(answer, withheld=refusal)
    designs = _designs(centiles, h, row)
    coefficients = centiles.coefficients[[place]]
    if own_row is not None:
        coefficients = _without_golfer(centiles, place, own_row, row)
    eta = _predictors(coefficients, designs)
    z = float(FAMILIES[centiles.family].score(y, eta)[0, 0])
    error = float(_score_error(centiles, designs, eta, y, rows=[place])[0, 0])
    half = float(ndtri(0.5 + confidence / 2.0))
    below, above = 0.0, 0.0
    if value_error is not None:
        low = value - half * value_error
        if FAMILIES[centiles.family].POSITIVE_ONLY:
            low = max(low, _LEAST_OF_VALUE * value)
        ends = np.array([[low], [value + half * value_error]])
        scores = FAMILIES[centiles.family].score(ends, eta)
        below, above = z - float(scores[0, 0]), float(scores[1, 0]) - z
    return replace(
        answer,
        z=z,
        z_error=float(np.hypot(error, (below + above) / (2.0 * half))),
        percentile=100.0 * float(ndtr(z)),
        percentile_low=100.0 * float(ndtr(z - np.hypot(half * error, below))),
        percentile_high=100.0 * float(ndtr(z + np.hypot(half * error, above))),
        value_error=value_error,
    )


def centiles_of_golfers(
    centiles: Centiles,
    handicaps: ArrayLike,
    covariates: ArrayLike,
    *,
    percents: Sequence[float] = BAND_PERCENTS,
    name: str | None = None,
) -> FloatArray:
    """Centiles of one response for many golfers, each at their own handicap and covariates.

    Parameters
    ----------
    centiles : Centiles
    handicaps : array_like, shape (n,)
    covariates : array_like, shape (n, g)
    percents : sequence of float
    name : str, optional
        Which response; the only one if omitted.

    Returns
    -------
    ndarray, shape (q, n)
        NaN where golfers do not support the handicap.
    """
    place = _response(centiles, name)
    h, rows = np.asarray(handicaps, np.float64), np.asarray(covariates, np.float64)
    found = np.full((len(percents), len(h)), np.nan)
    inside = np.zeros(len(h), dtype=bool)
    groups, member = np.unique(rows, axis=0, return_inverse=True)
    for group, row in enumerate(groups):
        mine = member.reshape(-1) == group
        inside[mine] = is_supported(centiles.support, h[mine], row)
    designs = _designs(centiles, h[inside], rows[inside])
    eta = _predictors(centiles.coefficients[[place]], designs)
    for i, percent in enumerate(percents):
        z = np.full((1, np.count_nonzero(inside)), ndtri(percent / 100.0))
        found[i, inside] = FAMILIES[centiles.family].value_at(z, eta)[0]
    return found


def _response(centiles: Centiles, name: str | None) -> int:
    if name is None:
        if len(centiles.names) != 1:
            raise ValueError(f"name: needed, for these are centiles of {len(centiles.names)}")
        return 0
    if name not in centiles.names:
        raise KeyError(f"no centiles of {name}: {centiles.withheld.get(name, 'not in the fit')}")
    return centiles.names.index(name)


def _covariate_row(centiles: Centiles, covariates: ArrayLike) -> FloatArray:
    row = np.atleast_1d(np.asarray(covariates, dtype=np.float64))
    if row.shape != (len(centiles.covariate_names),):
        raise ValueError(f"covariates: one value for each of {centiles.covariate_names} is needed")
    return row


def _refusal(centiles: Centiles, value: float, handicap: float, row: FloatArray) -> str | None:
    """Why this value has no place, or None."""
    if not is_supported(centiles.support, np.array([handicap]), row)[0]:
        return why_unsupported(centiles.support, handicap, row)
    if FAMILIES[centiles.family].POSITIVE_ONLY and value <= 0:
        return f"value {value:g}: these centiles are of positive values only"
    for name, x, low, high in zip(
        centiles.covariate_names, row, centiles.covariate_low, centiles.covariate_high, strict=True
    ):
        if not low <= x <= high:
            return f"{name} {x:g} is outside the golfers' range, {low:g} to {high:g}"
    return None


def _designs(centiles: Centiles, handicaps: FloatArray, rows: FloatArray) -> list[FloatArray]:
    """Design of each parameter at some handicaps; covariates in one row, or in one for each."""
    scaled = (rows - centiles.covariate_low) / (centiles.covariate_high - centiles.covariate_low)
    columns = np.broadcast_to(scaled, (len(handicaps), scaled.shape[-1]))
    ends = (centiles.handicap_low, centiles.handicap_high)
    return [design_columns(term, handicaps, columns, ends) for term in centiles.terms]


def _predictors(coefficients: FloatArray, designs: list[FloatArray]) -> tuple[FloatArray, ...]:
    """Parameters of the family, each of shape (r, h)."""
    pieces = np.split(coefficients, _cuts(designs), axis=1)
    return tuple(piece @ design.T for piece, design in zip(pieces, designs, strict=True))


def _cuts(designs: list[FloatArray]) -> FloatArray:
    return np.cumsum([design.shape[1] for design in designs])[:-1]


def _score_error(
    centiles: Centiles,
    designs: list[FloatArray],
    eta: tuple[FloatArray, ...],
    y: FloatArray,
    rows: Sequence[int] | None = None,
) -> FloatArray:
    """Standard error of z by the delta method, shape (r, h)."""
    slopes = FAMILIES[centiles.family].score_gradient(y, eta)
    gradient = np.concatenate(
        [slope[..., None] * design for slope, design in zip(slopes, designs, strict=True)], axis=-1
    )
    covariance = centiles.covariance if rows is None else centiles.covariance[list(rows)]
    variance = ((gradient @ covariance) * gradient).sum(axis=-1)
    return np.asarray(np.sqrt(variance), dtype=np.float64)


def _without_golfer(
    centiles: Centiles,
    place: int,
    own_row: tuple[float, float],
    covariates: FloatArray,
) -> FloatArray:
    """Coefficients, shape (1, c), after one Newton step that takes a golfer's row out."""
    value, handicap = own_row
    y, designs = np.array([[value]]), _designs(centiles, np.array([handicap]), covariates)
    eta = _predictors(centiles.coefficients[[place]], designs)
    _, first, second = FAMILIES[centiles.family].derivatives(y, eta)
    rows = [design[0] for design in designs]
    score = np.concatenate([f[0, 0] * x for f, x in zip(first, rows, strict=True)])
    own = np.block(
        [
            [-second[min(i, j), max(i, j)][0, 0] * np.outer(a, b) for j, b in enumerate(rows)]
            for i, a in enumerate(rows)
        ]
    )
    information = np.linalg.inv(centiles.inverse_information[place]) - own
    moved: FloatArray = centiles.coefficients[[place]] - np.linalg.solve(information, score)
    return moved
