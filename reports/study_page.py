"""The study page: the question, the answer in sentences, then pictures, tables and limits."""

from collections.abc import Mapping, Sequence
from typing import Final

from norms.records.study_answer import AlongSwing, FeatureModel, JointEffect, Study
from norms.study.limits import adjusted_for
from reports.figures.study_curves import along_figure
from reports.figures.study_effects import effects_figure
from reports.quantities import check_unit, number, plural
from reports.render import picture, render
from reports.sentences import STANDING_CAUTIONS, sentence_case
from reports.study_sentences import (
    along_sentences,
    effect_sentences,
    look_sentences,
    multiplicity_sentence,
    power_sentence,
    prediction_sentences,
)
from reports.study_words import (
    SPEED_WORDS,
    SpeedUnit,
    effect_numbers,
    more_words,
    p_words,
    signed_speed,
    step_of,
)

REFERENCES: Final = (
    "Within and between apart: Mundlak (1978), Econometrica 46; Neuhaus and Kalbfleisch (1998), "
    "Biometrics 54.",
    "Errors within golfers, robust by golfer: Bell and McCaffrey (2002), Survey Methodology 28; "
    "Pustejovsky and Tipton (2018), Journal of Business and Economic Statistics 36.",
    "Degrees of freedom between golfers: Satterthwaite (1946), Biometrics Bulletin 2; variance "
    "explained: "
    "Nakagawa and Schielzeth (2013), Methods in Ecology and Evolution 4.",
    "Multiplicity: Benjamini and Hochberg (1995), Journal of the Royal Statistical Society B 57.",
    "Along the swing: Cui and others (2022), Journal of Computational and Graphical Statistics "
    "31; tests by sign flips and permuted residuals: Hemerik and others (2020), Journal of the "
    "Royal Statistical Society B 82; Freedman and Lane (1983), Journal of Business and Economic "
    "Statistics 1.",
    "E-values: VanderWeele and Ding (2017), Annals of Internal Medicine 167.",
)


def study_page(
    study: Study,
    names: Mapping[str, str] | None = None,
    *,
    unit: str = "in",
    speed_unit: SpeedUnit = "mph",
) -> str:
    """A study as a self-contained HTML page.

    Parameters
    ----------
    study : Study
    names : Mapping of str to str, optional
        Codes of golfers and names of labs by their identifiers in the study's analysis frame, for
        the academy's own page, which says that it stays there. Without them the page may leave
        the academy: it speaks of both by the identifiers alone.
    unit : {"in", "cm"}
        The reader's unit of length.
    speed_unit : {"mph", "mps"}

    Returns
    -------
    str
        The same bytes for the same study.

    Raises
    ------
    ValueError
        If a unit is another one.
    """
    check_unit(unit)
    if speed_unit not in SPEED_WORDS:
        raise ValueError(f"speed_unit: {speed_unit!r} where one of {tuple(SPEED_WORDS)} is needed")
    level = study.plan.level
    return render(
        "study.html",
        title=study.plan.question,
        facts=_facts(study),
        own=names is not None,
        look=look_sentences(study),
        effects=effect_sentences(study, unit, speed_unit),
        multiplicity=multiplicity_sentence(study),
        effects_figure=picture(effects_figure(study.models, speed_unit=speed_unit, level=level)),
        along=[
            _along(study, kind, speed_unit)
            for kind in dict.fromkeys(one.kind for one in study.along)
        ],
        along_words=along_sentences(study),
        prediction=prediction_sentences(study, speed_unit),
        effect_rows=[_effect_row(model, unit, speed_unit) for model in study.models],
        together_rows=[_effect_row(one, unit, speed_unit) for one in study.together],
        fit_rows=[_fit_row(model, names or {}, unit, speed_unit) for model in study.models],
        limit_rows=[_limit_row(model, unit, speed_unit) for model in study.models],
        lab_rows=_lab_rows(study, names or {}, unit, speed_unit),
        power=power_sentence(study, unit, speed_unit),
        sketch=study.sketch,
        unmeasured=study.unmeasured,
        notes=study.notes,
        left_out=study.left_out,
        methods=_methods(study.models),
        references=REFERENCES,
        cautions=STANDING_CAUTIONS[2:],
        speed=SPEED_WORDS[speed_unit],
        seed=study.plan.seed,
    )


def _facts(study: Study) -> str:
    return (
        f"{sentence_case(study.plan.cohort)}. {plural(study.golfers, 'golfer')}, "
        f"{plural(study.swings, 'swing')}; {study.golfers_with_repeats:,} golfers have two swings "
        "or more and tell of effects within a golfer. Adjusted for "
        f"{adjusted_for(study.plan, len(study.clubs))}."
    )


