"""Fit centiles by handicap: one value per golfer in, a record that places newcomers out.

Each parameter of a family (location, log scale, skew, tail; or log median, log variation, power)
is a penalised spline of handicap, a line or a constant, with covariates as shifts. Smoothing
maximises the approximate marginal likelihood; the form is the candidate with the smallest Bayesian
information criterion, effective degrees of freedom counted.
"""

from collections.abc import Hashable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from norms.cohort.centile_forms import FORMS, FormFit, fit_form, make_record
from norms.cohort.centile_inputs import CentileGolfers
from norms.errors import CohortRefused
from norms.records.centiles import CentilePlan, Centiles
from norms.statistics.one_thread import on_one_thread
from norms.vocabulary import AXES, NODES

FloatArray = NDArray[np.float64]

_PILOT_NODES = 15
"""Nodes of an axis on which its form and smoothing are chosen."""


@on_one_thread
def fit_feature_centiles(
    values: ArrayLike,
    names: Sequence[str],
    handicaps: ArrayLike,
    *,
    covariates: ArrayLike | None = None,
    covariate_names: Sequence[str] = (),
    weights: ArrayLike | None = None,
    clusters: Sequence[Hashable] | None = None,
    plan: CentilePlan | None = None,
) -> tuple[dict[str, Centiles], dict[str, str]]:
    """Centiles of each feature by handicap.

    Parameters
    ----------
    values : array_like, shape (n, d)
        One row per golfer (or per golfer and club, with ``clusters``): the golfer's mean. NaN
        where the golfer lacks the feature.
    names : sequence of d str
    handicaps : array_like, shape (n,)
        As of the day of the swings; plus handicaps negative.
    covariates : array_like, shape (n, g), optional
        Shifts of location and log scale; columns of 0 and 1 make groups with support of their own.
    covariate_names : sequence of g str
    weights : array_like, shape (n,), optional
        Toward a target population, positive.
    clusters : sequence of n hashable, optional
        The golfer of each row, where a golfer has several.
    plan : CentilePlan, optional

    Returns
    -------
    centiles : dict of str to Centiles
    withheld : dict of str to str
        Reason by feature, for those without a fit.

    Raises
    ------
    CohortRefused
        If there are too few golfers for any fit, or a covariate is the same for all.
    ValueError
        If shapes do not fit or a handicap, covariate or weight is impossible.
    """
    plan = plan or CentilePlan()
    golfers = CentileGolfers(handicaps, covariates, covariate_names, weights, clusters)
    _refuse_few(golfers, plan)
    table = np.asarray(values, dtype=np.float64).T
    if table.shape != (len(names), len(golfers.handicaps)):
        raise ValueError(f"values {table.T.shape} do not fit {len(names)} names and the handicaps")
    withheld = _without_fit(table, names, plan)
    kept = [row for row, name in enumerate(names) if name not in withheld]
    results = [fit_form(table[kept], form, golfers, plan) for form in FORMS] if kept else []
    criteria = _criteria(results, len(kept))
    centiles: dict[str, Centiles] = {}
    for place, row in enumerate(kept):
        best = results[int(np.argmin(criteria[:, place]))]
        if best is None or not np.isfinite(criteria[:, place].min()):
            withheld[names[row]] = "no form of the centiles could be fitted"
            continue
        at = np.searchsorted(best.rows, [place])
        tried = {form.name: float(c) for form, c in zip(FORMS, criteria[:, place], strict=True)}
        tried = {form: c for form, c in tried.items() if np.isfinite(c)}
        centiles[names[row]] = make_record((names[row],), best, at, golfers, plan, tried)
    return centiles, withheld


def _refuse_few(golfers: CentileGolfers, plan: CentilePlan) -> None:
    count = golfers.count(np.ones(len(golfers.handicaps), dtype=bool))
    if count < plan.fewest_golfers:
        raise CohortRefused(
            f"centiles by handicap need {plan.fewest_golfers} golfers and there are {count}; "
            f"widen the cohort or use percentiles by level",
            code="too_few_golfers",
        )


def _without_fit(table: FloatArray, names: Sequence[str], plan: CentilePlan) -> dict[str, str]:
    """Reasons for features that cannot be fitted."""
    reasons = {}
    for name, row in zip(names, table, strict=True):
        values = row[np.isfinite(row)]
        if len(values) < plan.fewest_golfers:
            reasons[name] = f"{len(values)} golfers have it and {plan.fewest_golfers} are needed"
        elif np.percentile(values, 75) <= np.percentile(values, 25):
            reasons[name] = "half of the golfers or more have the same value"
    return reasons


