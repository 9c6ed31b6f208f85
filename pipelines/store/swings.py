"""Swings and what became of their files: written in one transaction, read back one or all."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from norms.errors import Notice, StoreRefused
from norms.records import (
    FeatureValues,
    FileOutcome,
    PhaseCurve,
    Swing,
    SwingEvents,
    SwingLabel,
    SwingPool,
)
from norms.swing.catalogue import FEATURE_NAMES
from norms.vocabulary import EVENTS, NODES
from pipelines.store.arrays import axis_columns, curves_of, fixed_lists, rows_of
from pipelines.store.database import Database
from pipelines.store.labs import event_mark, filter_facts, filter_payload

if TYPE_CHECKING:
    import pyarrow as pa

LABEL = ("golfer", "club", "recorded_on", "lab", "source", "content_hash")
FACTS = ("hand", "rate_hz", "pelvis_method", "axes_source")


def add_swings(
    database: Database, swings: Sequence[Swing], outcomes: Sequence[FileOutcome], run: int
) -> None:
    """Store swings and the outcomes of their files, all of them or, on any fault, none."""
    with database.transaction():
        if swings:
            add_swing_rows(database, swings)
        if outcomes:
            database.take_in("add_outcomes", _outcome_table(outcomes, run))


def add_swing_rows(database: Database, swings: Sequence[Swing]) -> None:
    """Add the rows of swings with their events and features; no transaction."""
    table = _swing_table(swings)
    _refuse_unknown_golfers(database, table)
    database.take_in("add_swings", table)
    database.take_in("add_events", _event_table(swings))
    database.take_in("add_features", _feature_table(swings))


def put_swing(database: Database, swing: Swing) -> None:
    """Put a swing in the place of the one stored from the same file, or add it; no transaction."""
    table = _swing_table([swing])
    if database.take_in("update_swing", table):
        database.rows("forget_swing_events", (swing.label.swing,))
        database.rows("forget_swing_features", (swing.label.swing,))
    else:
        _refuse_unknown_golfers(database, table)
        database.take_in("add_swings", table)
    database.take_in("add_events", _event_table([swing]))
    database.take_in("add_features", _feature_table([swing]))


def _refuse_unknown_golfers(database: Database, table: "pa.Table") -> None:
    unknown = [code for (code,) in database.take_in("unknown_golfers", table)]
    if unknown:
        raise StoreRefused(
            f"golfers not on the roster: {', '.join(unknown[:5])}"
            f"{' and more' if len(unknown) > 5 else ''}: import the roster first",
            code="golfer_unknown",
        )


def _swing_table(swings: Sequence[Swing]) -> "pa.Table":
    import pyarrow as pa

    with np.errstate(over="ignore"):  # what single precision cannot hold is refused just below
        curves = np.stack([swing.curve.values_cm for swing in swings]).astype(np.float32)
    times = np.stack([swing.curve.times_s for swing in swings])
    axes = np.stack([swing.shot_axes.ravel() for swing in swings])
    filled = np.stack([swing.filled_share for swing in swings])
    for name, values in (
        ("curve", curves), ("node times", times), ("shot axes", axes), ("filled share", filled),
    ):  # fmt: skip
        _refuse_not_finite(name, values, swings)
    return pa.table(
        {
            "code": [swing.label.swing for swing in swings],
            **{name: [getattr(swing.label, name) for swing in swings] for name in LABEL},
            **{name: [getattr(swing, name) for swing in swings] for name in FACTS},
            "shot_axes": fixed_lists(axes),
            "filled_share": fixed_lists(filled),
            **axis_columns(curves),
            "node_times_s": fixed_lists(times),
            "notices": [json.dumps([asdict(note) for note in swing.notices]) for swing in swings],
            "filtering": pa.array([filter_payload(s.filtering) for s in swings], pa.string()),
        }
    )


def _refuse_not_finite(name: str, values: np.ndarray[Any, Any], swings: Sequence[Swing]) -> None:
    """NaN passes inside an ARRAY, where no CHECK can see it."""
    finite = np.isfinite(values).reshape(len(swings), -1).all(axis=1)
    if not finite.all():
        label = swings[int(np.argmin(finite))].label
        raise StoreRefused(
            f"{label.source}: swing {label.swing}: {name} is not finite, so it is not stored",
            code="not_finite",
        )


def _event_table(swings: Sequence[Swing]) -> "pa.Table":
    import pyarrow as pa

    rows = [
        {"swing": swing.label.swing, "event": event, **asdict(swing.events.mark(event))}
        for swing in swings
        for event in EVENTS
    ]
    return pa.Table.from_pylist(rows)


def _feature_table(swings: Sequence[Swing]) -> "pa.Table":
    import pyarrow as pa

    rows = [
        (swing.label.swing, name, value, None, swing.features.uncertainty.get(name))
        for swing in swings
        for name, value in swing.features.values.items()
    ] + [
        (swing.label.swing, name, None, reason, None)
        for swing in swings
        for name, reason in swing.features.missing.items()
    ]
    kinds = {
        "swing": pa.string(),
        "feature": pa.string(),
        "value": pa.float64(),
        "missing_reason": pa.string(),
        "uncertainty": pa.float64(),
    }
    return pa.table(
        {
            name: pa.array([row[place] for row in rows], kind)
            for place, (name, kind) in enumerate(kinds.items())
        }
    )


def _outcome_table(outcomes: Sequence[FileOutcome], run: int) -> "pa.Table":
    import pyarrow as pa

    rows = [
        {"run": run, "place": place, **asdict(outcome)} for place, outcome in enumerate(outcomes)
    ]
    return pa.Table.from_pylist(rows)


def outcomes(database: Database, run: int | None) -> list[FileOutcome]:
    """Outcomes of one run, or of every run, in the order they were given."""
    return [
        FileOutcome(
            source=source,
            lab=lab,
            status=status,
            code=code,
            message=message,
            swing=swing,
            content_hash=content_hash,
        )
        for source, lab, status, code, message, swing, content_hash in database.rows(
            "outcomes", (run,)
        )
    ]


def swing(database: Database, code: str) -> Swing:
    """One stored swing."""
    table = database.arrow("swing", (code,))
    if table.num_rows == 0:
        raise StoreRefused(
            f"swing {code}: is not in the store: check the code", code="swing_unknown"
        )
    kept = {
        name: table[name][0].as_py()
        for name in ("code", *LABEL, *FACTS, "shot_axes", "notices", "filtering")
    }
    marks = {event: event_mark(mark) for event, *mark in database.rows("swing_events", (code,))}
    features = database.rows("swing_features", (code,))
    return Swing(
        label=SwingLabel(swing=code, **{name: kept[name] for name in LABEL}),
        **{name: kept[name] for name in FACTS},
        curve=PhaseCurve(
            values_cm=curves_of(table)[0], times_s=rows_of(table, "node_times_s", NODES)[0]
        ),
        events=SwingEvents(**marks),
        features=FeatureValues(
            values={name: value for name, value, reason, _ in features if reason is None},
            missing={name: reason for name, _, reason, _ in features if reason is not None},
            uncertainty={name: spread for name, _, _, spread in features if spread is not None},
        ),
        shot_axes=rows_of(table, "shot_axes", 9).reshape(3, 3),
        filled_share=rows_of(table, "filled_share", 3)[0],
        notices=tuple(Notice(**note) for note in json.loads(kept["notices"])),
        filtering=filter_facts(kept["filtering"]),
    )


def swing_pool(database: Database) -> SwingPool:
    """Every stored swing as arrays, in order of swing code, with the catalogue's features.

    Read without ORDER BY and sorted here: DuckDB is slow to sort rows that carry arrays.
    """
    table = database.arrow("pool_swings")
    codes = np.array(table["code"].to_pylist(), dtype=np.str_)
    order = np.argsort(codes)
    sorted_columns = {
        name: [values[place] for place in order]
        for name in ("code", "golfer", "club", "lab", "recorded_on")
        for values in [table[name].to_pylist()]
    }
    return SwingPool(
        swings=tuple(sorted_columns["code"]),
        golfers=tuple(sorted_columns["golfer"]),
        clubs=tuple(sorted_columns["club"]),
        labs=tuple(sorted_columns["lab"]),
        recorded_on=tuple(sorted_columns["recorded_on"]),
        curves_cm=curves_of(table)[order],
        feature_names=FEATURE_NAMES,
        features=_pool_features(database, sorted_columns["code"]),
        filled_share=table["filled_share"].to_numpy()[order],
    )


def _pool_features(database: Database, codes: Sequence[str]) -> np.ndarray[Any, Any]:
    """Features of shape (s, d); NaN where a swing does not give one."""
    import pyarrow as pa
    import pyarrow.compute as pc

    long = database.arrow("pool_features")
    row = pc.index_in(long["swing"], value_set=pa.array(codes, pa.string())).to_numpy()
    # A feature the catalogue no longer knows has no column: null, so NaN, so left out.
    column = pc.index_in(long["feature"], value_set=pa.array(FEATURE_NAMES)).to_numpy()
    known = np.isfinite(column)
    features = np.full((len(codes), len(FEATURE_NAMES)), np.nan)
    features[row[known].astype(int), column[known].astype(int)] = long["value"].to_numpy()[known]
    return features
