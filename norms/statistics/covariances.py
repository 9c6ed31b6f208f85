"""Covariance matrices that estimates by moments may leave indefinite."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def positive_part(matrix: FloatArray) -> FloatArray:
    """The nearest positive semidefinite matrix: negative eigenvalues set to zero."""
    values, vectors = np.linalg.eigh(matrix)
    part: FloatArray = (vectors * np.maximum(values, 0.0)) @ vectors.T
    return part
