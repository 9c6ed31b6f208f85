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
    e = theta[RESIDUAL]
    per_count = sums.inverse_counts
    weight, totals, design_totals = state.unit_weight, state.totals, state.design_totals
    outer_weight = sums.over_outer(weight)
    unit_trace = weight - state.shrink[sums.outer_of_unit] * weight**2
    trace = np.stack(
        [
            (outer_weight * (1.0 - state.shrink * outer_weight)).sum(axis=0),
            unit_trace.sum(axis=0),
            (sums.observations - sums.inner_units) / e + (unit_trace * per_count).sum(axis=0),
        ]
    )
    outer_design = sums.over_outer(design_totals)
    for row, (parts, scaled) in enumerate(
        [
            (outer_design, outer_design),
            (design_totals, design_totals),
            (design_totals, design_totals * per_count),
        ]
    ):
        crossed = np.einsum("puc,quc->cpq", parts, scaled)
        trace[row] -= np.einsum("cpq,cqp->c", state.fixed_covariance, crossed)
    fitted = np.stack(
        [
            (sums.over_outer(totals) ** 2).sum(axis=0),
            (totals**2).sum(axis=0),
            sums.within / e**2 + (totals**2 * per_count).sum(axis=0),
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
    e = theta[RESIDUAL]
    counts, weight, shrink = sums.counts, state.unit_weight, state.shrink
    single = 1.0 / (e + counts * theta[INNER])  # element of B^-1 1, B being V without outer
    square = counts * single**2
    outer_weight, outer_square = sums.over_outer(weight), sums.over_outer(square)
    outer_weight_square = sums.over_outer(weight**2)
    left = 1.0 - shrink * outer_weight
    unit_shrink = shrink[sums.outer_of_unit]
    aa = ((outer_weight * left) ** 2).sum(axis=0)
    ab = (outer_weight_square * left**2).sum(axis=0)
    ae = (outer_square * left**2).sum(axis=0)
    bb = (weight**2 * (1 - 2 * unit_shrink * weight)).sum(axis=0)
    bb += ((shrink * outer_weight_square) ** 2).sum(axis=0)
    be = (square * (1 - 2 * unit_shrink * weight)).sum(axis=0)
    be += (shrink**2 * outer_weight_square * outer_square).sum(axis=0)
    ee = ((counts - 1) / e**2 + single**2).sum(axis=0)
    ee -= 2 * (shrink * sums.over_outer(counts * single**3)).sum(axis=0)
    ee += ((shrink * outer_square) ** 2).sum(axis=0)
    return np.moveaxis(np.array([[aa, ab, ae], [ab, bb, be], [ae, be, ee]]), -1, 0)
