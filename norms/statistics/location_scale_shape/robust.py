"""Covariance of a penalised fit that does not lean on independent, equally weighted rows."""

import numpy as np
from numpy.typing import NDArray

from norms.statistics.location_scale_shape.penalised_fit import Fit
from norms.statistics.location_scale_shape.problem import Family, Problem, Term

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def sandwich(
    responses: FloatArray,
    family: Family,
    terms: tuple[Term, ...],
    fitted: Fit,
    *,
    weights: FloatArray | None = None,
    clusters: IntArray | None = None,
) -> FloatArray:
    """Covariance that holds when rows of one cluster depend on each other or carry weights.

    H = information + penalty; the covariance is inverse(H) (G + penalty) inverse(H), G the
    sum over clusters of the outer product of their scores (Huber 1967; Liang & Zeger 1986), the
    penalty in the middle for the bias that smoothing brings (Marra & Wood 2012).

    Parameters
    ----------
    responses, family, terms, weights
        As given to `fit`.
    fitted : Fit
    clusters : ndarray of int, shape (n,), optional
        Rows with the same number belong together. Each its own if omitted.

    Returns
    -------
    ndarray, shape (m, c, c)
    """
    problem = Problem(responses, family, terms, weights)
    penalty = problem.penalty(fitted.smoothing)
    member = np.arange(responses.shape[1]) if clusters is None else clusters
    label = np.unique(member, return_inverse=True)[1]
    middle = penalty.copy()
    for row in range(len(responses)):
        rows = np.array([row])
        _, first, _ = family.derivatives(
            responses[rows], problem.eta(rows, fitted.coefficients[rows])
        )
        slopes = [first[j][0, :, None] * terms[j].design for j in problem.free]
        scores = np.hstack(slopes) if weights is None else np.hstack(slopes) * weights[row][:, None]
        summed = np.zeros((int(label.max()) + 1, problem.columns))
        np.add.at(summed, label, scores)
        middle[row] += summed.T @ summed
    outer: FloatArray = fitted.covariance @ middle @ fitted.covariance
    return outer
