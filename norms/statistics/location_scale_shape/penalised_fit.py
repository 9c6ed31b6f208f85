"""Penalised maximum likelihood for location-scale-shape families, many responses at once.

Every parameter of the family has its own linear predictor, design times coefficients, with a
quadratic penalty. The step is Newton's with the exact second derivatives. Smoothing parameters
maximise the Laplace approximate marginal likelihood by the generalised Fellner-Schall update
(Wood & Fasiolo, Biometrics 73 (2017) 1071-1081); responses of one pool share theirs.

Letters: m responses, n golfers, k parameters of the family, c coefficients of all terms together.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from norms.statistics.location_scale_shape.problem import Family, Problem, Term, check_problem

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_MOST_ITERATIONS = 120
_MOST_HALVINGS = 12
_DECREMENT_TOLERANCE = 1e-9
_FLAT = 1e-5
"""Newton decrement at which a response counts as converged where rounding allows no better."""
_NEAR = 1.0
"""Newton decrement, in units of log likelihood, below which smoothing parameters are updated."""
_SMOOTHING_TOLERANCE = 0.02
_SMOOTHING_START = 10.0
_MOST_CHANGE = 20.0
_STRAIGHT_FREEDOM = 0.02
_MOST_SMOOTHING_PER_GOLFER = 1e4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Fitted coefficients of m responses.

    Attributes
    ----------
    coefficients : ndarray, shape (m, c)
    information : ndarray, shape (m, c, c)
        Minus the second derivatives of the log likelihood.
    covariance : ndarray, shape (m, c, c)
        Inverse of the information with penalties added (the Bayesian covariance).
    log_likelihood : ndarray, shape (m,)
        Without penalty.
    smoothing : ndarray, shape (m, k)
    freedom : ndarray, shape (m, k)
        Effective degrees of freedom of each parameter: trace of covariance times information.
    converged : ndarray of bool, shape (m,)
    """

    coefficients: FloatArray
    information: FloatArray
    covariance: FloatArray
    log_likelihood: FloatArray
    smoothing: FloatArray
    freedom: FloatArray
    converged: NDArray[np.bool_]

    def at(self, rows: IntArray) -> "Fit":
        """The fit of some of the responses."""
        return Fit(**{name: getattr(self, name)[rows] for name in self.__slots__})


def fit(
    responses: FloatArray,
    family: Family,
    terms: tuple[Term, ...],
    *,
    weights: FloatArray | None = None,
    pools: IntArray | None = None,
    smoothing: FloatArray | None = None,
    start: FloatArray | None = None,
) -> Fit:
    """Fit one family to many responses by penalised maximum likelihood.

    Parameters
    ----------
    responses : ndarray, shape (m, n)
        Finite; positive where the family asks for it. Best scaled to a spread near one.
    family : Family
    terms : tuple of k Term
    weights : ndarray, shape (m, n), optional
        Not negative; 0 leaves a golfer out of one response.
    pools : ndarray of int, shape (m,), optional
        Responses with the same number share their smoothing parameters. Each its own if omitted.
    smoothing : ndarray, shape (m, k), optional
        Fixed smoothing parameters; chosen by marginal likelihood if omitted.
    start : ndarray, shape (m, c), optional
        Coefficients to begin with.

    Returns
    -------
    Fit

    Raises
    ------
    ValueError
        If shapes do not fit or a response is not finite or not positive where it must be.
    """
    check_problem(responses, family, terms, weights)
    problem = Problem(responses, family, terms, weights)
    beta = problem.start() if start is None else np.array(start, dtype=np.float64)
    with np.errstate(all="ignore"):  # a trial step may overflow; it is then refused
        return _iterate(problem, beta, _Pools(problem, pools, smoothing))


class _Pools:
    """Smoothing parameters by pool, and which response belongs to which."""

    def __init__(
        self, problem: Problem, pools: IntArray | None, smoothing: FloatArray | None
    ) -> None:
        count, kinds = len(problem.y), len(problem.terms)
        if pools is None or smoothing is not None:
            self.member = np.arange(count)
        else:
            self.member = np.unique(pools, return_inverse=True)[1]
        groups = int(self.member.max()) + 1
        self.settled = np.full(groups, smoothing is not None)
        given = np.full((groups, kinds), _SMOOTHING_START) if smoothing is None else smoothing
        self.smoothing = np.array(given, dtype=np.float64)


def _iterate(problem: Problem, beta: FloatArray, pools: _Pools) -> Fit:
    every = np.arange(len(beta))
    value, gradient, information = problem.evaluate(every, beta)
    active = np.ones(len(beta), dtype=bool)
    converged = np.zeros(len(beta), dtype=bool)
    for _ in range(_MOST_ITERATIONS):
        rows = np.flatnonzero(active)
        penalty = problem.penalty(pools.smoothing[pools.member[rows]])
        slope = gradient[rows] - np.einsum("rij,rj->ri", penalty, beta[rows])
        step = _newton_step(information[rows] + penalty, slope)
        decrement = np.einsum("ri,ri->r", slope, step)
        stuck = _advance(problem, rows, penalty, step, (beta, value, gradient, information))
        done = (decrement < _DECREMENT_TOLERANCE) | stuck
        converged[rows] = decrement < _FLAT
        if not pools.settled.all():
            # Far from a maximum the curvature says nothing about roughness.
            near = rows[decrement < _NEAR]
            _update_smoothing(problem, near, beta, information, pools)
        # A pool goes on as a whole until its smoothing has settled.
        active[rows] = ~(done & pools.settled[pools.member[rows]])
        if not active.any():
            break
    lam = pools.smoothing[pools.member]
    return _finish(problem, beta, lam, value, information, converged)


