"""Variance components of nested, unbalanced data by restricted maximum likelihood (REML).

The model of each response is ``y = X b + outer + inner + residual``: a random effect of the outer
unit, one of the inner unit nested in it, and the residual. In this project the outer unit is a
golfer, the inner one a golfer's day, and the residual the swing, but nothing here knows that.

Many responses are fitted at once. A nested model needs no matrix of the size of the data: counts
and means of the inner units carry all of it, so that one step costs a few passes over an array of
inner units × responses. Dimension letters: s observations, u inner units, g outer units,
c responses, p fixed effects.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from norms.statistics._nested_likelihood import (
    OUTER,
    RESIDUAL,
    LikelihoodState,
    average_information,
    evaluate,
    information,
    information_of_known_mean,
    score,
)
from norms.statistics._nested_sums import NestedSums, aggregate
from norms.statistics.one_thread import on_one_thread

FloatArray = NDArray[np.float64]

MOST_STEPS: Final = 200
MOST_HALVINGS: Final = 20
STEP_TOLERANCE: Final = 1e-9
"""Relative to the variance of the response."""
RESIDUAL_FLOOR: Final = 1e-12
LEAST_CURVATURE: Final = 0.01
"""Observed curvature in units of the expected one; where it is less, the expected one steps."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NestedComponents:
    """REML estimates for c responses.

    Attributes
    ----------
    variances : ndarray, shape (3, c)
        Outer, inner and residual variance, in the squared unit of the response. NaN where the
        design cannot tell a component from the next; 0 where it stands at its boundary.
    covariance : ndarray, shape (3, 3, c)
        Asymptotic covariance of the variances (inverse expected information), a component at its
        boundary included, as its own error is not nil; zero rows where it cannot be told.
    fixed : ndarray, shape (p, c)
        Intercept, or the columns of the design; NaN for one left out.
    fixed_covariance : ndarray, shape (p, p, c)
    log_likelihood : ndarray, shape (c,)
        Restricted, constants included.
    converged : ndarray of bool, shape (c,)
    observations, inner_units, outer_units : ndarray of int, shape (c,)
        Counted over the finite values of each response.
    outer_size : ndarray, shape (c,)
        Observations of an outer unit that take the place of k in unequal groups.
    inner_repeated, residual_repeated : ndarray of bool, shape (c,)
        Whether some outer unit holds two inner units, and some inner unit two observations:
        without the first the inner variance is part of the outer one, without the second it is
        part of the residual.
    """

    variances: FloatArray
    covariance: FloatArray
    fixed: FloatArray
    fixed_covariance: FloatArray
    log_likelihood: FloatArray
    converged: NDArray[np.bool_]
    observations: NDArray[np.int64]
    inner_units: NDArray[np.int64]
    outer_units: NDArray[np.int64]
    outer_size: FloatArray
    inner_repeated: NDArray[np.bool_]
    residual_repeated: NDArray[np.bool_]


@on_one_thread
def fit_nested(
    values: ArrayLike, outer: ArrayLike, inner: ArrayLike, design: ArrayLike | None = None
) -> NestedComponents:
    """Fit the nested model to every column of ``values``.

    Parameters
    ----------
    values : array_like, shape (s, c) or (s,)
        NaN where an observation lacks a response.
    outer, inner : array_like, shape (s,)
        Labels. An inner label is read within its outer one, so that it may recur elsewhere.
    design : array_like, shape (s, p), optional
        Fixed effects in place of the intercept, constant within every inner unit; some
        combination of the columns must be constant. A column that is zero wherever a response is
        seen (a lab that never gave it) is left out for that response.

    Returns
    -------
    NestedComponents

    Raises
    ------
    ValueError
        If lengths differ, a design column varies within an inner unit, or the fixed effects of a
        response cannot be told apart.

    Notes
    -----
    Newton's steps on the restricted likelihood (Patterson & Thompson 1971, Biometrika 58:545),
    Fisher's where it is not concave, with components kept at or above zero by an active set and
    steps halved until the likelihood does not fall.
    """
    table = np.asarray(values, dtype=np.float64)
    table = table[:, None] if table.ndim == 1 else table
    sums, centre, scale = aggregate(table, outer, inner, design)
    told = _told_by_design(sums)
    theta, converged = _ascend(sums, _equal_shares(told), told & (scale > 0))
    state = evaluate(sums, theta)
    covariance = _masked_inverse(information(sums, theta, state), told)
    return _in_units_of_data(sums, centre, scale, theta, told, covariance, state, converged)


