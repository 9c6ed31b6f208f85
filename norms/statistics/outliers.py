"""Rules that point at extreme values of one variable. They flag; they remove nothing."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

FloatArray = NDArray[np.float64]

FENCE_FACTOR: Final = 1.5
"""Tukey (1977): an inner fence lies 1.5 interquartile ranges outside the quartile."""

REED_RATIO: Final = 1 / 3
"""Reed, Henry and Mason (1971), Clin. Chem. 17:275, as used by CLSI EP28 (from memory)."""

_POWERS: Final = (-2.0, 4.0)
"""Yeo-Johnson powers searched, as far from 1 on either side."""

_LOGARITHM: Final = 1e-12
"""A smaller exponent is that of the logarithm: SciPy's inverse fails on vanishing ones."""

_TAIL: Final = 0.125
"""The first guess of the power makes the outer octiles lie evenly about the median."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fences:
    """Limits beyond which a value is pointed at, in the values' own unit.

    Attributes
    ----------
    low, high : float
        May be infinite where the transform never reaches the fence.
    power : float
        Yeo-Johnson power the fences were found under; 1 leaves the values as they are.
    centre, scale : float
        Values were taken as (value - centre) / scale before the power.
    """

    low: float
    high: float
    power: float = 1.0
    centre: float = 0.0
    scale: float = 1.0

    def outside(self, values: FloatArray) -> NDArray[np.bool_]:
        """Which values lie beyond a fence; a NaN does not."""
        result: NDArray[np.bool_] = (values < self.low) | (values > self.high)
        return result


def tukey_fences(values: FloatArray, *, factor: float = FENCE_FACTOR) -> Fences:
    """Fences from the quartiles (Hyndman and Fan's type 7, as in boxplots at large).

    Parameters
    ----------
    values : ndarray, shape (n,)
        NaN is left out.
    factor : float
        Interquartile ranges between quartile and fence.

    Raises
    ------
    ValueError
        With no finite value.
    """
    x = _finite(values, fewest=1)
    low, high = np.quantile(x, [0.25, 0.75])
    reach = factor * (high - low)
    return Fences(low=float(low - reach), high=float(high + reach))


def symmetrised_fences(values: FloatArray, *, factor: float = FENCE_FACTOR) -> Fences:
    """Tukey fences after a Yeo-Johnson transform to symmetry, carried back to the values' unit.

    A long tail that belongs to the distribution is then not pointed at. Values are centred on
    their median and scaled by their interquartile range, because the transform depends on both;
    the power is the most likely one for the values that a first, quantile-based power leaves
    inside the fences, so that the outlier sought does not itself choose the power.

    Parameters
    ----------
    values : ndarray, shape (n,)
        NaN is left out. Any sign.
    factor : float

    Raises
    ------
    ValueError
        With fewer than 8 finite values: too few for an octile.

    References
    ----------
    Yeo and Johnson (2000), Biometrika 87:954; the quantile-based first power after Hinkley (1975),
    Biometrika 62:101; the reweighting after Raymaekers and Rousseeuw (2024), Mach. Learn. 113:4953.
    """
    x = _finite(values, fewest=8)
    quarter, centre, three_quarters = np.quantile(x, [0.25, 0.5, 0.75])
    scale = float(three_quarters - quarter)
    if scale == 0:
        return tukey_fences(x, factor=factor)
    z = (x - centre) / scale
    first = _power_of_even_octiles(z)
    inside = ~tukey_fences(_yeo_johnson(z, first), factor=factor).outside(_yeo_johnson(z, first))
    power = _most_likely_power(z[inside])
    fences = tukey_fences(_yeo_johnson(z, power), factor=factor)
    low, high = (_inverse_yeo_johnson(fence, power) for fence in (fences.low, fences.high))
    return Fences(
        low=float(centre + scale * low),
        high=float(centre + scale * high),
        power=power,
        centre=float(centre),
        scale=scale,
    )


def dixon_reed(values: FloatArray) -> tuple[float, float]:
    """Gap between each extreme and its neighbour, over the range: Dixon's ratio by Reed's rule.

    Parameters
    ----------
    values : ndarray, shape (n,)
        NaN is left out.

    Returns
    -------
    low_ratio, high_ratio : float
        An extreme is pointed at where its ratio reaches `REED_RATIO`. Two outliers side by side
        hide one another: the rule looks at the extremes only. Both are 0 where all values agree.

    Raises
    ------
    ValueError
        With fewer than 3 finite values.
    """
    x = np.sort(_finite(values, fewest=3))
    spread = x[-1] - x[0]
    if spread == 0:
        return 0.0, 0.0
    return float((x[1] - x[0]) / spread), float((x[-1] - x[-2]) / spread)


def _finite(values: FloatArray, *, fewest: int) -> FloatArray:
    x: FloatArray = np.asarray(values, dtype=np.float64)
    x = x[~np.isnan(x)]
    if len(x) < fewest or not np.isfinite(x).all():
        raise ValueError(f"values: {len(x)} where at least {fewest} finite ones are needed")
    return x


def _power_of_even_octiles(z: FloatArray) -> float:
    octiles = np.quantile(z, [_TAIL, 0.5, 1 - _TAIL])

    def lean(power: float) -> float:
        low, middle, high = _yeo_johnson(octiles, power)
        return float((high - middle) - (middle - low))

    # The lean rises with the power; beyond the searched range the nearer end serves.
    if lean(_POWERS[0]) >= 0:
        return _POWERS[0]
    if lean(_POWERS[1]) <= 0:
        return _POWERS[1]
    return float(optimize.brentq(lean, *_POWERS))


def _most_likely_power(z: FloatArray) -> float:
    """Power under which the transformed values look most like normal ones."""
    log_stretch = np.sum(np.sign(z) * np.log1p(np.abs(z)))

    def loss(power: float) -> float:
        variance = float(np.var(_yeo_johnson(z, power)))
        return float(0.5 * len(z) * np.log(variance) - (power - 1) * log_stretch)

    if np.ptp(z) == 0:
        return 1.0
    found = optimize.minimize_scalar(loss, bounds=_POWERS, method="bounded")
    return float(found.x)


def _yeo_johnson(z: FloatArray, power: float) -> FloatArray:
    # boxcox1p keeps its digits where the power is near 0.
    right = special.boxcox1p(np.maximum(z, 0), power)
    left = -special.boxcox1p(np.maximum(-z, 0), 2 - power)
    return np.asarray(np.where(z >= 0, right, left), dtype=np.float64)


def _inverse_yeo_johnson(y: float, power: float) -> float:
    """Value whose transform is ``y``; infinite where the transform never gets that far."""
    sign, exponent = (1.0, power) if y >= 0 else (-1.0, 2 - power)
    if exponent * abs(y) <= -1:
        return sign * np.inf
    if abs(exponent) < _LOGARITHM:
        return float(sign * np.expm1(abs(y)))
    return float(sign * special.inv_boxcox1p(abs(y), exponent))
