"""The LMS family for positive values: Box-Cox power, median, coefficient of variation.

Cole & Green, Smoothing reference centile curves: the LMS method and penalized likelihood,
Statistics in Medicine 11 (1992) 1305-1319: z = ((y / M)^L - 1) / (L S), or log(y / M) / S where
L is 0, is standard normal. Parameters are log M, log S and L. As in that paper the density is not
renormalised for the values below zero that z cannot reach; ``truncated`` does so.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

FloatArray = NDArray[np.float64]

NAME = "lms"
PARAMETERS: tuple[str, ...] = ("log_median", "log_variation", "power")
POSITIVE_ONLY = True

_LOG_ROOT_TWO_PI = 0.5 * float(np.log(2.0 * np.pi))
_SERIES_BELOW = 0.3
_SERIES_TERMS = 16


def start_response(y: FloatArray) -> FloatArray:
    """What a least-squares start of the location is fitted to."""
    return np.log(y)


def start_shape() -> tuple[float, ...]:
    """Power 0, the log-normal, where iterations begin."""
    return (0.0,)


def _power_terms(v: FloatArray, power: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Box-Cox expm1(power v) / power, and its first two derivatives in power; exact at 0."""
    a = power * v
    near = np.abs(a) < _SERIES_BELOW
    b = np.where(near, 1.0, np.clip(a, -600.0, 600.0))
    p0 = np.expm1(b) / b
    p1 = (np.exp(b) - p0) / b
    p2 = (np.exp(b) - 2.0 * p1) / b
    s = np.where(near, a, 0.0)
    t0, t1, t2 = np.zeros_like(s), np.zeros_like(s), np.zeros_like(s)
    term = np.ones_like(s)  # s^i / i!
    for i in range(_SERIES_TERMS):
        t0 += term / (i + 1)
        t1 += term / (i + 2)
        t2 += term / (i + 3)
        term = term * s / (i + 1)
    f, f1, f2 = np.where(near, t0, p0), np.where(near, t1, p1), np.where(near, t2, p2)
    return v * f, v * v * f1, v * v * v * f2


def log_density(
    y: FloatArray, eta: tuple[FloatArray, ...], *, truncated: bool = False
) -> FloatArray:
    """Log density of positive ``y``; parameters in the order of ``PARAMETERS``.

    Parameters
    ----------
    y : ndarray
    eta : tuple of 3 ndarray
    truncated : bool
        Divide by the probability that y is above zero, Phi(1 / (S |L|)), so that the density
        integrates to one (Rigby & Stasinopoulos, Statistics in Medicine 23 (2004) 3053-3076).
    """
    log_m, log_s, power = eta
    v = np.log(y) - log_m
    z = _power_terms(v, power)[0] * np.exp(-log_s)
    value = power * v - np.log(y) - log_s - 0.5 * z * z - _LOG_ROOT_TWO_PI
    if truncated:
        with np.errstate(divide="ignore"):
            value = value - log_ndtr(np.exp(-log_s) / np.abs(power))
    return np.asarray(value, dtype=np.float64)


def derivatives(
    y: FloatArray, eta: tuple[FloatArray, ...]
) -> tuple[FloatArray, list[FloatArray], dict[tuple[int, int], FloatArray]]:
    """Log density (not truncated) with its first and second derivatives.

    Parameters
    ----------
    y : ndarray
        Positive.
    eta : tuple of 3 ndarray
        Of the shape of ``y``.

    Returns
    -------
    value : ndarray
    first : list of 3 ndarray
    second : dict of (i, j) with i <= j to ndarray
    """
    log_m, log_s, power = eta
    log_y = np.log(y)
    v = log_y - log_m
    inverse = np.exp(-log_s)
    f, f1, f2 = _power_terms(v, power)
    z, z_l, z_ll = f * inverse, f1 * inverse, f2 * inverse
    z_v = np.exp(np.clip(power * v, -600.0, 600.0)) * inverse
    z_vv, z_vl = power * z_v, v * z_v
    value = power * v - log_y - log_s - 0.5 * z * z - _LOG_ROOT_TWO_PI
    first = [z * z_v - power, z * z - 1.0, v - z * z_l]
    second = {
        (0, 0): -(z_v * z_v + z * z_vv),
        (0, 1): -2.0 * z * z_v,
        (0, 2): z_l * z_v + z * z_vl - 1.0,
        (1, 1): -2.0 * z * z,
        (1, 2): 2.0 * z * z_l,
        (2, 2): -(z_l * z_l + z * z_ll),
    }
    return value, first, second


def score(y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
    """Standard normal score z; NaN where ``y`` is not positive."""
    log_m, log_s, power = eta
    positive = np.where(y > 0, y, np.nan)
    v, power = np.broadcast_arrays(np.log(positive) - log_m, power)
    return np.asarray(_power_terms(v, power)[0] * np.exp(-log_s), dtype=np.float64)


def score_gradient(y: FloatArray, eta: tuple[FloatArray, ...]) -> list[FloatArray]:
    """Derivatives of z in the three parameters, ``y`` held."""
    log_m, log_s, power = eta
    positive = np.where(y > 0, y, np.nan)
    v, power = np.broadcast_arrays(np.log(positive) - log_m, power)
    inverse = np.exp(-log_s)
    f, f1, _ = _power_terms(v, power)
    return [-np.exp(power * v) * inverse, -f * inverse, f1 * inverse]


def value_at(z: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
    """Value whose standard normal score is ``z``; NaN where 1 + L S z is not positive."""
    log_m, log_s, power = eta
    grown = power * np.exp(log_s) * z
    exists = grown > -1.0
    small = (
        np.abs(power) < 1e-9
    )  # there log1p(L S z) / L is S z (1 - L S z / 2) to double precision
    divisor = np.where(small, 1.0, power)
    log_ratio = np.where(
        small,
        np.exp(log_s) * z * (1.0 - 0.5 * grown),
        np.log1p(np.where(exists, grown, 0.0)) / divisor,
    )
    return np.asarray(np.where(exists, np.exp(log_m + log_ratio), np.nan), dtype=np.float64)


def score_slope(y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
    """Derivative of z in ``y``; always positive."""
    return np.asarray(-score_gradient(y, eta)[0] / y, dtype=np.float64)