def _along(study: Study, kind: str, unit: SpeedUnit) -> dict[str, object]:
    answers: Sequence[AlongSwing] = [one for one in study.along if one.kind == kind]
    words = {"curves": "The curves along the swing", "rates": "Their rates along the swing"}
    figure = along_figure(answers, speed_unit=unit, level=study.plan.level, name=f"along-{kind}")
    return {"title": words[kind], "svg": picture(figure)}


def _effect_row(
    model: FeatureModel | JointEffect, length: str, unit: SpeedUnit
) -> dict[str, object]:
    step = step_of(model.unit, length)
    parts = [
        {
            "value": effect_numbers(effect, step, unit) or f"cannot be told: {effect.reason}",
            "p": p_words(effect.p_value),
            "adjusted": p_words(effect.adjusted_p),
        }
        for effect in (model.within, model.between)
    ]
    return {
        "subject": more_words(model, length),
        "parts": parts,
        "declared": isinstance(model, JointEffect) or model.declared,
        "difference": None if isinstance(model, JointEffect) else p_words(model.difference_p),
        "reversal": isinstance(model, FeatureModel) and model.reversal,
    }


def _fit_row(
    model: FeatureModel, names: Mapping[str, str], length: str, unit: SpeedUnit
) -> dict[str, object]:
    step = step_of(model.unit, length)
    influence = "–"
    if model.influence is not None:
        ends = [model.influence.lowest, model.influence.highest]
        low, high = (signed_speed(end * step.amount, unit) for end in ends)
        influence = f"{low} to {high} ({names.get(model.influence.golfer, model.influence.golfer)})"
        if model.within.standard_error:
            ratio = model.influence.jackknife_error / model.within.standard_error
            influence += f"; {number(ratio, 2)}"
    return {
        "subject": model.label,
        "counts": f"{model.golfers:,} / {model.swings:,}",
        "spread": f"{_speed(model.golfer_sd_mps, unit)} / {_speed(model.residual_sd_mps, unit)}",
        "slopes": (
            "one for all"
            if model.slope_sd is None
            else f"{_speed(model.slope_sd * step.amount, unit)} per {step.words}"
        ),
        "explained": f"{_percent(model.r2_marginal)} / {_percent(model.r2_conditional)}",
        "parts": f"{_percent(model.r2_within)} / {_percent(model.r2_between)}",
        "residuals": [
            number(model.residual_skewness, 1),
            number(model.residual_kurtosis, 1),
            _percent(model.far_share),
            number(model.spread_trend, 2),
            number(model.golfer_skewness, 1),
        ],
        "influence": influence,
        "settled": _settled(model),
    }


def _settled(model: FeatureModel) -> str:
    if not model.converged:
        return "not converged"
    return "converged, singular" if model.singular else "converged"


def _limit_row(model: FeatureModel, length: str, unit: SpeedUnit) -> dict[str, object]:
    step = step_of(model.unit, length)

    def found(part: str) -> list[str]:
        effect = model.within if part == "within" else model.between
        if effect.smallest_detectable is None or effect.e_value is None:
            return ["–", "–"]
        smallest = _speed(effect.smallest_detectable * step.amount, unit)
        limit = 1.0 if effect.e_value_limit is None else effect.e_value_limit
        return [smallest, f"{number(effect.e_value, 1)} ({number(limit, 1)})"]

    return {
        "subject": more_words(model, length),
        "within": found("within"),
        "between": found("between"),
    }


def _lab_rows(
    study: Study, names: Mapping[str, str], length: str, unit: SpeedUnit
) -> list[dict[str, object]]:
    labs = list(dict.fromkeys(one.lab for one in study.without_labs))
    rows = []
    for model in study.models:
        step = step_of(model.unit, length)
        cells = []
        for one in study.without_labs:
            if one.feature == model.feature:
                slopes = [
                    "–" if slope is None else signed_speed(slope * step.amount, unit)
                    for slope in (one.within, one.between)
                ]
                cells.append(" / ".join(slopes))
        if cells:
            rows.append({"subject": more_words(model, length), "cells": cells})
    heads = [f"without {names.get(lab, lab)}" for lab in labs]
    return [{"labs": heads, "rows": rows}] * bool(labs)


def _methods(models: Sequence[FeatureModel]) -> list[tuple[str, str]]:
    """What was fitted, with the features it was fitted to."""
    by_method: dict[str, list[str]] = {}
    for model in models:
        method = model.method.partition(" (p ")[0]
        by_method.setdefault(method, []).append(model.label)
    return [(sentence_case(method), ", ".join(labels)) for method, labels in by_method.items()]


def _speed(value_mps: float, unit: SpeedUnit) -> str:
    return signed_speed(value_mps, unit).removeprefix("+")


def _percent(share: float) -> str:
    text = number(100.0 * share, 1)
    return f"{text} %"
