"""Gaussian mixtures by expectation and maximisation, many starts at once.

Four families of covariance: one sphere for each part, one diagonal for each part, one full matrix
for all parts, one full matrix for each part. Letters: n rows, d columns, k parts, r starts.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from norms.statistics.far_seeds import far_seeds

FloatArray = NDArray[np.float64]
Family = Literal["spherical", "diagonal", "tied", "full"]
FAMILIES: Final[tuple[Family, ...]] = ("spherical", "diagonal", "tied", "full")

MOST_STEPS: Final = 2_000
TOLERANCE: Final = 1e-9
"""Change of the log-likelihood of one row at which a fit has settled."""
ROUGH_TOLERANCE: Final = 1e-4
"""The same where only the size of a criterion is wanted, as in simulations."""
_WARM_STEPS: Final = 15
_FINALISTS: Final = 3
_FLOOR: Final = 1e-9
"""Smallest spread along any direction, as a share of the rows' average variance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GaussianMixture:
    """A fitted mixture.

    Attributes
    ----------
    family : {"spherical", "diagonal", "tied", "full"}
    weights : ndarray, shape (k,)
        Falling.
    means : ndarray, shape (k, d)
    covariances : ndarray, shape (k, d, d)
        Full matrices, whatever the family.
    log_likelihood : float
        Of the rows fitted, in all.
    parameters : int
    rows : int
    """

    family: Family
    weights: FloatArray
    means: FloatArray
    covariances: FloatArray
    log_likelihood: float
    parameters: int
    rows: int

    @property
    def bic(self) -> float:
        """Bayesian information criterion, -2 log L + parameters log n: smaller is better."""
        return -2.0 * self.log_likelihood + self.parameters * float(np.log(self.rows))

    def joint_log_density(self, rows: FloatArray, noise: FloatArray | None = None) -> FloatArray:
        """Log of weight times density of each part at each row, shape (n, k).

        Parameters
        ----------
        rows : ndarray, shape (n, d)
        noise : ndarray, shape (d, d), optional
            Covariance of an error of the rows, added to every part.
        """
        covariances = self.covariances if noise is None else self.covariances + noise
        joint: FloatArray = _joint_log_density(
            np.ascontiguousarray(rows.T),
            self.weights[None],
            self.means[None],
            _root(covariances)[None],
        )[0].T
        return joint

    def log_density(self, rows: FloatArray, noise: FloatArray | None = None) -> FloatArray:
        """Log density of the mixture at each row, shape (n,)."""
        return _log_sum(self.joint_log_density(rows, noise), axis=1)[:, 0]

    def memberships(self, rows: FloatArray, noise: FloatArray | None = None) -> FloatArray:
        """Probability of each part given each row, shape (n, k)."""
        joint = self.joint_log_density(rows, noise)
        share: FloatArray = np.exp(joint - _log_sum(joint, axis=1))
        return share


def free_parameters(family: Family, k: int, d: int) -> int:
    """Free parameters of a mixture: weights, means and covariances."""
    matrix = d * (d + 1) // 2
    spread = {"spherical": k, "diagonal": k * d, "tied": matrix, "full": k * matrix}[family]
    return k - 1 + k * d + spread


def fit_mixture(
    rows: FloatArray,
    k: int,
    family: Family,
    rng: np.random.Generator,
    *,
    starts: int = 20,
    fewest: float | None = None,
    tolerance: float = TOLERANCE,
) -> GaussianMixture | None:
    """The most likely mixture over many starts.

    Parameters
    ----------
    rows : ndarray, shape (n, d)
    k : int
    family : {"spherical", "diagonal", "tied", "full"}
    rng : numpy.random.Generator
    starts : int
        Seeds far apart; after a few steps the best three are taken to the end.
    fewest : float, optional
        Rows, by weight, that every part must hold, by default d + 1: a smaller part is a few rows
        that happen to lie on a plane, and its likelihood has no bound.
    tolerance : float
        Change of the log-likelihood of one row at which a fit has settled.

    Returns
    -------
    GaussianMixture or None
        None where every start ended in a part that is too small.

    Raises
    ------
    ValueError
        If there are not more rows than columns, or ``k`` is below 1.
    """
    n, d = rows.shape
    if k < 1 or n <= d:
        raise ValueError(f"{n} rows of {d} columns, {k} parts: more rows than columns are needed")
    fewest = float(d + 1) if fewest is None else fewest
    floor = _FLOOR * float(rows.var(axis=0).mean())
    seeds = far_seeds(rows, k, rng, starts=starts if k > 1 else 1)
    columns = np.ascontiguousarray(rows.T)
    shares = _nearest(columns, seeds)
    for _ in range(_WARM_STEPS):
        state = _maximise(columns, shares, family, floor)
        shares, likelihood = _expect(columns, state)
    finalists = np.argsort(-likelihood)[:_FINALISTS]
    state, shares, likelihood = _settle(columns, shares[finalists], family, floor, tolerance)
    sound = shares.sum(axis=2).min(axis=1) >= min(fewest, n / k)
    if not sound.any():
        return None
    best = int(np.where(sound, likelihood, -np.inf).argmax())
    return _mixture(family, tuple(part[best] for part in state), float(likelihood[best]), n)


