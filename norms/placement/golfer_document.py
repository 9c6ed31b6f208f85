"""A golfer's place as a document for other programs, and as rows of a table."""

from dataclasses import asdict
from typing import Any, Final

from norms.placement.document import as_read, placement_document
from norms.placement.document_schema import UNIT_WORDS
from norms.records.golfer_place import GolferPlace
from norms.records.progress import Progress
from norms.swing.catalogue import BY_NAME

SHEET_SCHEMA: Final = {"name": "golfer_place", "version": 1}
PROGRESS_SCHEMA: Final = {"name": "progress", "version": 1}

COLUMNS: Final = (
    "golfer",
    "club",
    "recorded_on",
    "swings",
    "edition",
    "cohort",
    "feature",
    "unit",
    "value",
    "standard_error",
    "peers",
    "peers_below",
    "percentile",
    "percentile_low",
    "percentile_high",
    "percentile_beyond",
    "p_single_case",
    "peers_low",
    "peers_median",
    "peers_high",
    "peers_range_percents",
    "missing_reason",
)


def golfer_document(place: GolferPlace, *, curves: bool = True) -> dict[str, Any]:
    """A golfer's place as nested plain values, ready for JSON.

    Lengths are in centimetres; signs as in the placement's own document, which it holds.

    Parameters
    ----------
    place : GolferPlace
    curves : bool
        Whether the placement's curves are included.
    """
    return {
        "schema": dict(SHEET_SCHEMA),
        "placement": placement_document(place.placement, curves=curves),
        "swings": list(place.swings),
        "days": place.days,
        "features": [as_read(asdict(one)) for one in place.places],
        "map": None if place.map is None else as_read(asdict(place.map)),
        "typicality": None if place.typicality is None else as_read(asdict(place.typicality)),
        "nearest_handicap": None if place.nearest is None else as_read(asdict(place.nearest)),
        "pattern": None if place.pattern is None else as_read(asdict(place.pattern)),
        "look_alikes": None if place.look_alikes is None else as_read(asdict(place.look_alikes)),
        "findings": [as_read(asdict(finding)) for finding in place.findings],
    }


def feature_rows(place: GolferPlace) -> list[dict[str, object]]:
    """One row for each feature, value and peers' range side by side; columns as ``COLUMNS``."""
    placement = place.placement
    label = placement.swing.label
    rows: list[dict[str, object]] = []
    for feature, sure in zip(placement.features, place.places, strict=True):
        percents, beyond = feature.range_percents, feature.beyond
        rows.append(
            {
                "golfer": label.golfer,
                "club": label.club,
                "recorded_on": label.recorded_on.isoformat(),
                "swings": len(place.swings),
                "edition": placement.edition,
                "cohort": placement.cohort_key,
                "feature": feature.feature,
                "unit": UNIT_WORDS[BY_NAME[feature.feature].unit],
                "value": feature.value,
                "standard_error": sure.error,
                "peers": feature.peers,
                "peers_below": None if sure.percentile is None else feature.below,
                "percentile": sure.percentile,
                "percentile_low": sure.low,
                "percentile_high": sure.high,
                "percentile_beyond": beyond and f"{beyond.side} {beyond.percent:g}",
                "p_single_case": sure.p,
                "peers_low": feature.peers_low,
                "peers_median": feature.peers_median,
                "peers_high": feature.peers_high,
                "peers_range_percents": f"{percents[0]:g} to {percents[1]:g}" if percents else None,
                "missing_reason": feature.reason,
            }
        )
    return rows


def progress_document(progress: Progress) -> dict[str, Any]:
    """A golfer's progress as nested plain values, without curves."""
    document: dict[str, Any] = {
        "schema": dict(PROGRESS_SCHEMA),
        "golfer": progress.golfer,
        "club": progress.club,
        "edition": progress.edition,
        "cohort": {"label": progress.cohort_label, "peers": progress.peers},
        "sessions": [
            {"day": one.day.isoformat(), "lab": one.lab, "swings": one.swings, "overall_cm": apart}
            for one, apart in zip(progress.sessions, progress.own_deviation_cm, strict=True)
        ],
        "events": [
            {"day": one.day.isoformat(), "kind": one.kind, "note": one.note}
            for one in progress.events
        ],
        "compared": list(progress.compared),
        "changes": [
            {**asdict(one), "unit": UNIT_WORDS[BY_NAME[one.feature].unit]}
            for one in progress.changes
        ],
        "cautions": list(progress.cautions),
    }
    return {name: as_read(value) for name, value in document.items()}
