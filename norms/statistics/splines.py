"""B-splines on equally spaced knots and the difference penalty that smooths them.

Sources: de Boor, A Practical Guide to Splines (1978); Eilers & Marx, Flexible smoothing with
B-splines and penalties, Statistical Science 11 (1996) 89-121.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import BSpline

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SplineBasis:
    """A B-spline basis on equally spaced knots.

    Attributes
    ----------
    low, high : float
        Ends of the range that the basis covers, in the unit of the covariate.
    segments : int
        Intervals between knots.
    degree : int
        3 is cubic.
    """

    low: float
    high: float
    segments: int
    degree: int = 3

    def __post_init__(self) -> None:
        if not self.high > self.low:
            raise ValueError(f"high: {self.high} where more than low, {self.low}, is needed")
        if self.segments < 1 or self.degree < 1:
            raise ValueError("segments and degree: at least 1 of each is needed")

    @property
    def columns(self) -> int:
        """Number of basis functions."""
        return self.segments + self.degree

    def knots(self) -> FloatArray:
        """Knots, the outer ones beyond the range at the same spacing (Eilers & Marx 1996)."""
        step = (self.high - self.low) / self.segments
        places = np.arange(-self.degree, self.segments + self.degree + 1, dtype=np.float64)
        return self.low + step * places

    def design(self, x: ArrayLike) -> FloatArray:
        """Basis functions at ``x``; each row sums to one.

        Parameters
        ----------
        x : array_like, shape (n,)
            Values within ``low`` and ``high``.

        Returns
        -------
        ndarray, shape (n, columns)

        Raises
        ------
        ValueError
            If a value is outside the range or not finite: a spline says nothing there.
        """
        values = np.atleast_1d(np.asarray(x, dtype=np.float64))
        if not np.all((values >= self.low) & (values <= self.high)):
            raise ValueError(f"x: values outside {self.low:g} to {self.high:g}")
        # The last knot interval is closed on the right only after a nudge against rounding.
        knots = self.knots()
        inside = np.clip(values, knots[self.degree], knots[-self.degree - 1])
        design = BSpline.design_matrix(inside, knots, self.degree).toarray()
        return np.asarray(design, dtype=np.float64)


def difference_penalty(columns: int, order: int = 2) -> FloatArray:
    """Penalty matrix D'D on differences of neighbouring coefficients.

    With ``order`` 2 a straight line is left unpenalised; the rank is ``columns - order``.

    Parameters
    ----------
    columns : int
        Number of coefficients, more than ``order``.
    order : int

    Returns
    -------
    ndarray, shape (columns, columns)
    """
    if columns <= order:
        raise ValueError(f"columns: {columns} where more than order, {order}, is needed")
    differences = np.diff(np.eye(columns), n=order, axis=0)
    return differences.T @ differences