def refit(rows: FloatArray, mixture: GaussianMixture, *, steps: int = 25) -> GaussianMixture:
    """The mixture brought a few steps nearer to other rows, from where it stands.

    For leaving a few rows out: the parts keep their order.
    """
    floor = _FLOOR * float(rows.var(axis=0).mean())
    chol = _root(mixture.covariances)[None]
    state = (mixture.weights[None], mixture.means[None], chol)
    columns = np.ascontiguousarray(rows.T)
    for _ in range(steps):
        shares, _ = _expect(columns, state)
        state = _maximise(columns, shares, mixture.family, floor)
    _, likelihood = _expect(columns, state)
    weights, means, chol = (part[0] for part in state)
    return _as_mixture(
        mixture.family, weights, means, chol @ chol.mT, float(likelihood[0]), len(rows)
    )


_State = tuple[FloatArray, FloatArray, FloatArray]
"""Weights (r, k), means (r, k, d), lower triangular roots of the covariances (r, k, d, d)."""


def _log_sum(joint: FloatArray, axis: int) -> FloatArray:
    """Log of the sum of exponentials along an axis, which is kept."""
    largest = joint.max(axis=axis, keepdims=True)
    total: FloatArray = largest + np.log(np.exp(joint - largest).sum(axis=axis, keepdims=True))
    return total


def _root(covariances: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.cholesky(covariances), dtype=np.float64)


# Below, ``columns`` are the rows turned round, shape (d, n), and rows lie along the last axis of
# everything: sums over the few parts and columns then run along memory, three times as fast.


def _nearest(columns: FloatArray, seeds: FloatArray) -> FloatArray:
    """All of a row's share to its nearest seed, shape (r, k, n)."""
    squares = ((columns - seeds[..., None]) ** 2).sum(axis=2)
    nearest = squares.argmin(axis=1)[:, None] == np.arange(seeds.shape[1])[:, None]
    return np.asarray(nearest, dtype=np.float64)


def _settle(
    columns: FloatArray, shares: FloatArray, family: Family, floor: float, tolerance: float
) -> tuple[_State, FloatArray, FloatArray]:
    before = np.full(len(shares), -np.inf)
    for _ in range(MOST_STEPS):
        state = _maximise(columns, shares, family, floor)
        shares, likelihood = _expect(columns, state)
        if (likelihood - before < tolerance * columns.shape[1]).all():
            break
        before = likelihood
    return state, shares, likelihood


def _expect(columns: FloatArray, state: _State) -> tuple[FloatArray, FloatArray]:
    """Shares of each row among the parts, (r, k, n), and the log-likelihood of each start, (r,)."""
    joint = _joint_log_density(columns, *state)
    density = _log_sum(joint, axis=1)
    return np.exp(joint - density), density.sum(axis=(1, 2))


def _maximise(columns: FloatArray, shares: FloatArray, family: Family, floor: float) -> _State:
    d, n = columns.shape
    held = np.maximum(shares.sum(axis=2), 1e-8)
    means = shares @ columns.T / held[..., None]
    departures = columns - means[..., None]
    if family in ("spherical", "diagonal"):
        variance = (departures**2 @ shares[..., None])[..., 0] / held[..., None]
        if family == "spherical":
            variance = np.broadcast_to(variance.mean(axis=2, keepdims=True), variance.shape)
        chol = np.sqrt(variance + floor)[..., None] * np.eye(d)
        return held / n, means, chol
    products = (departures * shares[:, :, None]) @ departures.mT
    if family == "tied":
        pooled = products.sum(axis=1, keepdims=True) / n
        covariances = np.broadcast_to(pooled, products.shape)
    else:
        covariances = products / held[..., None, None]
    return held / n, means, _root(covariances + floor * np.eye(d))


def _joint_log_density(
    columns: FloatArray, weights: FloatArray, means: FloatArray, chol: FloatArray
) -> FloatArray:
    """Log of weight times density of columns, shape (d, n), as (r, k, n)."""
    d = len(columns)
    scaled = np.linalg.inv(chol) @ (columns - means[..., None])
    half_log_det = np.log(np.diagonal(chol, axis1=2, axis2=3)).sum(axis=2)
    constant = np.log(weights) - half_log_det - 0.5 * d * np.log(2.0 * np.pi)
    joint: FloatArray = constant[..., None] - 0.5 * (scaled**2).sum(axis=2)
    return joint


def _mixture(
    family: Family, state: tuple[FloatArray, ...], likelihood: float, rows: int
) -> GaussianMixture:
    weights, means, chol = state
    order = np.argsort(-weights, kind="stable")
    covariances = chol @ np.swapaxes(chol, 1, 2)
    return _as_mixture(family, weights[order], means[order], covariances[order], likelihood, rows)


def _as_mixture(
    family: Family,
    weights: FloatArray,
    means: FloatArray,
    covariances: FloatArray,
    likelihood: float,
    rows: int,
) -> GaussianMixture:
    k, d = means.shape
    return GaussianMixture(
        family=family,
        weights=weights,
        means=means,
        covariances=covariances,
        log_likelihood=likelihood,
        parameters=free_parameters(family, k, d),
        rows=rows,
    )
