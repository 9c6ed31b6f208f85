"""Where a value falls among quantiles that were published with intervals, without the sample.

Between two published quantiles the share is interpolated; beyond the outermost nothing is known
but that it is beyond.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator

FloatArray = NDArray[np.float64]

INTERPOLATION_ALLOWANCE: Final = 0.25
"""Part of the way from an interpolated limit to the published quantile that bounds it for certain
by which it is widened: between published quantiles the distribution may bend in any way."""


class QuantileLookup:
    """Published quantiles of one quantity, ready to be read the other way round.

    The hypothesis that the share below x is p is kept where x lies in the interval of the quantile
    p, so that the limits of a share are read off the interval's limits. Between published
    quantiles these are interpolated by monotone cubics and widened toward the quantile on their
    outer side.

    Parameters
    ----------
    shares : array_like, shape (q,)
        Rising, strictly between 0 and 1; at least one.
    value, low, high : array_like, shape (q,)
        The quantiles and their intervals' limits, none of them falling.

    Raises
    ------
    ValueError
        If there is no quantile, the shapes differ, or values fall.

    References
    ----------
    Fritsch and Carlson (1980), SIAM J. Numer. Anal. 17:238 (monotone cubics).
    """

    def __init__(
        self, shares: ArrayLike, value: ArrayLike, low: ArrayLike, high: ArrayLike
    ) -> None:
        p, v, lo, hi = (np.asarray(one, dtype=float) for one in (shares, value, low, high))
        if not (p.ndim == 1 and p.size and p.shape == v.shape == lo.shape == hi.shape):
            raise ValueError("quantiles: shares, values and limits of one length are needed")
        if any((np.diff(one) < 0).any() for one in (p, v, lo, hi)):
            raise ValueError("quantiles: shares, values and limits must not fall")
        self._shares, self._values, self._lows, self._highs = p, v, lo, hi
        self._share = _Curve(v, p, ties="middle")
        self._lower = _Curve(hi, p, ties="lowest")
        self._upper = _Curve(lo, p, ties="highest")

    @property
    def outermost(self) -> tuple[float, float]:
        """Smallest and largest published share."""
        return float(self._shares[0]), float(self._shares[-1])

    def below(self, x: float) -> bool:
        """Whether a value lies below every published quantile."""
        return bool(x < self._values[0])

    def above(self, x: float) -> bool:
        """Whether a value lies above every published quantile."""
        return bool(x > self._values[-1])

    def share(self, x: float) -> float:
        """Share below a value; the outermost published one for a value beyond it."""
        smaller, larger = self._shares[self._values < x], self._shares[self._values > x]
        least = smaller[-1] if smaller.size else self._shares[0]
        most = larger[0] if larger.size else self._shares[-1]
        return min(max(self._share.at(x), float(least)), float(most))

    def interval(self, x: float) -> tuple[float, float]:
        """Limits of that share, at the confidence of the published intervals."""
        known = self.share(x)
        low, high = 0.0, 1.0
        if x > self._highs[0]:
            sure = float(self._shares[self._highs < x][-1])
            read = min(max(self._lower.at(x), sure), known)
            low = read - INTERPOLATION_ALLOWANCE * (read - sure)
        if x < self._lows[-1]:
            sure = float(self._shares[self._lows > x][0])
            read = max(min(self._upper.at(x), sure), known)
            high = read + INTERPOLATION_ALLOWANCE * (sure - read)
        return low, high

    def reach(self, x: float, half_width: float) -> tuple[float, float]:
        """Shares below ``x - half_width`` and ``x + half_width``; 0 and 1 where beyond."""
        least, most = x - half_width, x + half_width
        return (
            0.0 if self.below(least) else self.share(least),
            1.0 if self.above(most) else self.share(most),
        )


class _Curve:
    """Shares over values; equal values keep the lowest, the middle or the highest share."""

    def __init__(self, values: FloatArray, shares: FloatArray, *, ties: str) -> None:
        knots, first, counts = np.unique(values, return_index=True, return_counts=True)
        lowest, highest = shares[first], shares[first + counts - 1]
        kept = {"lowest": lowest, "middle": (lowest + highest) / 2.0, "highest": highest}[ties]
        self._ends = float(knots[0]), float(knots[-1])
        self._curve = PchipInterpolator(knots, kept) if knots.size > 1 else None
        self._only = float(kept[0])

    def at(self, value: float) -> float:
        if self._curve is None:
            return self._only
        return float(self._curve(min(max(value, self._ends[0]), self._ends[1])))
