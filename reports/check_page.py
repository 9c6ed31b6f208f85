"""The check page: labs held in control, how every session went, and the noise budget."""

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from norms.cohort.lab_control import FEWEST_GOLFERS
from norms.cohort.session_quality import filter_words
from norms.records import (
    Estimates,
    LabCheck,
    LabControl,
    LabTerms,
    MeasurementError,
    SessionQuality,
    SwingQuality,
)
from norms.records.lab_quality import REPEATED_GOLFERS
from norms.swing.catalogue import BY_NAME, FeatureUnit
from norms.vocabulary import PHASE_NAMES, PHASES
from reports.figures.control_chart import control_chart
from reports.phrases import phrase
from reports.quantities import (
    DASH,
    check_unit,
    digits,
    number,
    percent_of,
    plural,
    unit_words,
)
from reports.render import picture, render
from reports.sentences import sentence_case

VERDICT_WORDS: Final[dict[str, str]] = {
    "alike": "alike, put together",
    "adjust_shift": "shifted",
    "adjust_shift_and_scale": "shifted and scaled",
    "apart": "kept apart",
}


def check_page(check: LabCheck, *, unit: str = "in") -> str:
    """What a check of the labs says, as a self-contained HTML page.

    Parameters
    ----------
    check : LabCheck
    unit : {"in", "cm"}
        The reader's unit of length.

    Returns
    -------
    str
        The same bytes for the same check.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    noise = list(check.noise.values())
    return render(
        "check.html",
        title=_title(check),
        facts=_facts(check),
        lead=check_lead(check),
        swings=[_swing(one) for one in check.swings],
        swings_title=plural(len(check.swings), "swing"),
        held=_held(check),
        labs=[
            {
                "lab": one.lab,
                "club": one.club,
                "golfers": f"{one.golfers:,}",
                "swings": f"{one.swings:,}",
                "admitted": "yes" if one.admitted else "no",
                "reason": sentence_case(one.reason),
            }
            for one in check.admissions
        ],
        left_out={sentence_case(rule): count for rule, count in check.left_out.items()},
        charts=[_chart(one, order) for order, one in enumerate(check.controls)],
        effects=[_effect(one, unit) for one in check.terms],
        budgets=[_budget(club, error, unit) for club, error in check.noise.items()],
        confidence=percent_of(noise[0].confidence) if noise else "",
        rejected=[
            {
                "file": one.source,
                "lab": one.lab,
                "reason": one.message.removeprefix(f"{one.source}: "),
            }
            for one in check.rejected
        ],
        sessions=_labs_sessions(check.sessions),
    )


def check_lead(check: LabCheck) -> list[str]:
    """The check in a few sentences."""
    swings = sum(one.swings for one in check.sessions)
    labs = len({one.lab for one in check.sessions})
    days = sum(one.recorded_on is not None for one in check.sessions)
    states = Counter(one.state for one in check.sessions)
    rejected = len(check.rejected)
    sentences = [
        f"{plural(labs, 'lab')}, {plural(days, 'session')}, {plural(swings, 'swing')}; "
        + (
            f"{plural(rejected, 'file')} rejected, each with a reason."
            if rejected
            else "no file rejected."
        ),
        f"{plural(states['held back'], 'session')} held back from norms, "
        f"{states['released']:,} released by a person; {states['not judged']:,} cannot be judged, "
        "because fewer than three of their golfers were in the lab on another day.",
    ]
    outside = sorted({one.lab for one in check.admissions if not one.admitted})
    if outside:
        sentences.append(f"Not in norms, in whole or in part: {', '.join(outside)}.")
    return sentences


def state_words(session: SessionQuality) -> str:
    """A session's state with what it rests on."""
    if session.state == "in control":
        return f"in control, {session.repeated_golfers} measured again"
    return session.state


def filled_words(shares: np.ndarray[Any, Any]) -> str:
    """Shares of filled samples by phase, e.g. "0 / 2 / 0 %"."""
    if not np.isfinite(shares).all():
        return DASH
    return " / ".join(number(100.0 * share, 0) for share in shares) + " %"


def day_words(session: SessionQuality) -> str:
    """The day of a session, or that it is not known."""
    return session.recorded_on.isoformat() if session.recorded_on else "day not known"


def told_words(session: SessionQuality) -> str:
    """Warnings and rejections of a session with their counts."""
    told = [
        f"{code.replace('_', ' ')} {count}"
        for codes in (session.warnings, session.rejections)
        for code, count in codes.items()
    ]
    return ", ".join(told) or DASH


