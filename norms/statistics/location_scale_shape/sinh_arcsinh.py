"""The sinh-arcsinh family on the real line, written about its median.

Jones & Pewsey, Sinh-arcsinh distributions, Biometrika 96 (2009) 761-780:
Z = sinh(delta asinh(X) - epsilon) is standard normal. Here X is shifted and scaled so that the
location is the median and the scale is dy/dz at the median, and the skew is epsilon / delta:

    u = (y - median) / scale,  x = u cosh(skew) / delta + sinh(skew),
    z = sinh(delta (asinh(x) - skew)).

Skew 0 with delta 1 is the normal distribution; positive skew has its long tail upward; delta
below 1 has heavier tails than the normal. Centiles of one fit never cross, for z rises in y.
"""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

NAME = "sinh_arcsinh"
PARAMETERS: tuple[str, ...] = ("median", "log_scale", "skew", "log_tail")
POSITIVE_ONLY = False

_FARTHEST_W = 40.0
"""Beyond this sinh is a number no observation reaches; the bound keeps trial steps finite."""
_LOG_ROOT_TWO_PI = 0.5 * float(np.log(2.0 * np.pi))


def start_response(y: FloatArray) -> FloatArray:
    """What a least-squares start of the location is fitted to."""
    return y


def start_shape() -> tuple[float, ...]:
    """Skew and log tail of the normal distribution, where iterations begin."""
    return (0.0, 0.0)


def log_density(y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
    """Log density of ``y``; parameters in the order of ``PARAMETERS``, broadcast together."""
    m, log_scale, k, tau = eta
    delta = np.exp(tau)
    x = (y - m) * np.exp(-log_scale) * np.cosh(k) / delta + np.sinh(k)
    w = np.clip(delta * (np.arcsinh(x) - k), -_FARTHEST_W, _FARTHEST_W)
    return _log_density(x, w, k, log_scale)


def _log_density(x: FloatArray, w: FloatArray, k: FloatArray, log_scale: FloatArray) -> FloatArray:
    change = np.log(np.cosh(w)) - 0.5 * np.log1p(x * x) + np.log(np.cosh(k)) - log_scale
    result: FloatArray = change - 0.5 * np.sinh(w) ** 2 - _LOG_ROOT_TWO_PI
    return result


def derivatives(
    y: FloatArray, eta: tuple[FloatArray, ...]
) -> tuple[FloatArray, list[FloatArray], dict[tuple[int, int], FloatArray]]:
    """Log density with its first and second derivatives in the four parameters.

    Parameters
    ----------
    y : ndarray
    eta : tuple of 4 ndarray
        Of the shape of ``y``.

    Returns
    -------
    value : ndarray
    first : list of 4 ndarray
    second : dict of (i, j) with i <= j to ndarray
    """
    m, log_scale, k, tau = eta
    scale, delta, ch, sh = np.exp(log_scale), np.exp(tau), np.cosh(k), np.sinh(k)
    u = (y - m) / scale
    slope = ch / delta
    x = u * slope + sh
    q2 = 1.0 / (1.0 + x * x)
    q = np.sqrt(q2)
    dq = delta * q
    bend = -x * dq * q2  # delta times the second derivative of asinh
    w = np.clip(delta * (np.arcsinh(x) - k), -_FARTHEST_W, _FARTHEST_W)

    # x and w by u, k and tau
    xk, xt = u * sh / delta + ch, -u * slope
    wu, wk, wt = dq * slope, dq * xk - delta, w + dq * xt
    xuk = sh / delta
    w_uk = bend * slope * xk + dq * xuk
    w_kk = bend * xk * xk + dq * x  # x_kk = x
    w_ut = wu + bend * slope * xt - dq * slope
    w_kt = wk + bend * xk * xt - dq * u * xuk
    w_tt = wt + dq * xt + bend * xt * xt + dq * u * slope

    z, c = np.sinh(w), np.cosh(w)
    z2 = z * z
    g = -z2 * z / c
    g2 = z2 * (z2 / (c * c) - 3.0)
    h = -x * q2  # derivative of -log(1 + x^2) / 2
    h2 = -(1.0 - x * x) * q2 * q2

    lu, lk, lt = g * wu + h * slope, g * wk + h * xk + sh / ch, g * wt + h * xt
    luu = g2 * wu * wu + g * bend * slope * slope + h2 * slope * slope
    luk = g2 * wu * wk + g * w_uk + h2 * slope * xk + h * xuk
    lut = g2 * wu * wt + g * w_ut + h2 * slope * xt - h * slope
    lkk = g2 * wk * wk + g * w_kk + h2 * xk * xk + h * x + 1.0 / (ch * ch)
    lkt = g2 * wk * wt + g * w_kt + h2 * xk * xt - h * u * xuk
    ltt = g2 * wt * wt + g * w_tt + h2 * xt * xt + h * u * slope

    value = _log_density(x, w, k, log_scale)
    first = [-lu / scale, -u * lu - 1.0, lk, lt]
    second = {
        (0, 0): luu / (scale * scale),
        (0, 1): (lu + u * luu) / scale,
        (0, 2): -luk / scale,
        (0, 3): -lut / scale,
        (1, 1): u * lu + u * u * luu,
        (1, 2): -u * luk,
        (1, 3): -u * lut,
        (2, 2): lkk,
        (2, 3): lkt,
        (3, 3): ltt,
    }
    return value, first, second


def score(y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
    """Standard normal score z of ``y``."""
    m, log_scale, k, tau = eta
    delta = np.exp(tau)
    x = (y - m) * np.exp(-log_scale) * np.cosh(k) / delta + np.sinh(k)
    w = delta * (np.arcsinh(x) - k)
    return np.asarray(np.sinh(np.clip(w, -_FARTHEST_W, _FARTHEST_W)), dtype=np.float64)


def score_gradient(y: FloatArray, eta: tuple[FloatArray, ...]) -> list[FloatArray]:
    """Derivatives of z in the four parameters, ``y`` held."""
    m, log_scale, k, tau = eta
    scale, delta, ch, sh = np.exp(log_scale), np.exp(tau), np.cosh(k), np.sinh(k)
    u = (y - m) / scale
    x = u * ch / delta + sh
    w = delta * (np.arcsinh(x) - k)
    dq = delta / np.sqrt(1.0 + x * x)
    c = np.cosh(np.clip(w, -_FARTHEST_W, _FARTHEST_W))
    wu = dq * ch / delta
    wk = dq * (u * sh / delta + ch) - delta
    return [-c * wu / scale, -c * wu * u, c * wk, c * (w - wu * u)]


def value_at(z: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
    """Value whose standard normal score is ``z``."""
    m, log_scale, k, tau = eta
    delta = np.exp(tau)
    x = np.sinh(np.arcsinh(z) / delta + k)
    result: FloatArray = m + np.exp(log_scale) * delta * (x - np.sinh(k)) / np.cosh(k)
    return result


def score_slope(y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
    """Derivative of z in ``y``; always positive."""
    return -score_gradient(y, eta)[0]
