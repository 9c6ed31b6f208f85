"""Restricted likelihood of the nested model, its gradient and its information, in closed form.

Within an inner unit V is ``e I + b J``; outer units add ``a J``. Inverting the two in turn
(Searle, Casella & McCulloch, Variance Components) leaves sums over inner and outer units: no
matrix of the size of the data appears. Letters as in ``variance_components``; theta is the outer,
inner and residual variance (a, b, e) of every response, shape (3, c).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from norms.statistics._nested_sums import NestedSums

FloatArray = NDArray[np.float64]

OUTER, INNER, RESIDUAL = 0, 1, 2


@dataclass(frozen=True, slots=True, eq=False)
class LikelihoodState:
    """Everything of one evaluation that later formulas share; see ``evaluate``."""

    unit_weight: FloatArray  # (u, c) precision of an inner mean about its outer effect
    shrink: FloatArray  # (g, c) a / (1 + a W)
    design_totals: FloatArray  # (p, u, c) totals of V^-1 X by inner unit
    fixed_covariance: FloatArray  # (c, p, p)
    fixed: FloatArray  # (p, c)
    totals: FloatArray  # (u, c) totals of V^-1 (y - X b) by inner unit
    log_likelihood: FloatArray  # (c,)


def _solve_totals(
    sums: NestedSums, weight: FloatArray, shrink: FloatArray, unit_values: FloatArray
) -> FloatArray:
    """Totals by inner unit of V^-1 v for a vector v that is constant within inner units."""
    weighted = weight * unit_values
    return weighted - weight * (shrink * sums.over_outer(weighted))[..., sums.outer_of_unit, :]


def evaluate(sums: NestedSums, theta: FloatArray) -> LikelihoodState:
    """Restricted likelihood at theta, with what gradient and information need of it."""
    a, b, e = theta
    denominator = e + sums.counts * b
    weight = sums.counts / denominator
    outer_weight = sums.over_outer(weight)
    shrink = a / (1.0 + a * outer_weight)
    design_totals = np.stack(
        [_solve_totals(sums, weight, shrink, x[:, None]) for x in sums.design.T]
    )
    crossed = np.einsum("up,quc->cpq", sums.design, design_totals)
    present = sums.effects_present
    # A one on the diagonal takes an absent effect out of inverse and determinant alike.
    crossed += np.eye(len(present)) * ~present.T[:, :, None]
    fixed_covariance = np.linalg.inv(crossed) * present.T[:, :, None]
    totals_y = np.einsum("puc,uc->pc", design_totals, sums.means)
    fixed = np.einsum("cpq,qc->pc", fixed_covariance, totals_y)
    deviation = sums.means - sums.design @ fixed
    totals = _solve_totals(sums, weight, shrink, deviation)
    quadratic = sums.within / e + (deviation * totals).sum(axis=0)
    observed = sums.observations
    log_determinant = (
        (observed - sums.inner_units) * np.log(e)
        + np.where(sums.counts > 0, np.log(denominator), 0.0).sum(axis=0)
        + np.log1p(a * outer_weight).sum(axis=0)
        + np.linalg.slogdet(crossed)[1]
    )
    freedom = observed - present.sum(axis=0)
    log_likelihood = -0.5 * (log_determinant + quadratic + freedom * np.log(2.0 * np.pi))
    return LikelihoodState(
        weight, shrink, design_totals, fixed_covariance, fixed, totals, log_likelihood
    )


def score(sums: NestedSums, theta: FloatArray, state: LikelihoodState) -> FloatArray:
    """Gradient of the restricted likelihood by (outer, inner, residual), shape (3, c)."""
    return np.asarray(score_by_outer(sums, theta, state).sum(axis=1))


def score_by_outer(sums: NestedSums, theta: FloatArray, state: LikelihoodState) -> FloatArray:
    """Each outer unit's share of the gradient, shape (3, g, c)."""
    e = theta[RESIDUAL]
    counts, per_count, over = sums.counts, sums.inverse_counts, sums.over_outer
    weight, totals, design_totals = state.unit_weight, state.totals, state.design_totals
    outer_weight = over(weight)
    unit_trace = weight - state.shrink[sums.outer_of_unit] * weight**2
    trace = np.stack(
        [
            outer_weight * (1.0 - state.shrink * outer_weight),
            over(unit_trace),
            over(np.maximum(counts - 1, 0) / e + unit_trace * per_count),
        ]
    )
    outer_design = over(design_totals)
    fixed = state.fixed_covariance
    spent = np.einsum("puc,quc,cpq->uc", design_totals, design_totals, fixed, optimize=True)
    trace[0] -= np.einsum("pgc,qgc,cpq->gc", outer_design, outer_design, fixed, optimize=True)
    trace[1] -= over(spent)
    trace[2] -= over(spent * per_count)
    fitted = np.stack(
        [
            over(totals) ** 2,
            over(totals**2),
            over(sums.unit_squares / e**2 + totals**2 * per_count),
        ]
    )
    return np.asarray(0.5 * (fitted - trace))


