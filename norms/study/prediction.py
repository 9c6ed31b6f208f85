"""Do features predict the speed of a golfer never seen, beyond club, sex, age and height?"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records.study import StudyFrame, StudyPlan
from norms.records.study_answer import PredictionAnswer
from norms.statistics.cross_validation import predict_held_out
from norms.study.design import Design, club_columns

BASELINE_FACTS: Final = ("sex", "age", "height")
FEWEST_GOLFERS: Final = 30
"""Below, a fold holds out too few golfers for an interval to mean anything."""


def predict_speed(
    frame: StudyFrame,
    plan: StudyPlan,
    design: Design,
    columns: Sequence[int],
    rng: np.random.Generator,
) -> PredictionAnswer | None:
    """Cross-validated prediction by golfer, or None where there are too few golfers.

    Parameters
    ----------
    frame : StudyFrame
    plan : StudyPlan
    design : Design
    columns : sequence of int
        Columns of the frame's features.
    rng : numpy.random.Generator
    """
    facts = _known_facts(frame, design)
    rows = design.rows
    for name in facts:
        rows = rows[np.isfinite(frame.golfer_facts[name][rows])]
    golfers = np.array(frame.golfers)[rows]
    count = len(np.unique(golfers))
    if count < max(FEWEST_GOLFERS, plan.folds):
        return None
    names, clubs = club_columns([frame.clubs[row] for row in rows])
    outcome = frame.ball_speed_mps if plan.outcome == "ball_speed" else frame.club_speed_mps
    baseline = [np.ones(len(rows)), *clubs]
    for name in facts:
        values = frame.golfer_facts[name][rows]
        baseline.append(values - values.mean())
    found = predict_held_out(
        outcome[rows],
        np.column_stack(baseline),
        frame.features[rows][:, list(columns)],
        golfers,
        rng,
        folds=plan.folds,
    )
    return PredictionAnswer(
        baseline=", ".join((["club"] if names else []) + list(facts)) or "nothing",
        golfers=count,
        swings=len(rows),
        folds=found.folds,
        baseline_error_mps=found.baseline_rmse,
        model_error_mps=found.model_rmse,
        baseline_r2=found.baseline_r2,
        model_r2=found.model_r2,
        error_gain_mps=found.rmse_gain,
        r2_gain=found.r2_gain,
        model_r2_limits=found.model_r2_limits,
        model_error_limits_mps=found.model_rmse_limits,
        adds=found.r2_gain[1] > 0.0,
    )


def _known_facts(frame: StudyFrame, design: Design) -> tuple[str, ...]:
    """Facts of the baseline that most rows have; the others would cost more than they tell."""

    def share(name: str) -> float:
        values: NDArray[np.float64] | None = frame.golfer_facts.get(name)
        return 0.0 if values is None else float(np.isfinite(values[design.rows]).mean())

    return tuple(name for name in BASELINE_FACTS if share(name) > 0.5)