def _criteria(results: Sequence[FormFit | None], count: int) -> FloatArray:
    """Criterion of every form and response, shape (forms, count); infinite where not fitted."""
    table = np.full((len(results), count), np.inf)
    for row, result in enumerate(results):
        if result is not None:
            table[row, result.rows] = result.criterion
    return table


@on_one_thread
def fit_curve_centiles(
    curves_cm: ArrayLike,
    handicaps: ArrayLike,
    *,
    covariates: ArrayLike | None = None,
    covariate_names: Sequence[str] = (),
    weights: ArrayLike | None = None,
    clusters: Sequence[Hashable] | None = None,
    plan: CentilePlan | None = None,
) -> tuple[Centiles, ...]:
    """Centiles of every node of the three curves by handicap.

    The form and the smoothing of an axis are chosen on nodes spread over it and shared by
    all its nodes, so that centiles vary smoothly along the swing; then every node is fitted.

    Parameters
    ----------
    curves_cm : array_like, shape (n, 3, 301)
        Golfers' mean curves.
    handicaps, covariates, covariate_names, weights, clusters, plan
        As in `fit_feature_centiles`.

    Returns
    -------
    tuple of 3 Centiles
        Sway, thrust, lift. Nodes whose spread is under the plan's floor are withheld.

    Raises
    ------
    CohortRefused, ValueError
        As in `fit_feature_centiles`.
    """
    plan = plan or CentilePlan()
    golfers = CentileGolfers(handicaps, covariates, covariate_names, weights, clusters)
    _refuse_few(golfers, plan)
    curves = np.asarray(curves_cm, dtype=np.float64)
    if curves.shape != (len(golfers.handicaps), len(AXES), NODES) or not np.isfinite(curves).all():
        raise ValueError(f"curves_cm: finite values of shape (n, 3, {NODES}) are needed")
    return tuple(
        _fit_axis(axis, curves[:, place].T, golfers, plan) for place, axis in enumerate(AXES)
    )


def _fit_axis(axis: str, table: FloatArray, golfers: CentileGolfers, plan: CentilePlan) -> Centiles:
    wide = np.flatnonzero(table.std(axis=1) >= plan.spread_floor_cm)
    if not len(wide):
        raise CohortRefused(
            f"{axis}: no node has a spread of {plan.spread_floor_cm:g} cm; check the curves' unit",
            code="no_spread",
        )
    pilot = wide[np.unique(np.linspace(0, len(wide) - 1, _PILOT_NODES).round().astype(int))]
    best, criterion = _choose_form(table[pilot], golfers, plan)
    smoothing = np.repeat(best.fitted.smoothing[:1], len(wide), axis=0)
    nearest = np.abs(wide[:, None] - pilot).argmin(axis=1)
    whole = fit_form(
        table[wide],
        best.form,
        golfers,
        plan,
        smoothing=smoothing,
        start=best.fitted.coefficients[nearest],
    )
    assert whole is not None  # the real-line family takes every response
    held = np.flatnonzero(whole.fitted.converged)
    withheld = {
        f"{axis}@{node}": f"the golfers' spread is under {plan.spread_floor_cm:g} cm"
        for node in np.setdiff1d(np.arange(NODES), wide)
    }
    withheld |= {
        f"{axis}@{node}": "the centiles could not be fitted" for node in np.delete(wide, held)
    }
    names = tuple(f"{axis}@{wide[place]}" for place in held)
    return make_record(names, whole, held, golfers, plan, criterion, withheld)


def _choose_form(
    table: FloatArray, golfers: CentileGolfers, plan: CentilePlan
) -> tuple[FormFit, dict[str, float]]:
    """The real-line form with the smallest criterion summed over pilot nodes."""
    results = [
        result
        for form in FORMS
        if form.family == "sinh_arcsinh"
        and (result := fit_form(table, form, golfers, plan, pooled=True)) is not None
    ]
    criterion = {result.form.name: float(result.criterion.sum()) for result in results}
    best = min(results, key=lambda result: float(result.criterion.sum()))
    return best, criterion
