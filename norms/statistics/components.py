"""Multivariate functional principal components of curves along several axes.

Letters: n curves, a axes, p nodes, c components.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_NO_VARIANCE: Final = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FunctionalComponents:
    """A basis that curves of the same kind can be projected on, whoever else is added later.

    Attributes
    ----------
    mean : ndarray, shape (a, p)
    functions : ndarray, shape (c, a, p)
        Orthonormal under the axis and node weights; of each, the value of largest magnitude is
        positive.
    eigenvalues : ndarray, shape (c,)
        Variances of the scores, divisor n - 1, falling.
    total : float
        Weighted variance of all the curves, so that shares are eigenvalues over total.
    axis_weights : ndarray, shape (a,)
    node_weights : ndarray, shape (p,)
    """

    mean: FloatArray
    functions: FloatArray
    eigenvalues: FloatArray
    total: float
    axis_weights: FloatArray
    node_weights: FloatArray

    def scores(self, curves: FloatArray) -> FloatArray:
        """Scores of curves, shape (..., a, p) to (..., c)."""
        weights = self.axis_weights[:, None] * self.node_weights
        scores: FloatArray = np.tensordot(
            (curves - self.mean) * weights, self.functions, axes=([-2, -1], [1, 2])
        )
        return scores


def trapezoid_weights(nodes: int) -> FloatArray:
    """Weights of equally spaced nodes over the unit interval by the trapezoid rule, shape (p,)."""
    weights = np.full(nodes, 1.0 / (nodes - 1))
    weights[[0, -1]] /= 2.0
    return weights


def equal_axis_weights(curves: FloatArray, node_weights: FloatArray) -> FloatArray:
    """One over each axis's integrated variance, so that no axis dominates by its size.

    Parameters
    ----------
    curves : ndarray, shape (n, a, p)
    node_weights : ndarray, shape (p,)

    Returns
    -------
    ndarray, shape (a,)

    Raises
    ------
    ValueError
        If an axis does not vary.

    References
    ----------
    Happ and Greven (2018), J. Am. Stat. Assoc. 113:649.
    """
    variance = curves.var(axis=0, ddof=1) @ node_weights
    if not (variance > _NO_VARIANCE).all():
        raise ValueError("curves: one axis does not vary; there is nothing to compare on it")
    weights: FloatArray = 1.0 / variance
    return weights


def fit_components(
    curves: FloatArray, axis_weights: FloatArray, node_weights: FloatArray, keep: int | None = None
) -> FunctionalComponents:
    """Principal components of curves under the inner product sum_a w_a integral f_a g_a.

    Parameters
    ----------
    curves : ndarray, shape (n, a, p)
    axis_weights : ndarray, shape (a,)
    node_weights : ndarray, shape (p,)
    keep : int, optional
        Components kept, by default all with variance.

    Returns
    -------
    FunctionalComponents

    Raises
    ------
    ValueError
        If there are fewer than two curves, or they do not vary.
    """
    n, a, p = curves.shape
    if n < 2:
        raise ValueError(f"curves: {n} given; at least 2 are needed")
    roots = np.sqrt(axis_weights[:, None] * node_weights)
    mean = curves.mean(axis=0)
    _, singular, rows = np.linalg.svd(
        ((curves - mean) * roots).reshape(n, a * p), full_matrices=False
    )
    eigenvalues = singular**2 / (n - 1)
    total = float(eigenvalues.sum())
    if not total > 0:
        raise ValueError("curves: all are alike; there are no components")
    kept = int((eigenvalues > _NO_VARIANCE * total).sum())
    kept = kept if keep is None else min(keep, kept)
    functions = _unweighted(rows[:kept].reshape(kept, a, p), roots)
    return FunctionalComponents(
        mean=mean,
        functions=functions,
        eigenvalues=eigenvalues[:kept],
        total=total,
        axis_weights=axis_weights,
        node_weights=node_weights,
    )


def _unweighted(rows: FloatArray, roots: FloatArray) -> FloatArray:
    """Right singular vectors as functions, the largest value of each made positive."""
    functions = rows / roots
    flat = functions.reshape(len(functions), -1)
    largest = flat[np.arange(len(flat)), np.abs(flat).argmax(axis=1)]
    signed: FloatArray = functions * np.sign(largest)[:, None, None]
    return signed


def components_needed(eigenvalues: FloatArray, total: float, share: float, most: int) -> int:
    """Fewest components that hold a share of the variance, and at most ``most``.

    Raises
    ------
    ValueError
        If ``share`` is not between 0 and 1 or ``most`` is below 1.
    """
    if not 0.0 < share < 1.0 or most < 1:
        raise ValueError(f"share {share}, most {most}: a share within 0 to 1, and 1 or more")
    enough = np.cumsum(eigenvalues) >= share * total - _NO_VARIANCE * total
    first = int(np.argmax(enough)) + 1 if enough.any() else len(eigenvalues)
    return min(first, most, len(eigenvalues))
