"""A study's findings in words. Numbers come from the record; "nothing" is a finding too."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from norms.records.study_answer import AlongSwing, FeatureModel, Study
from norms.vocabulary import AXES, EVENT_NODES
from reports.quantities import number, plural
from reports.sentences import sentence_case
from reports.study_words import (
    PART_WORDS,
    SPEED_WORDS,
    SpeedUnit,
    effect_sentence,
    more_words,
    reversal_sentence,
    signed_speed,
    speed_words,
    step_of,
)

MOST_SENTENCES: Final = 6
KIND_WORDS: Final = {"curves": "Curves", "rates": "Rates"}
_PHASES: Final = (("start", "top", "backswing"), ("top", "impact", "downswing"),
                  ("impact", "finish", "follow-through"))  # fmt: skip


def effect_sentences(study: Study, length: str, unit: SpeedUnit) -> list[dict[str, object]]:
    """The features that a reader should hear of first, each with both of its effects.

    Those declared beforehand come first whatever was found, then reversals, then what holds after
    adjustment by the size of its p value.
    """
    chosen = [model for model in study.models if model.declared]
    rest = [model for model in study.models if not model.declared]
    rest = [model for model in rest if _smallest(model) <= study.plan.level]
    rest.sort(key=lambda model: (not model.reversal, _smallest(model)))
    room = max(MOST_SENTENCES - len(chosen), 0)
    return [
        {
            "within": effect_sentence(model, "within", length, unit),
            "between": effect_sentence(model, "between", length, unit),
            "standing": _standing(model, study.plan.level),
            "reversal": reversal_sentence(model) if model.reversal else None,
            "declared": model.declared,
        }
        for model in (*chosen, *rest[:room])
    ]


def sheet_sentences(study: Study, length: str, unit: SpeedUnit) -> dict[str, str]:
    """By feature, what holds of it after adjustment, for a placement sheet to say beside it."""
    said = {}
    for model in study.models:
        holding = [
            effect_sentence(model, effect.part, length, unit)
            for effect in (model.within, model.between)
            if effect.adjusted_p is not None and effect.adjusted_p <= study.plan.level
        ]
        if holding:
            said[model.feature] = (
                f"In the study “{study.plan.name}”: {' '.join(holding)} It is not said to be a "
                "cause."
            )
    return said


def _smallest(model: FeatureModel) -> float:
    values = (model.within.adjusted_p, model.between.adjusted_p)
    return min((p for p in values if p is not None), default=1.0)


def _standing(model: FeatureModel, level: float) -> str:
    holds = [
        PART_WORDS[effect.part]
        for effect in (model.within, model.between)
        if effect.adjusted_p is not None and effect.adjusted_p <= level
    ]
    if not holds:
        return "Neither holds after adjustment for all questions asked."
    if len(holds) == 2:
        return "Both hold after adjustment for all questions asked."
    return f"After adjustment for all questions asked, only that {holds[0]} holds."


def multiplicity_sentence(study: Study) -> str:
    """How many questions were asked together and how many hold."""
    effects = [effect for model in study.models for effect in (model.within, model.between)]
    asked = [effect for effect in effects if effect.p_value is not None]
    holds = [e for e in asked if e.adjusted_p is not None and e.adjusted_p <= study.plan.level]
    share = number(100 * study.plan.level, 0)
    hold = "holds" if len(holds) == 1 else "hold"
    return (
        f"{plural(len(asked), 'question')} were asked together, every feature within and between "
        f"golfers; {len(holds)} {hold} after adjustment by Benjamini and Hochberg, under which "
        f"about {share} % of those that hold are expected to be false. Intervals are not adjusted."
    )


def look_sentences(study: Study) -> list[str]:
    """Where the study stands among all looks at its cohort, and what was declared."""
    look = study.look
    if look is None:
        return ["This study is in no register of looks."]
    said = [f"This is look {look.number} of {look.of} at this cohort."]
    if look.declared_at is not None:
        said.append(f"Its plan was declared beforehand, on {look.declared_at}.")
    else:
        said.append("Its plan was not declared beforehand: read it as exploration.")
    named = [model.label for model in study.models if model.declared]
    others = len(study.models) - len(named)
    if named:
        were = "was" if others == 1 else "were"
        rest = f"; {plural(others, 'other feature')} {were} looked at beside" if others else ""
        said.append(f"Named in the plan as the question: {', '.join(named)}{rest}.")
    else:
        said.append("The plan names no feature as its question: all are looked at alike.")
    if look.tests_before:
        said.append(f"Earlier looks ran {plural(look.tests_before, 'test')} on the same cohort.")
    if look.frames_before:
        frames = plural(look.frames_before, "analysis frame")
        verb = "was" if look.frames_before == 1 else "were"
        said.append(f"{frames} of it {verb} taken out before, and nobody knows what was tested.")
    return said


def along_sentences(study: Study) -> list[str]:
    """Where along the swing something was found, or that nothing was; and fits that failed."""
    kinds = {one.kind: one for one in study.along}
    fits = [sentence for one in kinds.values() for sentence in _fit_sentences(one)]
    return [*(_along_sentence(one, study) for one in study.along), *fits]


def _fit_sentences(one: AlongSwing) -> list[str]:
    """Points whose model did not converge, or has no variance between golfers."""
    subject, points = KIND_WORDS[one.kind], one.value.size
    said = []
    if one.unsettled:
        said.append(
            f"{subject}: at {one.unsettled} of {points} points the model did not converge; what "
            "is drawn there leans on the points beside them."
        )
    if one.singular:
        said.append(
            f"{subject}: at {one.singular} of {points} points golfers do not differ beyond their "
            "swings, and the model is a plain regression."
        )
    return said


def _along_sentence(one: AlongSwing, study: Study) -> str:
    subject = KIND_WORDS[one.kind]
    outcome = study.plan.outcome.replace("_", " ")
    found = [
        f"{axis}, {_stretch_words(first, last)}"
        for a, axis in enumerate(AXES)
        for first, last in one.stretches(a, study.plan.level)
    ]
    p_value = "p < 0.001" if one.p_value < 0.001 else f"p = {number(one.p_value, 3)}"
    test = f"largest t of {plural(one.relabellings, 'relabelling')} of golfers, {p_value}"
    if not found:
        return f"{subject}, {PART_WORDS[one.part]}: nothing goes with {outcome} anywhere ({test})."
    shown = "; ".join(found[:MOST_SENTENCES])
    more = f"; and {len(found) - MOST_SENTENCES} more" if len(found) > MOST_SENTENCES else ""
    return f"{subject}, {PART_WORDS[one.part]}: go with {outcome} in {shown}{more} ({test})."


def _stretch_words(first: int, last: int) -> str:
    start, end = _moment(first), _moment(last)
    return f"at {start}" if first == last else f"from {start} to {end}"


def _moment(node: int) -> str:
    for start, end, phase in _PHASES:
        low, high = EVENT_NODES[start], EVENT_NODES[end]
        if node == low:
            return f"the {start}" if start in ("start", "top") else start
        if low < node < high:
            return f"{node - low} % of the {phase}"
    return "the finish"


def prediction_sentences(study: Study, unit: SpeedUnit) -> list[str]:
    """What features add to the prediction of golfers not seen before, "nothing" included."""
    found = study.prediction
    if found is None:
        return []
    outcome = study.plan.outcome.replace("_", " ")
    base = (
        f"For golfers the model has not seen ({found.folds} folds, no golfer on both sides), "
        f"{found.baseline} alone predict {outcome} with an error of "
        f"{speed_words(found.baseline_error_mps, unit)} (R² {number(found.baseline_r2, 2)})."
    )
    error_low, error_high = found.model_error_limits_mps
    r2_low, r2_high = found.model_r2_limits
    model = (
        f"With the features the error is {speed_words(found.model_error_mps, unit)} (95 % interval "
        f"{signed_speed(error_low, unit).removeprefix('+')} to "
        f"{signed_speed(error_high, unit).removeprefix('+')}), R² {number(found.model_r2, 2)} "
        f"({number(r2_low, 2)} to {number(r2_high, 2)})."
    )
    gain, low, high = found.r2_gain
    interval = f"R² {_signed(gain)}, 95 % interval {_signed(low)} to {_signed(high)}"
    if found.adds:
        verdict = f"The features add to the prediction: {interval}."
    elif high < 0:
        verdict = f"The features make the prediction worse: {interval}."
    else:
        verdict = f"The features add nothing that this cohort can show: {interval}."
    return [base, model, verdict]


def _signed(value: float) -> str:
    text = number(value, 3)
    return f"+{text}" if value > 0 and any(digit in text for digit in "123456789") else text


def power_sentence(study: Study, length: str, unit: SpeedUnit) -> str:
    """The smallest effects this cohort could have found, for the feature asked for first."""
    ordered: Sequence[FeatureModel] = sorted(study.models, key=lambda model: not model.declared)
    for model in ordered:
        step = step_of(model.unit, length)
        sizes = [model.within.smallest_detectable, model.between.smallest_detectable]
        if all(size is not None and np.isfinite(size) for size in sizes):
            within, between = (
                signed_speed(float(size or 0.0) * step.amount, unit).removeprefix("+")
                for size in sizes
            )
            return (
                f"With these golfers, {sentence_case(more_words(model, length))} would have been "
                f"found in four of five such studies had it gone with {within} "
                f"{SPEED_WORDS[unit]} within a golfer, or {between} {SPEED_WORDS[unit]} between "
                "golfers; what is smaller may be there unseen."
            )
    return "The smallest effect that could have been found cannot be told."
