"""One mixed model for every feature: what goes with speed within a golfer, and between golfers."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from norms.records.study import StudyFrame, StudyPlan
from norms.records.study_answer import FeatureModel, Influence
from norms.statistics.cluster_robust import GroupSums, group_sums, robust_estimate
from norms.statistics.mixed_diagnostics import (
    FittedModel,
    estimates_without_each_group,
    residual_facts,
    variance_explained,
)
from norms.statistics.mixed_models import Estimates, MixedFits, fit_random_intercepts
from norms.statistics.mixed_slopes import SlopeFit
from norms.statistics.multiplicity import adjust_p_values
from norms.statistics.within_between import Parts, within_and_between
from norms.study.design import Design
from norms.study.effects import effect_of
from norms.study.export import recoded
from norms.study.own_slopes import mean_random_variance, own_slopes, with_own_slopes

FloatArray = NDArray[np.float64]


def feature_models(
    frame: StudyFrame, plan: StudyPlan, design: Design, columns: Sequence[int]
) -> tuple[FeatureModel, ...]:
    """Fit one model per feature and adjust p values over all of them, both parts together.

    Parameters
    ----------
    frame : StudyFrame
    plan : StudyPlan
    design : Design
    columns : sequence of int
        Columns of the frame's features.
    """
    values = frame.features[design.rows][:, list(columns)]
    parts = within_and_between(values, design.golfers, design.clubs)
    fits = fit_features(design, parts)
    models = [
        _model(frame, plan, design, fits, parts, place, column)
        for place, column in enumerate(columns)
    ]
    return _adjusted(models, plan.level)


def fit_features(design: Design, parts: Parts) -> MixedFits:
    """Random-intercept fits of every feature at once; the last two columns are within, between."""
    own = np.stack([parts.within, parts.between], axis=2)
    return fit_random_intercepts(design.outcome_mps, design.shared, own, design.golfers)


def _model(
    frame: StudyFrame,
    plan: StudyPlan,
    design: Design,
    fits: MixedFits,
    parts: Parts,
    place: int,
    column: int,
) -> FeatureModel:
    seen = np.isfinite(parts.within[:, place])
    q = design.shared.shape[1]
    told = np.isfinite(fits.fixed[place])
    slope, method = own_slopes(plan, design, fits, parts, place)
    model = _fitted(design, fits, parts, place, seen, told)
    speed = within_and_between(model.outcome[:, np.newaxis], model.groups, design.clubs[seen])
    standing = model if slope is None else with_own_slopes(model, slope)
    sums = None
    if fits.converged[place]:
        sums = _golfer_sums(standing, slope, parts.within[seen, place])
    estimates = [
        _within(sums, told, q),
        _pick(fits, slope, place, told, q + 1),
    ]
    within = effect_of("within", estimates[0], parts.within[seen, place], speed.within[:, 0])
    between = effect_of("between", estimates[1], parts.between[seen, place], speed.between[:, 0])
    facts = residual_facts(model) if fits.converged[place] else None
    places = np.flatnonzero(np.flatnonzero(told) >= q)
    random = None if slope is None else mean_random_variance(slope, parts.within[seen, place])
    shares = variance_explained(standing, tuple(int(p) for p in places), random_variance=random)
    by_column = dict(zip(np.flatnonzero(told)[places].tolist(), shares.parts, strict=True))
    return FeatureModel(
        feature=frame.feature_names[column],
        label=frame.feature_labels[column],
        unit=frame.feature_units[column],
        declared=frame.feature_names[column] in plan.primary,
        golfers=int(fits.groups[place]),
        swings=int(fits.observations[place]),
        within=within,
        between=between,
        difference_p=_difference_p(sums, told, q),
        reversal=False,
        golfer_sd_mps=float(np.sqrt(standing.group_variance)),
        residual_sd_mps=float(np.sqrt(standing.residual_variance)),
        slope_sd=None if slope is None else float(np.sqrt(slope.random_covariance[1, 1])),
        r2_marginal=shares.marginal,
        r2_conditional=shares.conditional,
        r2_within=by_column.get(q, 0.0),
        r2_between=by_column.get(q + 1, 0.0),
        converged=bool(fits.converged[place]),
        singular=bool(fits.singular[place]),
        method=method,
        residual_skewness=facts.skewness if facts else np.nan,
        residual_kurtosis=facts.excess_kurtosis if facts else np.nan,
        far_share=facts.far_share if facts else np.nan,
        spread_trend=facts.spread_trend if facts else np.nan,
        golfer_skewness=facts.group_skewness if facts else np.nan,
        influence=_influence(frame, plan, design, model, seen, told),
    )


def _fitted(
    design: Design,
    fits: MixedFits,
    parts: Parts,
    place: int,
    seen: NDArray[np.bool_],
    told: NDArray[np.bool_],
) -> FittedModel:
    whole = np.column_stack([design.shared, parts.within[:, place], parts.between[:, place]])
    return FittedModel(
        outcome=design.outcome_mps[seen],
        design=whole[np.ix_(seen, told)],
        groups=np.unique(design.golfers[seen], return_inverse=True)[1],
        fixed=fits.fixed[place, told],
        group_variance=float(fits.group_variance[place]),
        residual_variance=float(fits.residual_variance[place]),
    )


def _golfer_sums(model: FittedModel, slope: SlopeFit | None, within: FloatArray) -> GroupSums:
    """What each golfer brings to the fit that stands."""
    one = np.ones((len(within), 1))
    return group_sums(
        model.outcome,
        model.design,
        one if slope is None else np.column_stack([one, within]),
        [[model.group_variance]] if slope is None else slope.random_covariance,
        model.residual_variance,
        model.groups,
        model.fixed,
    )


def _within(sums: GroupSums | None, told: NDArray[np.bool_], column: int) -> Estimates | None:
    """The within effect, its error robust by golfer: swings of a day, or with a slope of their own
    that the model lacks, are alike beyond the golfer's intercept.
    """
    if sums is None or not told[column]:
        return None
    return robust_estimate(sums, np.arange(told.sum()) == told[:column].sum())


def _pick(
    fits: MixedFits, slope: SlopeFit | None, place: int, told: NDArray[np.bool_], column: int
) -> Estimates | None:
    """The estimate of one column, from the fit that stands; None where it cannot be told."""
    if not told[column] or not fits.converged[place]:
        return None
    if slope is None:
        one = fits.effect(column)
        return Estimates(
            value=one.value[place : place + 1],
            standard_error=one.standard_error[place : place + 1],
            freedom=one.freedom[place : place + 1],
            p_value=one.p_value[place : place + 1],
        )
    at = int(told[:column].sum())
    return Estimates(
        value=slope.fixed[at : at + 1],
        standard_error=slope.standard_error[at : at + 1],
        freedom=slope.freedom[at : at + 1],
        p_value=slope.p_value[at : at + 1],
    )


def _difference_p(sums: GroupSums | None, told: NDArray[np.bool_], q: int) -> float | None:
    if sums is None or not told[q : q + 2].all():
        return None
    weights = np.zeros(told.sum())
    weights[told[:q].sum() :][:2] = -1.0, 1.0
    return float(robust_estimate(sums, weights).p_value[0])


def _influence(
    frame: StudyFrame,
    plan: StudyPlan,
    design: Design,
    model: FittedModel,
    seen: NDArray[np.bool_],
    told: NDArray[np.bool_],
) -> Influence | None:
    q = design.shared.shape[1]
    if not told[q] or not np.isfinite(model.fixed).all():
        return None
    at = int(told[:q].sum())
    without = estimates_without_each_group(model)[:, at]
    worst = int(np.argmax(np.abs(without - model.fixed[at])))
    row = design.rows[seen][np.flatnonzero(model.groups == worst)[0]]
    names = recoded(frame.golfers, plan.seed)
    return Influence(
        golfer=names[frame.golfers[row]],
        slope_without=float(without[worst]),
        lowest=float(without.min()),
        highest=float(without.max()),
        jackknife_error=float(np.sqrt((len(without) - 1) * np.var(without))),
    )


def _adjusted(models: Sequence[FeatureModel], level: float) -> tuple[FeatureModel, ...]:
    raw = [
        np.nan if effect.p_value is None else effect.p_value
        for model in models
        for effect in (model.within, model.between)
    ]
    adjusted = adjust_p_values(raw, "benjamini_hochberg").reshape(-1, 2)
    done = []
    for model, pair in zip(models, adjusted, strict=True):
        within, between = (
            replace(effect, adjusted_p=None if np.isnan(p) else float(p))
            for effect, p in zip((model.within, model.between), pair, strict=True)
        )
        opposite = within.slope is not None and between.slope is not None
        opposite = opposite and float(within.slope or 0.0) * float(between.slope or 0.0) < 0
        reversal = bool(opposite and (pair <= level).all())
        done.append(replace(model, within=within, between=between, reversal=reversal))
    return tuple(done)