def information(sums: NestedSums, theta: FloatArray, state: LikelihoodState) -> FloatArray:
    """Expected information of the three variances, tr(P Vi P Vj) / 2, shape (c, 3, 3)."""
    work = np.stack(
        [
            sums.over_outer(state.design_totals)[:, sums.outer_of_unit],
            state.design_totals,
            state.design_totals * sums.inverse_counts,
        ]
    )
    solved = _solve_totals(sums, state.unit_weight, state.shrink, work)
    twice = np.einsum("ipuc,jquc,cpq->cij", work, solved, state.fixed_covariance, optimize=True)
    once = np.einsum("iquc,up->cipq", solved, sums.design, optimize=True)
    once = np.einsum("cpr,cirq->cipq", state.fixed_covariance, once)
    corrected = np.einsum("cipq,cjqp->cij", once, once)
    return np.asarray(0.5 * (information_of_known_mean(sums, theta, state) - 2 * twice + corrected))


def average_information(sums: NestedSums, theta: FloatArray, state: LikelihoodState) -> FloatArray:
    """Mean of expected and observed information, y'P Vi P Vj P y / 2, shape (c, 3, 3).

    Gilmour, Thompson & Cullis 1995, Biometrics 51:1440.
    """
    work = np.stack(
        [
            sums.over_outer(state.totals)[sums.outer_of_unit],
            state.totals,
            state.totals * sums.inverse_counts,
        ]
    )
    solved = _solve_totals(sums, state.unit_weight, state.shrink, work)
    found = np.einsum("iuc,juc->cij", work, solved)
    found[:, RESIDUAL, RESIDUAL] += sums.within / theta[RESIDUAL] ** 3
    on_design = np.einsum("up,iuc->cip", sums.design, solved)
    projected = np.einsum("cip,cpq,cjq->cij", on_design, state.fixed_covariance, on_design)
    return np.asarray(0.5 * (found - projected))


def information_of_known_mean(
    sums: NestedSums, theta: FloatArray, state: LikelihoodState
) -> FloatArray:
    """tr(V^-1 Vi V^-1 Vj), twice the information if the fixed effects were known, (c, 3, 3)."""
    return np.asarray(known_mean_by_outer(sums, theta, state).sum(axis=0))


def known_mean_by_outer(sums: NestedSums, theta: FloatArray, state: LikelihoodState) -> FloatArray:
    """Each outer unit's share of ``information_of_known_mean``, shape (g, c, 3, 3)."""
    e = theta[RESIDUAL]
    counts, weight, shrink, over = sums.counts, state.unit_weight, state.shrink, sums.over_outer
    single = 1.0 / (e + counts * theta[INNER])  # element of B^-1 1, B being V without outer
    square = counts * single**2
    outer_weight, outer_square = over(weight), over(square)
    outer_weight_square = over(weight**2)
    left = 1.0 - shrink * outer_weight
    unit_shrink = shrink[sums.outer_of_unit]
    aa = (outer_weight * left) ** 2
    ab = outer_weight_square * left**2
    ae = outer_square * left**2
    bb = over(weight**2 * (1 - 2 * unit_shrink * weight)) + (shrink * outer_weight_square) ** 2
    be = over(square * (1 - 2 * unit_shrink * weight))
    be += shrink**2 * outer_weight_square * outer_square
    present = counts > 0
    ee = over(np.where(present, (counts - 1) / e**2 + single**2, 0.0))
    ee -= 2 * shrink * over(counts * single**3)
    ee += (shrink * outer_square) ** 2
    return np.moveaxis(np.array([[aa, ab, ae], [ab, bb, be], [ae, be, ee]]), (0, 1), (-2, -1))
