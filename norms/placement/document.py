"""A placement as a document for other programs: plain values under a versioned schema."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from norms.placement.document_schema import SCHEMA_NAME, SCHEMA_VERSION, UNIT_WORDS
from norms.records import Bands, EventMark, FeaturePlace, Placement, Swing, WholeCurvePlace
from norms.records.centile_readings import CentilePlace
from norms.swing.catalogue import BY_NAME
from norms.vocabulary import AXES, EVENT_NODES, EVENTS

_CURVE_DECIMALS: Final = 4  # a micrometre; keeps the document short
_DIGITS: Final = 8
"""Significant digits of a number: finer than anything measured, without binary remainders."""


def placement_document(placement: Placement, *, curves: bool = True) -> dict[str, Any]:
    """A placement as nested plain values, ready for JSON, without NaN.

    Lengths are in centimetres, times in seconds from the first sample of the capture, percentiles
    and their limits from 0 to 100; sway + toward the target, thrust + toward the ball, lift + up.

    Parameters
    ----------
    placement : Placement
    curves : bool
        Whether the three curves of the swing and the peers' percentiles are included, on 301
        phase nodes, rounded to a micrometre.

    Returns
    -------
    dict
        Valid under ``norms.placement.document_schema.PLACEMENT_SCHEMA``.
    """
    swing = placement.swing
    document: dict[str, Any] = as_read(_document(placement, swing))
    if placement.whole_curve is not None:
        document["whole_curve"] = _whole_curve(placement.whole_curve, curves=curves)
    if curves:
        document["curves"] = {
            "event_nodes": dict(EVENT_NODES),
            "node_times_s": swing.curve.times_s.round(6).tolist(),
            "swing_cm": _axes(swing.curve.values_cm),
            "peers_cm": _peers(placement.bands),
        }
    return document


def as_read(value: Any) -> Any:
    """Plain values with numbers as a person would read them: 31.6 for 31.599999999999998."""
    if isinstance(value, Mapping):
        return {key: as_read(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [as_read(item) for item in value]
    return float(f"{value:.{_DIGITS}g}") if isinstance(value, float) else value


def _document(placement: Placement, swing: Swing) -> dict[str, Any]:
    """Everything but curves."""
    document: dict[str, Any] = {
        "schema": {"name": SCHEMA_NAME, "version": SCHEMA_VERSION},
        "units": {"length": "cm", "time": "s", "rate": "cm/s", "percentile": "0 to 100"},
        "swing": {
            "code": swing.label.swing,
            "golfer": swing.label.golfer,
            "club": swing.label.club,
            "recorded_on": swing.label.recorded_on.isoformat(),
            "lab": swing.label.lab,
            "source": swing.label.source,
            "source_sha256": swing.label.content_hash,
            "hand": swing.hand,
            "rate_hz": swing.rate_hz,
            "hip_joint_centres": swing.pelvis_method,
            "axes_source": swing.axes_source,
        },
        "edition": {
            "name": placement.edition,
            "sha256": placement.edition_hash,
            "imported": placement.imported,
        },
        "cohort": {
            "key": placement.cohort_key,
            "label": placement.cohort_label,
            "handicap": placement.handicap,
            "peers": placement.peers,
            "golfer_left_out": placement.left_out,
            "withheld": placement.withheld,
        },
        "events": {event: _event(swing.events.mark(event)) for event in EVENTS},
        "features": [_feature(place, swing) for place in placement.features],
        "cautions": list(placement.cautions),
    }
    if placement.by_handicap:
        document["by_handicap"] = [_by_handicap(place) for place in placement.by_handicap]
    return document


def _event(mark: EventMark) -> dict[str, Any]:
    return {
        "time_s": mark.time_s,
        "method": mark.method,
        "stand_in": mark.stand_in,
        "uncertainty_s": mark.uncertainty_s,
    }


def _feature(place: FeaturePlace, swing: Swing) -> dict[str, Any]:
    return {
        "name": place.feature,
        "unit": UNIT_WORDS[BY_NAME[place.feature].unit],
        "value": place.value,
        "standard_uncertainty": swing.features.uncertainty.get(place.feature),
        "missing_reason": place.reason,
        "peers": place.peers,
        "peers_below": place.below,
        "peers_equal": place.equal,
        "percentile": place.percentile,
        "percentile_low": place.percentile_low,
        "percentile_high": place.percentile_high,
        "beyond": None if place.beyond is None else asdict(place.beyond),
        "peers_range": {
            "percents": list(place.range_percents) if place.range_percents else None,
            "low": place.peers_low,
            "median": place.peers_median,
            "high": place.peers_high,
        },
    }


def _whole_curve(place: WholeCurvePlace, *, curves: bool) -> dict[str, Any]:
    document: dict[str, Any] = as_read(
        {
            "level": place.level,
            "peers": place.peers,
            "withheld": place.withheld,
            "caution": place.caution,
            "deviation_sd": place.deviation_sd,
            "limit_sd": place.bands.joint_factor if place.bands else None,
            "outside_s": place.outside_s,
            "excursions": [asdict(excursion) for excursion in place.excursions],
        }
    )
    if curves and place.bands:
        low, high = place.bands.joint_limits_cm()
        document["band_cm"] = {"low": _axes(low), "high": _axes(high)}
    return document


def _by_handicap(place: CentilePlace) -> dict[str, Any]:
    return {
        "name": place.name,
        "handicap": place.handicap,
        "golfers_near": place.golfers,
        "z": place.z,
        "z_standard_error": place.z_error,
        "value_standard_error": place.value_error,
        "percentile": place.percentile,
        "percentile_low": place.percentile_low,
        "percentile_high": place.percentile_high,
        "confidence": place.confidence,
        "withheld": place.withheld,
    }


def _axes(values_cm: NDArray[np.float64]) -> dict[str, list[float]]:
    rounded = values_cm.round(_CURVE_DECIMALS)
    return {axis: row.tolist() for axis, row in zip(AXES, rounded, strict=True)}


def _peers(bands: Bands | None) -> list[dict[str, Any]]:
    """Shown percentiles of the peers' curves, each with its interval; empty where withheld."""
    if bands is None:
        return []
    shown = bands.shown_percents()
    return [
        {
            "percent": percent,
            "confidence": bands.confidence,
            "value": _axes(bands.curve_cm[at]),
            "low": _axes(bands.curve_low_cm[at]),
            "high": _axes(bands.curve_high_cm[at]),
        }
        for at, percent in enumerate(bands.percents)
        if percent in shown
    ]
