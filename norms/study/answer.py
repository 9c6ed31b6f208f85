"""A study from its plan and its rows: every model, test and limit, reproducible from one seed."""

import numpy as np

from norms.errors import CohortRefused
from norms.records.study import StudyFrame, StudyPlan
from norms.records.study_answer import AlongSwing, Study
from norms.statistics.one_thread import on_one_thread
from norms.study.along_the_swing import along_the_swing
from norms.study.design import Design, design_of
from norms.study.feature_models import feature_models
from norms.study.frame import PATTERN_PREFIX
from norms.study.limits import causal_sketch, unmeasured, without_each_lab
from norms.study.prediction import FEWEST_GOLFERS, predict_speed
from norms.study.together import taken_together

NO_CURVES = (
    "This cohort is a table of features without curves: where along the swing something goes "
    "with speed cannot be asked of it."
)
NO_RATES = "The curves of this cohort carry no times, so that rates cannot be followed."


@on_one_thread
def answer_study(plan: StudyPlan, frame: StudyFrame) -> Study:
    """Answer a study.

    Parameters
    ----------
    plan : StudyPlan
    frame : StudyFrame

    Returns
    -------
    Study
        The same for the same plan and frame.

    Raises
    ------
    CohortRefused
        With too few golfers, or a feature that the swings do not have.
    """
    columns = feature_columns(plan, frame)
    design = design_of(frame, plan)
    rng = np.random.default_rng(plan.seed)
    notes: list[str] = []
    along = _along(plan, frame, design, rng, notes)
    prediction = None
    if plan.predict:
        prediction = predict_speed(frame, plan, design, columns, rng)
        if prediction is None:
            notes.append(f"No prediction: fewer than {FEWEST_GOLFERS} golfers.")
    counts = np.bincount(design.golfers)
    clubs = tuple(sorted({frame.clubs[row] for row in design.rows}))
    models = feature_models(frame, plan, design, columns)
    return Study(
        plan=plan,
        clubs=clubs,
        golfers=len(counts),
        swings=len(design.rows),
        golfers_with_repeats=int((counts > 1).sum()),
        left_out={**frame.left_out, **design.left_out},
        models=models,
        together=taken_together(frame, plan, design),
        along=along,
        prediction=prediction,
        without_labs=without_each_lab(frame, design, columns),
        sketch=causal_sketch(plan, len(clubs)),
        unmeasured=unmeasured(plan),
        notes=tuple(notes),
    )


def feature_columns(plan: StudyPlan, frame: StudyFrame) -> tuple[int, ...]:
    """Columns of the features a plan asks for, patterns always among them.

    Raises
    ------
    CohortRefused
        If the swings do not have one.
    """
    wanted = plan.features or frame.feature_names
    patterns = [name for name in frame.feature_names if name.startswith(PATTERN_PREFIX)]
    named = list(dict.fromkeys([*wanted, *plan.primary, *patterns]))
    unknown = [name for name in named if name not in frame.feature_names]
    if unknown:
        raise CohortRefused(
            f"study {plan.name}: no feature is called {unknown[0]}; there are "
            f"{', '.join(frame.feature_names)}",
            code="feature_unknown",
        )
    return tuple(frame.feature_names.index(name) for name in named)


def _along(
    plan: StudyPlan,
    frame: StudyFrame,
    design: Design,
    rng: np.random.Generator,
    notes: list[str],
) -> tuple[AlongSwing, ...]:
    if not plan.along:
        return ()
    if frame.curves_cm is None:
        notes.append(NO_CURVES)
        return ()
    if "rates" in plan.along and frame.rates_cm_s is None:
        notes.append(NO_RATES)
    try:
        return along_the_swing(frame, plan, design, rng)
    except ValueError as error:
        notes.append(f"Nothing is followed along the swing: {error}.")
        return ()


def questions_asked(study: Study) -> list[tuple[str, float | None, float | None]]:
    """Every test of a study: its question in words, its p value, and that adjusted."""
    outcome = study.plan.outcome.replace("_", " ")
    tests: list[tuple[str, float | None, float | None]] = []
    for model in study.models:
        for effect in (model.within, model.between):
            words = "within a golfer" if effect.part == "within" else "between golfers"
            question = f"does {model.label} go with {outcome} {words}?"
            tests.append((question, effect.p_value, effect.adjusted_p))
    for joint in study.together:
        for effect in (joint.within, joint.between):
            words = "within a golfer" if effect.part == "within" else "between golfers"
            question = f"does {joint.label} go with {outcome} {words}, the others held?"
            tests.append((question, effect.p_value, effect.adjusted_p))
    for one in study.along:
        words = "within a golfer" if one.part == "within" else "between golfers"
        question = f"do {one.kind} of sway, thrust or lift go with {outcome} {words}, anywhere?"
        tests.append((question, None, one.p_value))
    if study.prediction is not None:
        tests.append((f"do features predict the {outcome} of golfers not seen?", None, None))
    return tests
