"""A check of the labs as JSON-ready values: a number that is not known is null."""

from dataclasses import asdict
from datetime import date
from math import isfinite
from typing import Any

import numpy as np

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
from norms.vocabulary import PHASES

SCHEMA = {"name": "lab_check", "version": 1}


def check_document(check: LabCheck) -> dict[str, Any]:
    """Everything that a check says, lengths in centimetres.

    Parameters
    ----------
    check : LabCheck
    """
    return {
        "schema": SCHEMA,
        "left_out_of_norms": dict(check.left_out),
        "labs": [asdict(one) for one in check.admissions],
        "lab_effects": [_effect(one) for one in check.terms],
        "sessions": [_session(one) for one in check.sessions],
        "charts": [_chart(one) for one in check.controls],
        "noise_budget": [_noise(club, error) for club, error in check.noise.items()],
        "rejected": [
            {**asdict(one), "recorded_on": _day(one.recorded_on)} for one in check.rejected
        ],
        "swings": [_swing(one) for one in check.swings],
    }


def _session(session: SessionQuality) -> dict[str, Any]:
    return {
        "lab": session.lab,
        "day": _day(session.recorded_on),
        "state": session.state,
        "reason": session.reason,
        "golfers": session.golfers,
        "repeated_golfers": session.repeated_golfers,
        "swings": session.swings,
        "warned": session.warned,
        "rejected": session.rejected,
        "filled_share": _by_phase(session.filled_share),
        "rates": dict(session.rates),
        "filters": dict(session.filters),
        "events": dict(session.methods),
        "warnings": dict(session.warnings),
        "rejections": dict(session.rejections),
    }


def _swing(swing: SwingQuality) -> dict[str, Any]:
    return {
        "swing": swing.swing,
        "golfer": swing.golfer,
        "club": swing.club,
        "lab": swing.lab,
        "day": swing.recorded_on.isoformat(),
        "source": swing.source,
        "rate_hz": swing.rate_hz,
        "filter": filter_words(swing),
        "pelvis": swing.pelvis_method,
        "axes": swing.axes_source,
        "filled_share": _by_phase(swing.filled_share),
        "events": {name: asdict(mark) for name, mark in swing.events.items()},
        "notices": [asdict(note) for note in swing.notices],
    }


def _chart(control: LabControl) -> dict[str, Any]:
    return {
        "lab": control.lab,
        "club": control.club,
        "basis": control.basis,
        "limit": control.limit,
        "features": list(control.feature_names),
        "sessions": [
            {
                "day": day.isoformat(),
                "repeated_golfers": int(control.repeated_golfers[row]),
                "shift": _numbers(control.shift[row]),
                "drift": _numbers(control.drift[row]),
                "spread": _numbers(control.spread[row]),
                "out_of_control": bool(control.out[row]),
                "drifting": bool(control.drifting[row]),
                "reason": control.reasons[row],
            }
            for row, day in enumerate(control.sessions)
        ],
    }


def _effect(terms: LabTerms) -> dict[str, Any]:
    effect = terms.effect
    columns = (
        "centre", "shift", "shift_low", "shift_high", "allowed_shift",
        "scale", "scale_low", "scale_high",
    )  # fmt: skip
    return {
        "lab": effect.lab,
        "reference": effect.reference,
        "club": effect.club,
        "method": effect.method,
        "golfers": effect.golfers,
        "confidence": effect.confidence,
        "allowed_scale": effect.allowed_scale,
        "verdict": effect.verdict,
        "features": [
            {
                "feature": name,
                "verdict": effect.verdicts[place],
                **{column: _number(getattr(effect, column)[place]) for column in columns},
            }
            for place, name in enumerate(effect.feature_names)
        ],
        "largest_curve_shift_cm": _numbers(np.abs(terms.curve_shift_cm).max(axis=1)),
    }


def _noise(club: str, error: MeasurementError) -> dict[str, Any]:
    columns = (
        "golfer_sd", "day_sd", "swing_sd", "lab_sd", "sdc_within", "sdc_between", "individuality",
    )  # fmt: skip
    intervals = ("icc_within", "icc_between", "sem_within", "sem_between")
    return {
        "club": club,
        "confidence": error.confidence,
        "golfers": error.golfers,
        "days": error.days,
        "swings": error.swings,
        "golfers_of_several_days": error.golfers_of_several_days,
        "labs": list(error.labs),
        "notes": [note.message for note in error.notices],
        "features": [
            {
                "feature": name,
                **{column: _number(getattr(error, column)[place]) for column in columns},
                **{column: _interval(getattr(error, column), place) for column in intervals},
            }
            for place, name in enumerate(error.feature_names)
        ],
    }


def _interval(estimates: Estimates, place: int) -> dict[str, float | None]:
    return {name: _number(getattr(estimates, name)[place]) for name in ("value", "low", "high")}


def _by_phase(shares: np.ndarray[Any, Any]) -> dict[str, float | None]:
    return dict(zip(PHASES, _numbers(shares), strict=True))


def _numbers(values: np.ndarray[Any, Any]) -> list[float | None]:
    return [_number(value) for value in values]


def _number(value: float) -> float | None:
    return float(value) if isfinite(value) else None


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
