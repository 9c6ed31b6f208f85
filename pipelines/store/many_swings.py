"""Many stored swings at once: three queries, however many they are."""

import json
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from norms.errors import Notice, StoreRefused
from norms.records import EventMark, FeatureValues, PhaseCurve, Swing, SwingEvents, SwingLabel
from norms.vocabulary import NODES
from pipelines.store.arrays import curves_of, rows_of
from pipelines.store.database import Database
from pipelines.store.labs import event_mark, filter_facts
from pipelines.store.swings import FACTS, LABEL


def many_swings(database: Database, codes: Sequence[str]) -> dict[str, Swing]:
    """Stored swings by code.

    Raises
    ------
    StoreRefused
        ``swing_unknown``, naming the first code that the store does not hold.
    """
    table = database.arrow("many_swings", (list(codes),))
    columns = {
        name: table[name].to_pylist() for name in ("code", *LABEL, *FACTS, "notices", "filtering")
    }
    missing = sorted(set(codes) - set(columns["code"]))
    if missing:
        raise StoreRefused(
            f"swing {missing[0]}: is not in the store: check the code", code="swing_unknown"
        )
    curves, times = curves_of(table), rows_of(table, "node_times_s", NODES)
    axes, filled = rows_of(table, "shot_axes", 9), rows_of(table, "filled_share", 3)
    marks, features = _marks(database, codes), _features(database, codes)
    return {
        code: Swing(
            label=SwingLabel(swing=code, **{name: columns[name][row] for name in LABEL}),
            **{name: columns[name][row] for name in FACTS},
            curve=PhaseCurve(values_cm=curves[row], times_s=times[row]),
            events=SwingEvents(**marks[code]),
            features=features[code],
            shot_axes=axes[row].reshape(3, 3),
            filled_share=filled[row],
            notices=tuple(Notice(**note) for note in json.loads(columns["notices"][row])),
            filtering=filter_facts(columns["filtering"][row]),
        )
        for row, code in enumerate(columns["code"])
    }


def _marks(database: Database, codes: Sequence[str]) -> dict[str, dict[str, EventMark]]:
    marks: dict[str, dict[str, EventMark]] = defaultdict(dict)
    for swing, event, *mark in database.rows("many_swing_events", (list(codes),)):
        marks[swing][event] = event_mark(mark)
    return marks


def _features(database: Database, codes: Sequence[str]) -> dict[str, FeatureValues]:
    kept: dict[str, dict[str, Any]] = {
        code: {"values": {}, "missing": {}, "uncertainty": {}} for code in codes
    }
    for swing, name, value, reason, spread in database.rows("many_swing_features", (list(codes),)):
        of_swing = kept[swing]
        if reason is None:
            of_swing["values"][name] = value
        else:
            of_swing["missing"][name] = reason
        if spread is not None:
            of_swing["uncertainty"][name] = spread
    return {code: FeatureValues(**facts) for code, facts in kept.items()}
