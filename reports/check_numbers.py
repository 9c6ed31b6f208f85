"""The check page in numbers: control charts, lab against lab, and the noise budget."""

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from norms.cohort.lab_control import FEWEST_GOLFERS
from norms.records import Estimates, LabControl, LabTerms, MeasurementError
from norms.records.lab_quality import REPEATED_GOLFERS
from norms.swing.catalogue import BY_NAME, FeatureUnit
from reports.figures.control_chart import control_chart
from reports.phrases import phrase
from reports.quantities import DASH, digits, number, percent_of, plural, unit_words
from reports.render import picture
from reports.sentences import sentence_case

VERDICT_WORDS: Final[dict[str, str]] = {
    "alike": "alike, put together",
    "adjust_shift": "shifted",
    "adjust_shift_and_scale": "shifted and scaled",
    "apart": "kept apart",
}


def chart_section(control: LabControl, order: int) -> dict[str, object]:
    """A control chart of one lab and club, in words, picture and rows."""
    by_golfers = control.basis == REPEATED_GOLFERS
    fewest = FEWEST_GOLFERS if by_golfers else 1
    judged = int(np.count_nonzero(control.repeated_golfers >= fewest))
    basis = (
        "golfers who were in the lab on other days too"
        if by_golfers
        else f"the object {control.basis}, measured at every session"
    )
    out = int(control.out.sum())
    drifting = int(control.drifting.sum())
    words = (
        f"Charted by {basis}: {judged:,} of {plural(len(control.sessions), 'session')} can be "
        f"judged. {plural(out, 'session')} out of control"
        + (f"; {plural(drifting, 'session')} on a drift" if drifting else "")
        + "."
    )
    return {
        "title": f"{control.lab}, {control.club}: control chart",
        "words": words,
        "svg": picture(control_chart(control, name=f"chart-{order}")),
        "rows": [_chart_row(control, row) for row in range(len(control.sessions))],
    }


def _chart_row(control: LabControl, row: int) -> dict[str, str]:
    shift, shift_of = _farthest(control.shift[row], control.feature_names)
    spread, spread_of = _farthest(control.spread[row], control.feature_names)
    return {
        "day": control.sessions[row].isoformat(),
        "repeated": f"{int(control.repeated_golfers[row]):,}",
        "shift": shift,
        "shift_of": shift_of,
        "spread": spread,
        "spread_of": spread_of,
    }


def _farthest(scores: np.ndarray[Any, Any], names: Sequence[str]) -> tuple[str, str]:
    if not np.isfinite(scores).any():
        return DASH, DASH
    place = int(np.nanargmax(np.abs(scores)))
    sign = "+" if scores[place] > 0 else ""
    return f"{sign}{number(float(scores[place]), 1)}", phrase(names[place]).subject


def effect_section(terms: LabTerms, unit: str) -> dict[str, object]:
    """One lab against the reference lab, feature by feature."""
    effect = terms.effect
    counts = Counter(VERDICT_WORDS[verdict] for verdict in effect.verdicts)
    told = ", ".join(
        f"{counts[words]} {words}" for words in VERDICT_WORDS.values() if counts[words]
    )
    return {
        "title": f"{effect.lab} against {effect.reference}, {effect.club}",
        "words": (
            f"By {plural(effect.golfers, 'golfer')} measured in both. Of "
            f"{plural(len(effect.verdicts), 'feature')}: {told}. A shift passes where its whole "
            "interval lies within a quarter of the spread of single swings of different golfers. "
            "Values put in norms are centre + (value − centre − shift) ÷ scale; curves lose the "
            "golfers’ mean difference on every axis of which a feature is not alike."
        ),
        "confidence": percent_of(effect.confidence),
        "rows": [_effect_row(terms, place, unit) for place in range(len(effect.verdicts))],
    }


def _effect_row(terms: LabTerms, place: int, unit: str) -> dict[str, str]:
    effect = terms.effect
    kind = BY_NAME[effect.feature_names[place]].unit
    scale = (effect.scale[place], effect.scale_low[place], effect.scale_high[place])
    return {
        "subject": phrase(effect.feature_names[place]).subject,
        "unit": unit_words(kind, unit),
        "shift": _with_interval(
            (effect.shift[place], effect.shift_low[place], effect.shift_high[place]), kind, unit
        ),
        "allowed": f"± {_fine(effect.allowed_shift[place], kind, unit)}",
        "scale": _with_interval(scale, "ratio", unit),
        "verdict": VERDICT_WORDS[effect.verdicts[place]],
    }


def budget_section(club: str, error: MeasurementError, unit: str) -> dict[str, object]:
    """How far swing, day and lab move each feature of a club."""
    return {
        "title": f"Noise budget, {club}",
        "words": (
            f"From {plural(error.swings, 'swing')} of {plural(error.golfers, 'golfer')} on "
            f"{plural(error.days, 'day')}; {error.golfers_of_several_days:,} golfers were measured "
            "on two days or more."
        ),
        "rows": [_budget_row(error, place, unit) for place in range(len(error.feature_names))],
        "notes": [sentence_case(with_labels(note.message)) for note in error.notices],
    }


def _budget_row(error: MeasurementError, place: int, unit: str) -> dict[str, object]:
    kind = BY_NAME[error.feature_names[place]].unit

    def of(estimates: Estimates, shown_as: FeatureUnit) -> str:
        triple = (estimates.value[place], estimates.low[place], estimates.high[place])
        return _with_interval(triple, shown_as, unit)

    return {
        "subject": phrase(error.feature_names[place]).subject,
        "unit": unit_words(kind, unit),
        "cells": [
            of(error.icc_within, "ratio"),
            of(error.icc_between, "ratio"),
            of(error.sem_within, kind),
            of(error.sem_between, kind),
            _fine(error.sdc_within[place], kind, unit),
            _fine(error.sdc_between[place], kind, unit),
            _fine(error.individuality[place], "ratio", unit),
        ],
    }


def _with_interval(triple: Sequence[float], kind: FeatureUnit, unit: str) -> str:
    if not np.isfinite(triple[0]):
        return DASH
    value, low, high = (_fine(one, kind, unit) for one in triple)
    return f"{value} ({low} to {high})"


def _fine(value: float, kind: FeatureUnit, unit: str) -> str:
    """One digit more than a value itself is shown with: an error is smaller than its feature."""
    if not np.isfinite(value):
        return DASH
    if kind == "ratio":
        return digits(float(value), kind, unit)
    more = digits(float(value) * 10.0, kind, unit)
    return _shift_point(more)


def _shift_point(text: str) -> str:
    """The text of ten times a number as that of the number: "12.3" is "1.23"."""
    sign, plain = (text[0], text[1:]) if not text[0].isdigit() else ("", text)
    whole, _, rest = plain.partition(".")
    whole = whole.rjust(2, "0")
    return f"{sign}{whole[:-1]}.{whole[-1]}{rest}"


def with_labels(text: str) -> str:
    """Features by their labels in place of their names."""
    for name, info in BY_NAME.items():
        text = text.replace(f" {name} ", f" {info.label} ")
    return text