def _title(check: LabCheck) -> str:
    labs = sorted({one.lab for one in check.sessions})
    if len(check.swings) == 1:
        return f"Swing {check.swings[0].swing}"
    return f"Check of {' and '.join(labs)}" if labs else "Check of the labs"


def _facts(check: LabCheck) -> str:
    days = [one.recorded_on for one in check.sessions if one.recorded_on]
    if not days:
        return "No day is known."
    if len(set(days)) == 1:
        return f"Recorded on {days[0].isoformat()}."
    return f"Recorded from {min(days).isoformat()} to {max(days).isoformat()}."


def _held(check: LabCheck) -> list[dict[str, str]]:
    return [
        {
            "session": f"{one.lab}, {day_words(one)}",
            "state": one.state,
            "reason": sentence_case(_plain(one.reason)),
        }
        for one in check.sessions
        if one.state in ("held back", "released")
    ]


def _plain(text: str) -> str:
    """Features by their labels in place of their names."""
    for name, info in BY_NAME.items():
        text = text.replace(f" {name} ", f" {info.label} ")
    return text


def _chart(control: LabControl, order: int) -> dict[str, object]:
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


def _effect(terms: LabTerms, unit: str) -> dict[str, object]:
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


def _budget(club: str, error: MeasurementError, unit: str) -> dict[str, object]:
    return {
        "title": f"Noise budget, {club}",
        "words": (
            f"From {plural(error.swings, 'swing')} of {plural(error.golfers, 'golfer')} on "
            f"{plural(error.days, 'day')}; {error.golfers_of_several_days:,} golfers were measured "
            "on two days or more."
        ),
        "rows": [_budget_row(error, place, unit) for place in range(len(error.feature_names))],
        "notes": [sentence_case(_plain(note.message)) for note in error.notices],
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


def _labs_sessions(sessions: Sequence[SessionQuality]) -> list[dict[str, object]]:
    groups = []
    for lab in sorted({one.lab for one in sessions}):
        own = [one for one in sessions if one.lab == lab]
        methods = Counter[str]()
        filters = Counter[str]()
        for one in own:
            methods.update(one.methods)
            filters.update(one.filters)
        groups.append(
            {
                "title": f"{lab}: {plural(len(own), 'session')}",
                "open": len(own) == 1,
                "words": f"Filter: {_counted(filters)}. Filled by phase: "
                f"{', '.join(PHASE_NAMES[phase] for phase in PHASES)}.",
                "rows": [_session_row(one) for one in own],
                "methods": [(words, f"{count:,}") for words, count in sorted(methods.items())],
            }
        )
    return groups


def _session_row(session: SessionQuality) -> dict[str, str]:
    return {
        "day": day_words(session),
        "golfers": f"{session.golfers:,}",
        "swings": f"{session.swings:,}",
        "warned": f"{session.warned:,}",
        "rejected": f"{session.rejected:,}",
        "filled": filled_words(session.filled_share),
        "filter": ", ".join(session.filters) or DASH,
        "told": told_words(session),
        "state": state_words(session),
    }


def _counted(counts: Counter[str]) -> str:
    return "; ".join(f"{words} ({count:,})" for words, count in counts.most_common()) or DASH


def _swing(swing: SwingQuality) -> dict[str, object]:
    rows = [
        ("Golfer, club", f"{swing.golfer}, {swing.club}"),
        ("Session", f"{swing.lab}, {swing.recorded_on.isoformat()}"),
        ("File", swing.source),
        ("Rate and filter", f"{swing.rate_hz:g} Hz, {filter_words(swing)}"),
        ("Pelvis and axes", f"{swing.pelvis_method}, {swing.axes_source.replace('_', ' ')}"),
        ("Filled, by phase", filled_words(swing.filled_share)),
    ]
    if swing.filtering is not None:
        bound = ", ".join(number(float(one), 1) for one in swing.filtering.rate_bound_cm_s)
        rows.append(("Rates known to within", f"{bound} cm/s (sway, thrust, lift)"))
    for event, mark in swing.events.items():
        rows.append(
            (
                sentence_case(event),
                f"{mark.time_s:.3f} s by {mark.method}{', a stand-in' if mark.stand_in else ''}; "
                f"known to within {1000 * mark.uncertainty_s:.0f} ms, confidence {mark.confidence}",
            )
        )
    for note in swing.notices:
        rows.append((sentence_case(note.severity), sentence_case(note.message)))
    return {"title": swing.swing, "rows": rows}
