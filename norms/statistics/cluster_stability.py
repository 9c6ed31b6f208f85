"""Whether groups found in data are there: stability, and a test of no groups.

Letters: n rows, d columns, k groups.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from norms.statistics.mixtures import (
    FAMILIES,
    ROUGH_TOLERANCE,
    TOLERANCE,
    Family,
    GaussianMixture,
    fit_mixture,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

Grade = Literal["highly stable", "stable", "doubtful", "not to be trusted"]
HIGHLY_STABLE: Final = 0.85
STABLE: Final = 0.75
DOUBTFUL: Final = 0.60


def stability_grade(mean_jaccard: float) -> Grade:
    """Hennig's reading of a mean Jaccard similarity (2007, Comput. Stat. Data Anal. 52:258)."""
    if mean_jaccard >= HIGHLY_STABLE:
        return "highly stable"
    if mean_jaccard >= STABLE:
        return "stable"
    return "doubtful" if mean_jaccard >= DOUBTFUL else "not to be trusted"


def cluster_jaccard(
    rows: FloatArray,
    labels: IntArray,
    relabel: Callable[[FloatArray], IntArray],
    rng: np.random.Generator,
    *,
    resamples: int,
) -> FloatArray:
    """Mean Jaccard similarity of each group with its best match in resampled rows.

    Rows are drawn with replacement; groups are compared over the distinct rows drawn.

    Parameters
    ----------
    rows : ndarray, shape (n, d)
        One for each independent unit.
    labels : ndarray of int, shape (n,)
        From 0 to k - 1.
    relabel : callable
        Labels of the rows that it is given.
    rng : numpy.random.Generator
    resamples : int

    Returns
    -------
    ndarray, shape (k,)

    References
    ----------
    Hennig (2007), Comput. Stat. Data Anal. 52:258.
    """
    n, k = len(rows), int(labels.max()) + 1
    sums, seen = np.zeros(k), np.zeros(k)
    for _ in range(resamples):
        drawn = np.unique(rng.integers(n, size=n))
        found = relabel(rows[drawn])
        own = labels[drawn][:, None] == np.arange(k)
        new = found[:, None] == np.unique(found)
        both = own.T.astype(float) @ new.astype(float)
        union = own.sum(axis=0)[:, None] + new.sum(axis=0) - both
        present = own.any(axis=0)
        sums += np.where(present, (both / union).max(axis=1), 0.0)
        seen += present
    return sums / np.maximum(seen, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OneCloudTest:
    """Test that rows come from one Gaussian cloud.

    Attributes
    ----------
    improvement : float
        By how much the best mixture of several parts has the smaller BIC than one part; negative
        where one part is better.
    simulated : ndarray, shape (b,)
        The same of clouds without groups.
    p : float
        Share of clouds that improve as much, never below 1 / (b + 1).
    """

    improvement: float
    simulated: FloatArray
    p: float


def one_cloud_test(
    rows: FloatArray,
    most: int,
    rng: np.random.Generator,
    *,
    simulations: int = 99,
    families: Sequence[Family] = FAMILIES,
    starts: int = 6,
) -> OneCloudTest:
    """Parametric bootstrap of one Gaussian cloud against a mixture of two to ``most`` parts.

    Parameters
    ----------
    rows : ndarray, shape (n, d)
    most : int
    rng : numpy.random.Generator
    simulations : int
    families : sequence of str
        Families of covariance tried.
    starts : int

    References
    ----------
    McLachlan (1987), Appl. Stat. 36:318.
    """
    improvement = _improvement(rows, most, rng, families, starts)
    root = np.linalg.cholesky(np.cov(rows, rowvar=False).reshape(rows.shape[1], -1))
    simulated = np.array(
        [
            _improvement(rng.standard_normal(rows.shape) @ root.T, most, rng, families, starts)
            for _ in range(simulations)
        ]
    )
    p = (1.0 + (simulated >= improvement).sum()) / (simulations + 1.0)
    return OneCloudTest(improvement=improvement, simulated=simulated, p=float(p))


def _improvement(
    rows: FloatArray, most: int, rng: np.random.Generator, families: Sequence[Family], starts: int
) -> float:
    one = best_mixture(rows, 1, rng, families=families, starts=1)
    several = [
        best_mixture(rows, k, rng, families=families, starts=starts, tolerance=ROUGH_TOLERANCE)
        for k in range(2, most + 1)
    ]
    if one is None:
        return -np.inf
    return max((one.bic - found.bic for found in several if found is not None), default=-np.inf)


def best_mixture(
    rows: FloatArray,
    k: int,
    rng: np.random.Generator,
    *,
    families: Sequence[Family] = FAMILIES,
    starts: int = 20,
    fewest: float | None = None,
    tolerance: float = TOLERANCE,
) -> GaussianMixture | None:
    """The mixture of k parts with the smallest BIC over the families; None where there is none."""
    fits = [
        fit_mixture(rows, k, family, rng, starts=starts, fewest=fewest, tolerance=tolerance)
        for family in families
    ]
    return min((fit for fit in fits if fit is not None), key=lambda fit: fit.bic, default=None)
