"""Brings a table of features in as a cohort of its own, without curves, by a mapping.

The mapping is described in `pipelines.feature_mapping`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from norms.records.study import StudyFrame
from norms.study.ball_speed import judge_speeds
from norms.study.frame import IMPOSSIBLE, NO_SPEED
from norms.swing.catalogue import BY_NAME
from norms.units import MPS_PER_UNIT
from pipelines.feature_mapping import (
    Facts,
    FeatureMapping,
    MappedFeature,
    read_mapping,
    table_columns,
)
from pipelines.roles import NOT_STATED
from pipelines.store import Store
from pipelines.text_tables import TextTable, read_text_table, refuse_faults

INFINITE: Final = "infinite values taken as missing (their swings stay): "


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureImport:
    """What became of a table.

    Attributes
    ----------
    name : str
    golfers, swings, features : int
    notes : Mapping of str to int
        What was taken as missing or flagged, and how often.
    """

    name: str
    golfers: int
    swings: int
    features: int
    notes: Mapping[str, int]


def import_features(
    store: Store, table: Path, mapping: Path, *, who: str = NOT_STATED
) -> FeatureImport:
    """Read a table of features, one row per swing, into a store as a cohort of its own.

    Parameters
    ----------
    store : Store
        Open for writing. A cohort of the same name is replaced.
    table : Path
        CSV.
    mapping : Path
        TOML.

    Raises
    ------
    StudyRefused
        If the mapping is not valid.
    TableRefused
        With every fault of the table.
    """
    stated = read_mapping(mapping)
    frame = frame_of_table(table, stated)
    with store.act("features", who=who, details={"swings": len(frame.swings)}):
        store.save_feature_cohort(stated.name, frame)
    return FeatureImport(
        name=stated.name,
        golfers=len(set(frame.golfers)),
        swings=len(frame.swings),
        features=len(frame.feature_names),
        notes=frame.left_out,
    )


def frame_of_table(file: Path, mapping: FeatureMapping) -> StudyFrame:
    """The rows of a table, in the units inside."""
    table = read_text_table(file, table_columns(mapping))
    if mapping.columns.swing is not None:
        table.refuse_repeats(mapping.columns.swing.lower())
    refuse_faults([table])
    notes: dict[str, int] = {}
    features = [_numbers(table, one.column, one.stored[1], notes) for one in mapping.features]
    speeds = {
        name: np.full(len(table.rows), np.nan)
        if speed is None
        else _numbers(table, speed.column, MPS_PER_UNIT[speed.unit], notes)
        for name, speed in (
            ("ball", mapping.speeds.ball_speed),
            ("club", mapping.speeds.club_speed),
        )
    }
    judged = judge_speeds(speeds["ball"], speeds["club"])
    notes[NO_SPEED] = int(np.isnan(speeds["ball"]).sum())
    notes[IMPOSSIBLE] = int(judged.impossible.sum())
    return StudyFrame(
        swings=tuple(
            f"row {row.line}"
            if mapping.columns.swing is None
            else _text(row, mapping.columns.swing)
            for row in table.rows
        ),
        golfers=tuple(_text(row, mapping.columns.golfer) for row in table.rows),
        clubs=tuple(
            mapping.club if isinstance(mapping.club, str) else _text(row, mapping.club.column)
            for row in table.rows
        ),
        labs=tuple(
            mapping.name if mapping.columns.lab is None else _text(row, mapping.columns.lab)
            for row in table.rows
        ),
        ball_speed_mps=np.where(judged.impossible, np.nan, speeds["ball"]),
        club_speed_mps=np.where(judged.impossible, np.nan, speeds["club"]),
        golfer_facts=_facts(table, mapping.facts),
        feature_names=tuple(one.name for one in mapping.features),
        feature_units=tuple(one.stored[0] for one in mapping.features),
        feature_labels=tuple(_label(one) for one in mapping.features),
        features=np.array(features).T,
        left_out={words: count for words, count in notes.items() if count},
    )


def _label(feature: MappedFeature) -> str:
    known = BY_NAME.get(feature.name)
    return feature.label or (known.label if known else feature.name.replace("_", " "))


def _swing(row: Any, column: str | None) -> str:
    return f"row {row.line}" if column is None else _text(row, column)


def _text(row: Any, column: str) -> str:
    return str(row.values[column.lower()])


def _numbers(
    table: TextTable, column: str, scale: float, notes: dict[str, int]
) -> np.ndarray[Any, np.dtype[np.float64]]:
    found = [row.values[column.lower()] for row in table.rows]
    values = np.array([np.nan if value is None else value for value in found], dtype=np.float64)
    notes[f"{INFINITE}{column}"] = int(np.isinf(values).sum())
    return np.where(np.isinf(values), np.nan, values * scale)


def _facts(table: TextTable, facts: Facts) -> dict[str, np.ndarray[Any, np.dtype[np.float64]]]:
    ignored: dict[str, int] = {}
    found = {}
    for name in ("sex", "age", "height", "mass", "handicap"):
        fact = getattr(facts, name)
        if fact is not None:
            found[name] = _numbers(table, fact.column, 1.0, ignored)
    return found
