"""Standard errors that hold whatever ties the observations of a group together.

A mixed model's own errors are right only where its random effects are all there are. Days that a
model does not know, or slopes of a group's own, make them too small. Here each group's residuals
speak for themselves: the bias-reduced linearisation of Bell and McCaffrey (2002, Surv. Methodol.
28:169), called CR2, with its degrees of freedom, on observations made independent by the model's
covariance. Where that covariance is right the error is unbiased, where it is not, nearly so
(Pustejovsky and Tipton 2018, J. Bus. Econ. Stat. 36:672, who take another root of it).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from norms.statistics.mixed_models import Estimates

FloatArray = NDArray[np.float64]

ALL_OF_IT: Final = 1e-8
"""Share of a direction left without a group, below which that group alone tells it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroupSums:
    """What each group brings to a weighted fit.

    Attributes
    ----------
    fixed : ndarray, shape (p,)
    information : ndarray, shape (g, p, p)
        X' V^-1 X of each group.
    scores : ndarray, shape (g, p)
        X' V^-1 (y - X b) of each group.
    """

    fixed: FloatArray
    information: FloatArray
    scores: FloatArray


def group_sums(
    outcome: ArrayLike,
    design: ArrayLike,
    random: ArrayLike,
    random_covariance: ArrayLike,
    residual_variance: float,
    groups: ArrayLike,
    fixed: ArrayLike,
) -> GroupSums:
    """Sums of a fitted mixed model by group.

    Parameters
    ----------
    outcome : array_like, shape (s,)
    design : array_like, shape (s, p)
        Of full column rank.
    random : array_like, shape (s, r)
        Columns of the random effects, the intercept among them.
    random_covariance : array_like, shape (r, r)
        Of the random effects; zero where groups do not differ.
    residual_variance : float
    groups : array_like, shape (s,)
    fixed : array_like, shape (p,)
        The fit's estimates.
    """
    x, b = np.asarray(design, dtype=np.float64), np.asarray(fixed, dtype=np.float64)
    z = np.asarray(random, dtype=np.float64)
    left = np.asarray(outcome, dtype=np.float64) - x @ b
    codes = np.unique(np.asarray(groups), return_inverse=True)[1]
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(codes[order]) > 0])
    # V = residual variance (I + K K') inside a group, with K the random columns times a root.
    values, vectors = np.linalg.eigh(np.asarray(random_covariance) / residual_variance)
    k = (z @ (vectors * np.sqrt(np.maximum(values, 0.0))))[order]
    columns = np.column_stack([x, left])[order]

    def summed(first: FloatArray, second: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(first[:, :, None] * second[:, None, :], starts))

    pulled = summed(k, columns)
    inner = np.eye(k.shape[1]) + summed(k, k)
    whole = summed(columns, columns)
    whole -= np.swapaxes(pulled, 1, 2) @ np.linalg.solve(inner, pulled)
    whole /= residual_variance
    return GroupSums(fixed=b, information=whole[:, :-1, :-1], scores=whole[:, :-1, -1])


def robust_estimate(sums: GroupSums, weights: ArrayLike) -> Estimates:
    """Estimate ``weights @ fixed`` with its CR2 error and degrees of freedom.

    Parameters
    ----------
    sums : GroupSums
    weights : array_like, shape (p,)
    """
    w = np.asarray(weights, dtype=np.float64)
    scale = np.sqrt(np.einsum("gii->i", sums.information))
    shares = sums.information / scale / scale[:, None]
    values, vectors = np.linalg.eigh(shares.sum(axis=0))
    root = (vectors / np.sqrt(values)) @ vectors.T
    # Each group's share of the information in all directions: its leverage.
    leverage = root @ shares @ root
    kept, axes = np.linalg.eigh(np.eye(len(w)) - leverage)
    inverse = np.where(kept > ALL_OF_IT, 1.0 / np.sqrt(np.maximum(kept, ALL_OF_IT)), 0.0)
    adjusted = (axes * inverse[:, None, :]) @ np.swapaxes(axes, 1, 2) @ (root @ (w / scale))
    parts = np.einsum("gp,pq,gq->g", adjusted, root, sums.scores / scale)
    variance = float((parts**2).sum())
    own = np.einsum("gp,gpq,gq->g", adjusted, leverage, adjusted)
    crossed = np.einsum("gpq,gq->gp", leverage, adjusted)
    expected = np.diag(own) - crossed @ crossed.T
    with np.errstate(divide="ignore", invalid="ignore"):
        freedom = np.trace(expected) ** 2 / (expected**2).sum()
    value, error = float(w @ sums.fixed), np.sqrt(variance)
    freedom = max(float(freedom), 1.0) if np.isfinite(freedom) else 1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        p_value = 2.0 * stats.t.sf(np.abs(np.divide(value, error)), freedom)
    return Estimates(
        value=np.array([value]),
        standard_error=np.array([error]),
        freedom=np.array([freedom]),
        p_value=np.atleast_1d(np.asarray(p_value, dtype=np.float64)),
    )