def correlation(
    components: NestedComponents, confidence: float = 0.95, *, same_inner: bool = False
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Intraclass correlation of two single observations of an outer unit, with its interval.

    Parameters
    ----------
    components : NestedComponents
    confidence : float
    same_inner : bool
        Whether the two lie in the same inner unit, whose variance they then share.

    Returns
    -------
    icc, low, high : ndarray, shape (c,)
        The shared variance over the sum of all; NaN where the design does not tell it.

    Notes
    -----
    The interval is by the delta method on ``log(1 + k0 ratio)``, the logarithm of what an F test
    would compare, ``ratio`` being the shared over the other variance and ``k0`` the effective
    size. There the estimate is close to normal, also where the shared variance is 0; its coverage
    is measured in tests/calibration.
    """
    shares = np.array([1.0, same_inner, 0.0])
    parts = np.nan_to_num(components.variances)
    shared, rest = shares @ parts, (1 - shares) @ parts
    told = components.residual_repeated if same_inner else components.inner_repeated
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(told & np.isfinite(components.variances[OUTER]), shared / rest, np.nan)
        slope = (shares[:, None] - (1 - shares[:, None]) * ratio) / rest
        ratio_sd = np.sqrt(np.einsum("ic,ijc,jc->c", slope, components.covariance, slope))
        k0 = components.outer_size
        factor = 1 + k0 * ratio
        reach = stats.norm.ppf((1 + confidence) / 2) * k0 * ratio_sd / factor
        low = np.maximum((factor * np.exp(-reach) - 1) / k0, 0.0)
        high = (factor * np.exp(reach) - 1) / k0
        return ratio / (1 + ratio), low / (1 + low), high / (1 + high)


def _told_by_design(sums: NestedSums) -> NDArray[np.bool_]:
    """Which of the three variances the design tells from the others and from fixed effects."""
    repeated = sums.inner_repeated | sums.residual_repeated
    both = sums.inner_repeated & sums.residual_repeated
    told = np.stack([repeated, both, repeated])
    theta = _equal_shares(told)
    state = evaluate(sums, theta)
    left = np.einsum("cii->ic", information(sums, theta, state))
    given = np.einsum("cii->ic", information_of_known_mean(sums, theta, state)) / 2
    # Fixed effects that follow the units of a level leave its variance no information.
    return np.asarray(told & (left > 1e-9 * given))


def _equal_shares(told: NDArray[np.bool_]) -> FloatArray:
    """A start: the unit variance in equal parts; the residual takes what nothing tells."""
    parts = told[:RESIDUAL] / (1.0 + told[:RESIDUAL].sum(axis=0))
    return np.concatenate([parts, 1.0 - parts.sum(axis=0, keepdims=True)])


def _ascend(
    sums: NestedSums, theta: FloatArray, told: NDArray[np.bool_]
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Climb the restricted likelihood, each response on its own, until no step moves it."""
    theta = theta.copy()
    converged = np.asarray(~told.any(axis=0))
    stuck = np.zeros_like(converged)
    floor = np.array([0.0, 0.0, RESIDUAL_FLOOR])[:, None]
    for _ in range(MOST_STEPS):
        active = np.flatnonzero(~converged & ~stuck)
        if active.size == 0:
            break
        part, now = sums.responses(active), theta[:, active]
        state = evaluate(part, now)
        slope = score(part, now, state)
        free = told[:, active] & ((now > floor) | (slope > 0))
        step = np.einsum(
            "ijc,jc->ic", _masked_inverse(_curvature(part, now, state, free), free), slope
        )
        wanted = np.abs(np.maximum(now + step, floor) - now).max(axis=0)
        moved = _halve_until_no_worse(part, now, step, floor, state.log_likelihood)
        converged[active] = wanted <= STEP_TOLERANCE
        stuck[active] = (moved == now).all(axis=0)
        theta[:, active] = moved
    return theta, converged


def _curvature(
    sums: NestedSums, theta: FloatArray, state: LikelihoodState, free: NDArray[np.bool_]
) -> FloatArray:
    """Observed information where it curves downward in every free direction, else the expected."""
    expected = information(sums, theta, state)
    observed = 2 * average_information(sums, theta, state) - expected
    scaled = _scaled(observed, _roots(expected, free), free)
    concave = np.linalg.eigvalsh(scaled)[:, 0] > LEAST_CURVATURE
    return np.where(concave[:, None, None], observed, expected)


def _roots(matrices: FloatArray, free: NDArray[np.bool_]) -> FloatArray:
    """Square roots of the diagonals, 1 for what is not free; shape (c, 3)."""
    diagonal = np.einsum("cii->ci", matrices)
    return np.sqrt(np.where(free.T, np.maximum(diagonal, np.finfo(float).tiny), 1.0))


def _scaled(matrices: FloatArray, roots: FloatArray, free: NDArray[np.bool_]) -> FloatArray:
    """Free components of (c, 3, 3) matrices in units of ``roots``, identity elsewhere."""
    both = free.T[:, :, None] & free.T[:, None, :]
    return np.where(both, matrices / roots[:, :, None] / roots[:, None, :], np.eye(3))


def _halve_until_no_worse(
    sums: NestedSums, now: FloatArray, step: FloatArray, floor: FloatArray, current: FloatArray
) -> FloatArray:
    """The longest of step, step/2, step/4 … whose likelihood does not fall; else stay."""
    share = np.ones(now.shape[1])
    moved = np.maximum(now + step, floor)
    pending = np.arange(now.shape[1])
    for _ in range(MOST_HALVINGS):
        reached = evaluate(sums.responses(pending), moved[:, pending]).log_likelihood
        slack = 1e-12 * np.abs(current[pending])  # rounding must not look like a fall
        pending = pending[~(reached >= current[pending] - slack)]
        if pending.size == 0:
            return moved
        share[pending] *= 0.5
        moved[:, pending] = np.maximum(now[:, pending] + share[pending] * step[:, pending], floor)
    moved[:, pending] = now[:, pending]
    return moved


def _masked_inverse(matrices: FloatArray, free: NDArray[np.bool_]) -> FloatArray:
    """Inverse over the free components only, zeros elsewhere; shape (3, 3, c)."""
    roots = _roots(matrices, free)
    # A pseudo-inverse: components that the data hardly tell apart must not stop the others.
    inverse = np.linalg.pinv(_scaled(matrices, roots, free), hermitian=True, rcond=1e-12)
    inverse = inverse / roots[:, :, None] / roots[:, None, :]
    both = free.T[:, :, None] & free.T[:, None, :]
    return np.moveaxis(np.where(both, inverse, 0.0), 0, -1)


def _in_units_of_data(
    sums: NestedSums,
    centre: FloatArray,
    scale: FloatArray,
    theta: FloatArray,
    told: NDArray[np.bool_],
    covariance: FloatArray,
    state: LikelihoodState,
    converged: NDArray[np.bool_],
) -> NestedComponents:
    """Undo the standardisation and mark as NaN what the design cannot tell."""
    present = sums.effects_present
    constant = np.linalg.lstsq(sums.design, np.ones(len(sums.design)), rcond=None)[0]
    fixed = state.fixed * scale + centre * constant[:, None]
    positive = np.where(scale > 0, scale, np.nan)
    freedom = sums.observations - present.sum(axis=0)
    return NestedComponents(
        variances=np.where(told, theta * scale**2, np.nan),
        covariance=np.where(told.any(axis=0), covariance, np.nan) * scale**4,
        fixed=np.where(present, fixed, np.nan),
        fixed_covariance=np.where(
            present[:, None] & present[None], np.moveaxis(state.fixed_covariance, 0, -1), np.nan
        )
        * scale**2,
        log_likelihood=state.log_likelihood - freedom * np.log(positive),
        converged=converged,
        observations=sums.observations,
        inner_units=sums.inner_units,
        outer_units=sums.outer_units,
        outer_size=sums.outer_size,
        inner_repeated=sums.inner_repeated,
        residual_repeated=sums.residual_repeated,
    )
