"""The features that a plan names, in one model: each adjusted for all the others."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from norms.records.study import StudyFrame, StudyPlan
from norms.records.study_answer import Effect, JointEffect
from norms.statistics.cluster_robust import group_sums, robust_estimate
from norms.statistics.mixed_models import Estimates, MixedFits, fit_random_intercepts
from norms.statistics.multiplicity import adjust_p_values
from norms.statistics.within_between import within_and_between
from norms.study.design import Design
from norms.study.effects import effect_of

FloatArray = NDArray[np.float64]


def taken_together(frame: StudyFrame, plan: StudyPlan, design: Design) -> tuple[JointEffect, ...]:
    """Effects of the named features in one model; nothing where fewer than two are named.

    Features of one swing go with one another, so that the effect of one alone holds a share of
    the others'. Here each part of each feature is adjusted for both parts of all others. P values
    are adjusted over this model by itself.

    Parameters
    ----------
    frame : StudyFrame
    plan : StudyPlan
    design : Design
    """
    if len(plan.primary) < 2:
        return ()
    columns = [frame.feature_names.index(name) for name in plan.primary]
    values = frame.features[design.rows][:, columns]
    # Means are of the swings that have every feature: they alone enter the model.
    values = np.where(np.isfinite(values).all(axis=1, keepdims=True), values, np.nan)
    parts = within_and_between(values, design.golfers, design.clubs)
    speed = within_and_between(design.outcome_mps[:, np.newaxis], design.golfers, design.clubs)
    own = np.concatenate([parts.within, parts.between], axis=1)[:, np.newaxis]
    fit = fit_random_intercepts(design.outcome_mps, design.shared, own, design.golfers)
    seen, first = np.isfinite(values[:, 0]), design.shared.shape[1]
    robust = _robust_by_golfer(fit, design, own[:, 0], seen)
    effects = []
    for place in range(2 * len(columns)):
        within = place < len(columns)
        told = bool(np.isfinite(fit.fixed[0, first + place])) and bool(fit.converged[0])
        effects.append(
            effect_of(
                "within" if within else "between",
                (robust[first + place] if within else fit.effect(first + place)) if told else None,
                own[seen, 0, place],
                (speed.within if within else speed.between)[seen, 0],
            )
        )
    raw = [np.nan if one.p_value is None else one.p_value for one in effects]
    adjusted = adjust_p_values(raw, "benjamini_hochberg")
    done = [
        replace(one, adjusted_p=None if np.isnan(p) else float(p))
        for one, p in zip(effects, adjusted, strict=True)
    ]
    return tuple(_joint(frame, columns, place, done) for place in range(len(columns)))


def _robust_by_golfer(
    fit: MixedFits, design: Design, own: FloatArray, seen: NDArray[np.bool_]
) -> dict[int, Estimates]:
    """Estimates of every column that can be told, with errors robust by golfer."""
    told = np.flatnonzero(np.isfinite(fit.fixed[0]))
    if not fit.converged[0] or not told.size:
        return {}
    whole = np.column_stack([design.shared, own])[np.ix_(seen, told)]
    sums = group_sums(
        design.outcome_mps[seen],
        whole,
        np.ones((int(seen.sum()), 1)),
        [[fit.group_variance[0]]],
        float(fit.residual_variance[0]),
        design.golfers[seen],
        fit.fixed[0, told],
    )
    return {
        int(column): robust_estimate(sums, np.eye(told.size)[place])
        for place, column in enumerate(told)
    }


def _joint(
    frame: StudyFrame, columns: Sequence[int], place: int, effects: Sequence[Effect]
) -> JointEffect:
    column = columns[place]
    return JointEffect(
        feature=frame.feature_names[column],
        label=frame.feature_labels[column],
        unit=frame.feature_units[column],
        within=effects[place],
        between=effects[len(columns) + place],
    )
