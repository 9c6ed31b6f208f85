"""A linear model with a random intercept and a random slope per group, correlated.

Groups contribute through 2 x 2 matrices, so that a step costs a few passes over the groups.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, stats

FloatArray = NDArray[np.float64]

_STARTS: Final = ((1.0, 0.0, 0.3), (0.5, 0.0, 0.02))
_BOUNDS: Final = ((0.0, None), (None, None), (0.0, None))
_GRADIENT: Final = 1e-3
_STEP: Final = 1e-4
SINGULAR: Final = 1e-4
"""Relative spread, or distance of a correlation from one, that counts as none (as lme4 does)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SlopeFit:
    """Fit of one model with a random intercept and slope.

    Attributes
    ----------
    fixed, standard_error, freedom, p_value : ndarray, shape (p,)
        Satterthwaite's degrees of freedom.
    covariance : ndarray, shape (p, p)
    random_covariance : ndarray, shape (2, 2)
        Of intercept and slope over groups.
    residual_variance, log_likelihood : float
        The likelihood is restricted.
    converged, singular : bool
    """

    fixed: FloatArray
    standard_error: FloatArray
    freedom: FloatArray
    p_value: FloatArray
    covariance: FloatArray
    random_covariance: FloatArray
    residual_variance: float
    log_likelihood: float
    converged: bool
    singular: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sums:
    """Sums of the data: whole cross products, and per group Z'Z and Z'[X y]."""

    total: FloatArray
    squares: FloatArray
    mixed: FloatArray
    scale: FloatArray
    spread: float
    observations: int


def fit_random_slope(
    outcome: ArrayLike, design: ArrayLike, slope: ArrayLike, groups: ArrayLike
) -> SlopeFit:
    """Fit by restricted maximum likelihood.

    Parameters
    ----------
    outcome : array_like, shape (s,)
    design : array_like, shape (s, p)
        Of full column rank, intercept included; no missing value.
    slope : array_like, shape (s,)
        The column whose coefficient varies over groups.
    groups : array_like, shape (s,)

    Raises
    ------
    numpy.linalg.LinAlgError
        If the design is not of full rank.
    """
    sums = _sums(
        np.asarray(outcome, dtype=np.float64),
        np.asarray(design, dtype=np.float64),
        np.asarray(slope, dtype=np.float64),
        np.unique(np.asarray(groups), return_inverse=True)[1],
    )
    height, at = _search(sums, _STARTS[0])
    if _is_singular(at):  # or a start too far from the floor of the valley
        other, elsewhere = _search(sums, _STARTS[1])
        at = elsewhere if other < height else at
    return _result(sums, at)


def _sums(y: FloatArray, x: FloatArray, z: FloatArray, codes: NDArray[np.int64]) -> _Sums:
    order = np.argsort(codes, kind="stable")
    columns = np.column_stack([x, y])[order]
    scale = np.sqrt((columns**2).sum(axis=0))
    columns = columns / scale
    spread = float(np.sqrt((z**2).mean())) or 1.0
    random = np.column_stack([np.ones(len(z)), z / spread])[order]
    starts = np.flatnonzero(np.r_[True, np.diff(codes[order]) > 0])
    return _Sums(
        total=columns.T @ columns,
        squares=np.add.reduceat(random[:, :, None] * random[:, None, :], starts),
        mixed=np.add.reduceat(random[:, :, None] * columns[:, None, :], starts),
        scale=scale,
        spread=spread,
        observations=len(y),
    )


def _search(sums: _Sums, start: tuple[float, float, float]) -> tuple[float, FloatArray]:
    """Least deviance found from a start, and where."""

    def deviance(at: FloatArray) -> float:
        return _state(sums, at)[0]

    found = optimize.minimize(
        deviance,
        np.array(start),
        jac="3-point",
        method="L-BFGS-B",
        bounds=_BOUNDS,
        options={"ftol": 1e-14, "gtol": 1e-7},
    )
    return float(found.fun), np.asarray(found.x, dtype=np.float64)


