"""Quantile regression by linear programming, and rearrangement of crossing quantiles.

Sources: Koenker & Bassett, Regression quantiles, Econometrica 46 (1978) 33-50; Chernozhukov,
Fernandez-Val & Galichon, Quantile and probability curves without crossing, Econometrica 78
(2010) 1093-1125.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog

FloatArray = NDArray[np.float64]


def fit_quantile(
    design: ArrayLike, response: ArrayLike, share: float, *, weights: ArrayLike | None = None
) -> FloatArray:
    """Coefficients of the linear quantile regression at one share.

    The dual program is solved, with one bounded variable for each observation and one equation
    for each coefficient; the coefficients are the marginals of those equations.

    Parameters
    ----------
    design : array_like, shape (n, c)
        Full column rank.
    response : array_like, shape (n,)
    share : float
        Share of observations below the fitted quantile, above 0 and below 1.
    weights : array_like, shape (n,), optional
        Positive; an integer weight counts as that many copies of the row.

    Returns
    -------
    ndarray, shape (c,)

    Raises
    ------
    ValueError
        If shapes differ, ``share`` is out of range, a weight is not positive, or the program has
        no solution.
    """
    X = np.asarray(design, dtype=np.float64)
    y = np.asarray(response, dtype=np.float64)
    w = np.ones(len(y)) if weights is None else np.asarray(weights, dtype=np.float64)
    if X.ndim != 2 or y.shape != (X.shape[0],) or w.shape != y.shape:
        raise ValueError(f"design {X.shape}, response {y.shape}, weights {w.shape} do not fit")
    if not 0.0 < share < 1.0:
        raise ValueError(f"share: {share} where more than 0 and less than 1 is needed")
    if not np.all(w > 0):
        raise ValueError("weights: all must be positive")
    solution = linprog(
        -y,
        A_eq=X.T,
        b_eq=(1.0 - share) * (X.T @ w),
        bounds=[(0.0, float(most)) for most in w],
        method="highs",
    )
    if solution.status != 0:
        raise ValueError(f"quantile regression has no solution: {solution.message}")
    return -np.asarray(solution.eqlin.marginals, dtype=np.float64)


def rearrange(
    quantiles: ArrayLike, *, widths: ArrayLike | None = None, shares: ArrayLike | None = None
) -> FloatArray:
    """Make fitted quantiles rise: the rearrangement of their step function.

    Parameters
    ----------
    quantiles : array_like, shape (..., q)
        Fitted values in order of share; may cross.
    widths : array_like, shape (q,), optional
        Length of share over which each value holds, from share 0 on. Equal lengths if omitted,
        where rearranging is sorting.
    shares : array_like, shape (k,), optional
        Where the rearranged step function is read, 0 to 1 of the total width; with equal widths
        and no ``shares`` the sorted values themselves are returned.

    Returns
    -------
    ndarray, shape (..., q) or (..., k)
    """
    values = np.asarray(quantiles, dtype=np.float64)
    if shares is None:
        if widths is not None:
            raise ValueError("shares: needed with unequal widths")
        return np.sort(values, axis=-1)
    count = values.shape[-1]
    lengths = np.full(count, 1.0 / count) if widths is None else np.asarray(widths, np.float64)
    order = np.argsort(values, axis=-1, kind="stable")
    ends = np.cumsum(lengths[order], axis=-1)
    wanted = np.asarray(shares, dtype=np.float64) * ends[..., -1:]
    place = (ends[..., :, None] <= wanted[..., None, :]).sum(axis=-2)
    rising = np.take_along_axis(values, order, axis=-1)
    return np.take_along_axis(rising, np.minimum(place, count - 1), axis=-1)
