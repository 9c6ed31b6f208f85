"""The likelihood of a random-intercept model, profiled to one parameter, with two derivatives.

theta is the variance of the groups' intercepts over the residual variance. All models at once.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.statistics._mixed_moments import Moments

FloatArray = NDArray[np.float64]

GRID: Final = np.r_[0.0, np.logspace(-4.0, 5.0, 19)]
MOST_STEPS: Final = 80
STEP_TOLERANCE: Final = 1e-10
_PERFECT: Final = 1e-14
"""Residual share of the outcome below which rounding, not the data, would be fitted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """State of c models at their theta; everything in the scaled columns of the moments.

    Attributes
    ----------
    deviance, slope, curvature : ndarray, shape (c,)
        Minus twice the log likelihood, profiled over fixed effects and residual variance, and
        its first two derivatives by theta.
    fixed : ndarray, shape (c, p)
    inverse : ndarray, shape (c, p, p)
        (X' V^-1 X)^-1 with V in units of the residual variance.
    inverse_slope : ndarray, shape (c, p, p)
        Its derivative by theta.
    squares, squares_slope, squares_curvature : ndarray, shape (c,)
        Weighted residual sum of squares and its derivatives.
    determinants_curvature : ndarray, shape (c,)
        Second derivative of the log determinants.
    freedom : ndarray, shape (c,)
        Divisor of the residual variance: n - p for REML, n for ML.
    """

    deviance: FloatArray
    slope: FloatArray
    curvature: FloatArray
    fixed: FloatArray
    inverse: FloatArray
    inverse_slope: FloatArray
    squares: FloatArray
    squares_slope: FloatArray
    squares_curvature: FloatArray
    determinants_curvature: FloatArray
    freedom: FloatArray

    @property
    def residual_variance(self) -> FloatArray:
        """In the squared unit of the scaled outcome, shape (c,)."""
        variance: FloatArray = self.squares / self.freedom
        return variance


def profile(moments: Moments, theta: FloatArray, *, restricted: bool) -> Profile:
    """Evaluate c models at theta, shape (c,)."""
    n, sizes = moments.observations, moments.sizes
    inflated = 1.0 + theta[:, np.newaxis] * sizes
    weighted = [
        moments.total - _mix(theta[:, np.newaxis] / inflated, moments.by_size),
        -_mix(inflated**-2.0, moments.by_size),
        _mix(2.0 * sizes * inflated**-3.0, moments.by_size),
    ]
    inverse = np.asarray(np.linalg.inv(weighted[0][:, :-1, :-1]), dtype=np.float64)
    fixed = np.einsum("cij,cj->ci", inverse, weighted[0][:, :-1, -1])
    residual = np.concatenate([-fixed, np.ones((len(theta), 1))], axis=1)
    pull = np.einsum("cij,cj->ci", weighted[1], residual)
    squares, squares_slope, bend = (
        np.einsum("ci,cij,cj->c", residual, matrix, residual) for matrix in weighted
    )
    squares = np.maximum(squares, _PERFECT)
    drift = np.einsum("ci,cij,cj->c", pull[:, :-1], inverse, pull[:, :-1])
    squares_curvature = bend - 2.0 * drift
    turned = inverse @ weighted[1][:, :-1, :-1]
    freedom = n - moments.columns if restricted else n
    determinants = _group_determinants(moments, inflated)
    if restricted:
        determinants += _fixed_determinants(moments, weighted, inverse, turned)
    variance = squares * moments.scale[:, -1] ** 2 / freedom
    return Profile(
        deviance=freedom * (1.0 + np.log(2.0 * np.pi * variance)) + determinants[0],
        slope=freedom * squares_slope / squares + determinants[1],
        curvature=freedom * (squares_curvature / squares - (squares_slope / squares) ** 2)
        + determinants[2],
        fixed=fixed,
        inverse=inverse,
        inverse_slope=-turned @ inverse,
        squares=squares,
        squares_slope=squares_slope,
        squares_curvature=squares_curvature,
        determinants_curvature=determinants[2],
        freedom=freedom,
    )


def _group_determinants(moments: Moments, inflated: FloatArray) -> FloatArray:
    """Log determinant of V and its two derivatives by theta, shape (3, c)."""
    counted, sizes = moments.groups_of_size, moments.sizes
    return np.stack(
        [
            (counted * np.log(inflated)).sum(axis=1),
            (counted * sizes / inflated).sum(axis=1),
            -(counted * (sizes / inflated) ** 2).sum(axis=1),
        ]
    )


def _fixed_determinants(
    moments: Moments, weighted: list[FloatArray], inverse: FloatArray, turned: FloatArray
) -> FloatArray:
    """Log determinant of X' V^-1 X, in the columns' own units, and its derivatives, (3, c)."""
    scales = np.where(moments.aliased, 1.0, moments.scale[:, :-1])
    curvature = np.einsum("cij,cji->c", inverse, weighted[2][:, :-1, :-1])
    return np.stack(
        [
            np.linalg.slogdet(weighted[0][:, :-1, :-1])[1] + 2.0 * np.log(scales).sum(axis=1),
            np.einsum("cii->c", turned),
            curvature - np.einsum("cij,cji->c", turned, turned),
        ]
    )


def _mix(weights: FloatArray, by_size: FloatArray) -> FloatArray:
    """Sum over group sizes of weight times cross products, shape (c, q, q)."""
    c, z, q, _ = by_size.shape
    mixed: FloatArray = (weights[:, np.newaxis] @ by_size.reshape(c, z, q * q)).reshape(c, q, q)
    return mixed


def best_theta(moments: Moments, *, restricted: bool) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Theta of least deviance of each model, and whether the search came to rest there.

    A grid finds the valley; Newton's steps, halved to its bracket where they leave it, find the
    floor. Zero is the answer where the deviance rises from there.
    """
    c = len(moments.observations)
    heights = np.stack(
        [profile(moments, np.full(c, at), restricted=restricted).deviance for at in GRID]
    )
    lowest = np.argmin(heights, axis=0)
    low = GRID[np.maximum(lowest - 1, 0)]
    high = np.where(lowest + 1 < len(GRID), GRID[np.minimum(lowest + 1, len(GRID) - 1)], 1e9)
    theta = np.where(lowest == 0, 0.0, GRID[lowest])
    at_zero = profile(moments, np.zeros(c), restricted=restricted).slope >= 0
    settled = (lowest == 0) & at_zero
    theta = np.where((lowest == 0) & ~at_zero, GRID[1] / 2.0, theta)
    for _ in range(MOST_STEPS):
        if settled.all():
            break
        state = profile(moments, theta, restricted=restricted)
        low = np.where(state.slope < 0, theta, low)
        high = np.where(state.slope < 0, high, theta)
        with np.errstate(divide="ignore", invalid="ignore"):
            newton = theta - state.slope / state.curvature
        inside = (newton > low) & (newton < high) & (state.curvature > 0)
        step_to = np.where(inside, newton, np.where(low > 0, np.sqrt(low * high), high / 2.0))
        moved = np.abs(step_to - theta) > STEP_TOLERANCE * (theta + STEP_TOLERANCE)
        theta = np.where(settled, theta, step_to)
        settled |= ~moved
    return theta, settled