def _state(sums: _Sums, at: FloatArray) -> tuple[float, FloatArray, FloatArray, float]:
    """Restricted deviance, fixed effects, (X'V^-1X)^-1 and residual sum, of scaled columns."""
    root = np.array([[at[0], 0.0], [at[1], at[2]]])
    inner = np.eye(2) + root.T @ sums.squares @ root
    pulled = root.T @ sums.mixed
    determinant = inner[:, 0, 0] * inner[:, 1, 1] - inner[:, 0, 1] ** 2
    explained = np.einsum("gip,giq->pq", pulled, np.linalg.solve(inner, pulled))
    weighted = sums.total - explained
    inverse = np.linalg.inv(weighted[:-1, :-1])
    fixed = inverse @ weighted[:-1, -1]
    squares = max(float(weighted[-1, -1] - weighted[:-1, -1] @ fixed), 1e-300)
    freedom = sums.observations - len(fixed)
    deviance = (
        freedom * (1.0 + np.log(2.0 * np.pi * squares * sums.scale[-1] ** 2 / freedom))
        + np.log(determinant).sum()
        + np.linalg.slogdet(weighted[:-1, :-1])[1]
        + 2.0 * np.log(sums.scale[:-1]).sum()
    )
    return float(deviance), fixed, inverse, squares


def _result(sums: _Sums, at: FloatArray) -> SlopeFit:
    deviance, fixed, inverse, squares = _state(sums, at)
    unit = sums.scale[-1] / sums.scale[:-1]
    freedom = sums.observations - len(fixed)
    variance = squares / freedom
    residual = variance * sums.scale[-1] ** 2
    root = np.array([[at[0], 0.0], [at[1] / sums.spread, at[2] / sums.spread]])
    scatter = residual * root @ root.T
    error = np.sqrt(variance * np.diag(inverse)) * unit
    singular = _is_singular(at)
    df = (
        np.full(len(fixed), np.nan)
        if singular
        else _satterthwaite(sums, np.r_[at, variance], freedom)
    )
    return SlopeFit(
        fixed=fixed * unit,
        standard_error=error,
        freedom=df,
        p_value=np.asarray(2.0 * stats.t.sf(np.abs(fixed * unit / error), df)),
        covariance=variance * inverse * np.outer(unit, unit),
        random_covariance=scatter,
        residual_variance=residual,
        log_likelihood=-deviance / 2.0,
        converged=_at_rest(sums, at),
        singular=singular,
    )


def _is_singular(at: FloatArray) -> bool:
    slope = float(np.hypot(at[1], at[2]))
    return bool(at[0] < SINGULAR or slope < SINGULAR or at[2] < SINGULAR * slope * 10.0)


def _at_rest(sums: _Sums, at: FloatArray) -> bool:
    """Whether the deviance is flat at the answer, or held by a bound."""
    slopes = [
        (_state(sums, at + step)[0] - _state(sums, at - step)[0]) / (2.0 * _STEP)
        for step in _STEP * np.eye(3)
    ]
    held = np.array([at[0] <= _STEP, False, at[2] <= _STEP])
    scale = 1.0 + abs(_state(sums, at)[0])
    return bool((np.abs(slopes)[~held] < _GRADIENT * np.sqrt(scale)).all())


def _satterthwaite(sums: _Sums, at: FloatArray, freedom: int) -> FloatArray:
    """Degrees of freedom of each fixed effect, by differences of deviance and variances.

    The parameters are the three of the relative root and the residual variance.
    """

    def deviance(place: FloatArray) -> float:
        profiled, _, _, squares = _state(sums, place[:3])
        ratio = squares / (freedom * place[3])
        return float(profiled + freedom * (ratio - 1.0 - np.log(ratio)))

    def variances(place: FloatArray) -> FloatArray:
        return np.asarray(place[3] * np.diag(_state(sums, place[:3])[2]), dtype=np.float64)

    steps = np.diag(np.r_[np.maximum(np.abs(at[:3]), 0.05), at[3]] * 1e-3)
    hessian = np.empty((4, 4))
    for i, first in enumerate(steps):
        for j, second in enumerate(steps):
            ends = (
                deviance(at + first + second)
                - deviance(at + first - second)
                - deviance(at - first + second)
                + deviance(at - first - second)
            )
            hessian[i, j] = ends / (4.0 * first[i] * second[j])
    slopes = np.stack(
        [(variances(at + step) - variances(at - step)) / (2.0 * step.sum()) for step in steps]
    )
    spread = np.einsum("ip,ij,jp->p", slopes, 2.0 * np.linalg.inv(hessian), slopes)
    with np.errstate(divide="ignore", invalid="ignore"):
        df = np.where(spread > 0, 2.0 * variances(at) ** 2 / spread, np.nan)
    return np.asarray(np.maximum(df, 1.0), dtype=np.float64)