def _newton_step(matrix: FloatArray, slope: FloatArray) -> FloatArray:
    """Ascent direction; where a matrix is not positive definite its eigenvalues are made so."""
    try:
        np.linalg.cholesky(matrix)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(matrix)
        sizes = np.abs(values)
        sizes = np.maximum(sizes, 1e-6 * sizes.max(axis=1, keepdims=True))
        along = np.einsum("rij,ri->rj", vectors, slope) / sizes
        repaired: FloatArray = np.einsum("rij,rj->ri", vectors, along)
        return repaired
    return np.asarray(np.linalg.solve(matrix, slope[..., None])[..., 0])


def _advance(
    problem: Problem,
    rows: IntArray,
    penalty: FloatArray,
    step: FloatArray,
    state: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
) -> NDArray[np.bool_]:
    """Take each response's step, halved until the penalised likelihood does not fall.

    Writes into ``state``; returns which responses found no acceptable step.
    """
    beta, value, gradient, information = state
    penalised = value[rows] - 0.5 * np.einsum("ri,rij,rj->r", beta[rows], penalty, beta[rows])
    left, share = np.arange(len(rows)), 1.0
    for _ in range(_MOST_HALVINGS):
        at = rows[left]
        trial = beta[at] + share * step[left]
        new_value, new_gradient, new_information = problem.evaluate(at, trial)
        reached = new_value - 0.5 * np.einsum("ri,rij,rj->r", trial, penalty[left], trial)
        slack = 1e-10 * (1.0 + np.abs(penalised[left]))
        good = (reached >= penalised[left] - slack) & np.isfinite(new_information).all(axis=(1, 2))
        beta[at[good]], value[at[good]] = trial[good], new_value[good]
        gradient[at[good]], information[at[good]] = new_gradient[good], new_information[good]
        left, share = left[~good], share / 2.0
        if not len(left):
            break
    stuck = np.zeros(len(rows), dtype=bool)
    stuck[left] = True
    return stuck


def _update_smoothing(
    problem: Problem,
    rows: IntArray,
    beta: FloatArray,
    information: FloatArray,
    pools: _Pools,
) -> None:
    """One Fellner-Schall update of every pool that has not settled, from responses ``rows``."""
    high = _MOST_SMOOTHING_PER_GOLFER * problem.y.shape[1]
    matrix = information[rows] + problem.penalty(pools.smoothing[pools.member[rows]])
    sound = np.linalg.eigvalsh(matrix)[:, 0] > 0.0
    rows, covariance = rows[sound], np.linalg.inv(matrix[sound])
    member = pools.member[rows]
    count = np.bincount(member, minlength=len(pools.settled))
    moving = np.zeros(len(count), dtype=bool)
    for j in problem.free:
        term, part = problem.terms[j], problem.parts[j]
        if not term.rank:
            continue
        old = pools.smoothing[:, j]
        trace = np.einsum("rij,ji->r", covariance[:, part, part], term.penalty)
        rough = np.einsum("ri,ij,rj->r", beta[rows, part], term.penalty, beta[rows, part])
        wanted = np.bincount(member, term.rank - old[member] * trace, len(count))
        total = np.bincount(member, rough, len(count))
        ratio = np.maximum(wanted, 1e-300) / np.maximum(total, 1e-300)
        new = np.clip(ratio, old / _MOST_CHANGE, old * _MOST_CHANGE)
        new = np.clip(new, term.least_smoothing, high)
        # Nearly straight already: a larger penalty would change nothing that can be seen.
        straight = (wanted < _STRAIGHT_FREEDOM * count) & (new > old)
        moves = (count > 0) & ~pools.settled & ~straight
        moving |= moves & (np.abs(np.log(new / old)) > _SMOOTHING_TOLERANCE)
        pools.smoothing[moves, j] = new[moves]
    pools.settled |= (count > 0) & ~moving


def _inverse(matrix: FloatArray) -> FloatArray:
    """Inverse of symmetric matrices, eigenvalues kept above zero."""
    try:
        np.linalg.cholesky(matrix)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(matrix)
        values = np.maximum(values, 1e-10 * np.abs(values).max(axis=1, keepdims=True))
        repaired: FloatArray = np.einsum("rij,rj,rkj->rik", vectors, 1.0 / values, vectors)
        return repaired
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _finish(
    problem: Problem,
    beta: FloatArray,
    lam: FloatArray,
    value: FloatArray,
    information: FloatArray,
    converged: NDArray[np.bool_],
) -> Fit:
    covariance = _inverse(information + problem.penalty(lam))
    shares = np.einsum("rij,rji->ri", covariance, information)
    freedom = np.stack([shares[:, part].sum(axis=1) for part in problem.parts], axis=1)
    return Fit(
        coefficients=beta,
        information=information,
        covariance=covariance,
        log_likelihood=value,
        smoothing=lam,
        freedom=freedom,
        converged=converged,
    )
