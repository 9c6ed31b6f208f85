"""The shape of a placement's document, as a JSON Schema (draft 2020-12)."""

from typing import Any, Final

from norms.swing.catalogue import FEATURE_NAMES
from norms.vocabulary import AXES, EVENT_NODES, EVENTS, NODES

SCHEMA_NAME: Final = "placement"
SCHEMA_VERSION: Final = 2

UNIT_WORDS: Final[dict[str, str]] = {
    "cm": "cm",
    "cm_s": "cm/s",
    "s": "s",
    "pct": "%",
    "ratio": "1",
}
"""Unit of a feature as the document writes it; "1" is a pure number."""


def _object(properties: dict[str, Any], *, optional: tuple[str, ...] = ()) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": [name for name in properties if name not in optional],
        "additionalProperties": False,
    }


_TEXT: Final = {"type": "string"}
_TEXT_OR_NULL: Final = {"type": ["string", "null"]}
_NUMBER: Final = {"type": "number"}
_NUMBER_OR_NULL: Final = {"type": ["number", "null"]}
_COUNT: Final = {"type": "integer", "minimum": 0}
_COUNT_OR_NULL: Final = {"type": ["integer", "null"], "minimum": 0}
_FLAG: Final = {"type": "boolean"}
_SHA256: Final = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_PERCENT_OR_NULL: Final = {"type": ["number", "null"], "minimum": 0, "maximum": 100}
_NODE_VALUES: Final = {"type": "array", "items": _NUMBER, "minItems": NODES, "maxItems": NODES}
_THREE_CURVES: Final = _object(dict.fromkeys(AXES, _NODE_VALUES))

PLACEMENT_SCHEMA: Final[dict[str, Any]] = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": f"{SCHEMA_NAME} {SCHEMA_VERSION}",
    **_object(
        {
            "schema": _object(
                {"name": {"const": SCHEMA_NAME}, "version": {"const": SCHEMA_VERSION}}
            ),
            "units": _object(
                dict.fromkeys(("length", "time", "rate", "percentile"), _TEXT),
            ),
            "swing": _object(
                {
                    "code": _TEXT,
                    "golfer": _TEXT,
                    "club": _TEXT,
                    "recorded_on": {"type": "string", "format": "date"},
                    "lab": _TEXT,
                    "source": _TEXT,
                    "source_sha256": _TEXT,
                    "hand": {"enum": ["right", "left"]},
                    "rate_hz": {"type": "number", "exclusiveMinimum": 0},
                    "hip_joint_centres": _TEXT,
                    "axes_source": {"enum": ["declared", "feet_line"]},
                }
            ),
            "edition": _object({"name": _TEXT, "sha256": _SHA256, "imported": _FLAG}),
            "cohort": _object(
                {
                    "key": _TEXT,
                    "label": _TEXT,
                    "handicap": _NUMBER_OR_NULL,
                    "peers": _COUNT,
                    "golfer_left_out": _FLAG,
                    "withheld": _TEXT_OR_NULL,
                }
            ),
            "events": _object(
                {
                    event: _object(
                        {
                            "time_s": _NUMBER,
                            "method": _TEXT,
                            "stand_in": _FLAG,
                            "uncertainty_s": {"type": "number", "minimum": 0},
                        }
                    )
                    for event in EVENTS
                }
            ),
            "features": {
                "type": "array",
                "minItems": len(FEATURE_NAMES),
                "maxItems": len(FEATURE_NAMES),
                "items": _object(
                    {
                        "name": {"enum": list(FEATURE_NAMES)},
                        "unit": {"enum": list(UNIT_WORDS.values())},
                        "value": _NUMBER_OR_NULL,
                        "standard_uncertainty": _NUMBER_OR_NULL,
                        "missing_reason": _TEXT_OR_NULL,
                        "peers": _COUNT,
                        "peers_below": _COUNT_OR_NULL,
                        "peers_equal": _COUNT_OR_NULL,
                        "percentile": _PERCENT_OR_NULL,
                        "percentile_low": _PERCENT_OR_NULL,
                        "percentile_high": _PERCENT_OR_NULL,
                        "beyond": {
                            **_object({"side": {"enum": ["below", "above"]}, "percent": _NUMBER}),
                            "type": ["object", "null"],
                        },
                        "peers_range": _object(
                            {
                                "percents": {
                                    "type": ["array", "null"],
                                    "items": _NUMBER,
                                    "minItems": 2,
                                    "maxItems": 2,
                                },
                                "low": _NUMBER_OR_NULL,
                                "median": _NUMBER_OR_NULL,
                                "high": _NUMBER_OR_NULL,
                            }
                        ),
                    }
                ),
            },
            "cautions": {"type": "array", "items": _TEXT},
            "whole_curve": _object(
                {
                    "level": {"type": "number", "exclusiveMinimum": 0, "maximum": 1},
                    "peers": _COUNT,
                    "withheld": _TEXT_OR_NULL,
                    "caution": _TEXT_OR_NULL,
                    "deviation_sd": _NUMBER_OR_NULL,
                    "limit_sd": _NUMBER_OR_NULL,
                    "outside_s": _NUMBER_OR_NULL,
                    "excursions": {
                        "type": "array",
                        "items": _object(
                            {
                                "axis": {"enum": list(AXES)},
                                "first_node": _COUNT,
                                "last_node": _COUNT,
                                "seconds": _NUMBER,
                                "worst_node": _COUNT,
                                "beyond_cm": _NUMBER,
                            }
                        ),
                    },
                    "band_cm": _object({"low": _THREE_CURVES, "high": _THREE_CURVES}),
                },
                optional=("band_cm",),
            ),
            "by_handicap": {
                "type": "array",
                "items": _object(
                    {
                        "name": {"enum": list(FEATURE_NAMES)},
                        "handicap": _NUMBER,
                        "golfers_near": _COUNT,
                        "z": _NUMBER_OR_NULL,
                        "z_standard_error": _NUMBER_OR_NULL,
                        "value_standard_error": _NUMBER_OR_NULL,
                        "percentile": _PERCENT_OR_NULL,
                        "percentile_low": _PERCENT_OR_NULL,
                        "percentile_high": _PERCENT_OR_NULL,
                        "confidence": _NUMBER,
                        "withheld": _TEXT_OR_NULL,
                    }
                ),
            },
            "curves": _object(
                {
                    "event_nodes": _object(dict.fromkeys(EVENT_NODES, _COUNT)),
                    "node_times_s": _NODE_VALUES,
                    "swing_cm": _THREE_CURVES,
                    "peers_cm": {
                        "type": "array",
                        "items": _object(
                            {
                                "percent": _NUMBER,
                                "confidence": _NUMBER,
                                "value": _THREE_CURVES,
                                "low": _THREE_CURVES,
                                "high": _THREE_CURVES,
                            }
                        ),
                    },
                }
            ),
        },
        optional=("whole_curve", "by_handicap", "curves"),
    ),
}
"""JSON Schema of the document; a change that breaks a reader raises ``SCHEMA_VERSION``."""
