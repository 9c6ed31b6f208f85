"""A store of any earlier version is brought up to date with everything that it held."""

from dataclasses import replace
from datetime import date

import duckdb
import numpy as np
import pytest

from norms.errors import StoreRefused
from norms.records.consent import Consent
from norms.records.health import is_of_health
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.audit import read_log
from pipelines.erase_golfer import erase_golfer
from pipelines.store import migrations, open_store
from pipelines.store.database import Database

ALL = migrations.known_migrations()

HELD = """
INSERT INTO setting VALUES ('academy', '{"smallest_cell": 7}');
INSERT INTO golfer VALUES ('Q0001', 'left', 'female', 1990, 170.5, 60.0, false, true);
INSERT INTO handicap VALUES ('Q0001', DATE '2025-01-01', -1.5);
INSERT INTO ball_speed VALUES ('S1', 60.25, NULL);
INSERT INTO collect_run VALUES (1, 'North bay', TIMESTAMP '2026-03-04 12:00:00', NULL);
INSERT INTO file_outcome VALUES
    (1, 0, 'S1.c3d', 'North bay', 'accepted', 'ok', '', 'S1', repeat('a', 64)),
    (1, 1, 'bad.c3d', 'North bay', 'rejected', 'rate', 'bad.c3d: is bad', NULL, repeat('b', 64));
INSERT INTO edition VALUES
    ('spring', repeat('c', 64), '{"smallest_cell": 5}', '{"lost": 3}', TIMESTAMP '2026-04-01');
INSERT INTO edition_cell VALUES
    ('spring', 0, 'driver/all', '{"key": "driver/all", "club": "driver", "level": null}',
     ['lift_low'], '1 golfer', 1, 1, NULL, NULL);
INSERT INTO placement (swing, golfer, edition, edition_hash, cohort_key, document)
    VALUES ('S1', 'Q0001', 'spring', repeat('c', 64), 'driver/all', '{"kept": [1.5]}');
"""
EVENTS = ("address", "start", "top", "impact", "finish")
CURVE = np.linspace(-3, 4, 301).astype(np.float32)
TIMES = np.linspace(0.25, 2.0, 301)


def fill_first_version(connection):
    """A store's contents in the words of the first version, which every later one still knows."""
    connection.execute(HELD)
    connection.execute(
        """
        INSERT INTO swing (code, golfer, club, recorded_on, lab, source, content_hash, hand,
            rate_hz, pelvis_method, axes_source, shot_axes, filled_share, sway_cm, thrust_cm,
            lift_cm, node_times_s, notices)
        VALUES ('S1', 'Q0001', 'driver', DATE '2026-03-04', 'North bay', 'S1.c3d',
            repeat('a', 64), 'left', 240, 'given', 'declared', [1,0,0,0,1,0,0,0,1], [0,0,0.5],
            $1, $1, $1, $2, '[]')
        """,
        [CURVE.tolist(), TIMES.tolist()],
    )
    for event, node in zip(EVENTS, (0, 1, 100, 200, 300), strict=True):
        connection.execute(
            "INSERT INTO swing_event (swing, event, time_s, method, stand_in, uncertainty_s) "
            "VALUES ('S1', ?, ?, 'club reversal', ?, 0.004)",
            [event, float(TIMES[node]), event == "top"],
        )
    for name in FEATURE_NAMES:
        connection.execute(
            "INSERT INTO swing_feature (swing, feature, value, missing_reason) "
            "VALUES ('S1', ?, 2.5, NULL)",
            [name],
        )
    connection.execute(
        "INSERT INTO edition_member VALUES ('spring', 'driver/all', 'Q0001', 1, $1, $1, $1, [2.5])",
        [CURVE.astype(float).tolist()],
    )


@pytest.fixture
def store_of(tmp_path):
    def make(version):
        path = tmp_path / "store.duckdb"
        with duckdb.connect(str(path), config={"storage_compatibility_version": "v1.4.0"}) as raw:
            migrations.apply_migrations(Database(raw, "raw"), ALL[:version])
            fill_first_version(raw)
        return path

    return make


def tables_of(path):
    with duckdb.connect(str(path), read_only=True) as connection:
        return connection.execute(
            "SELECT table_name, column_name, data_type, is_nullable FROM duckdb_columns() "
            "WHERE NOT internal ORDER BY ALL"
        ).fetchall()


@pytest.mark.parametrize("version", range(1, len(ALL)))
def test_everything_is_there_after_the_way_from_an_earlier_version(store_of, tmp_path, version):
    path = store_of(version)
    with open_store(path) as store:
        golfer = store.golfer("Q0001")
        assert (golfer.height_cm, golfer.handicaps[0].index) == (170.5, -1.5)
        assert golfer.consents_norms
        swing = store.swing("S1")
        assert (swing.curve.values_cm.astype(np.float32) == CURVE).all()
        np.testing.assert_array_equal(swing.curve.times_s, TIMES)
        assert swing.events.top.stand_in
        assert swing.events.top.confidence == ("medium" if version < 3 else "high")
        assert swing.features.values == dict.fromkeys(FEATURE_NAMES, 2.5)
        assert store.swing_pool().swings == ("S1",)
        assert [one.code for one in store.outcomes(1)] == ["ok", "rate"]
        assert store.ball_speeds()["S1"].ball_speed_mps == 60.25
        edition = store.edition("spring")
        assert edition.content_hash == "c" * 64
        assert edition.cells[0].cohort.golfers == ("Q0001",)
        assert edition.attrition == {"lost": 3}
        (placed,) = store.placements.of("Q0001")
        assert placed["document"] == {"kept": [1.5]}
        assert store.setting("academy") == {"smallest_cell": 7}
        assert [entry.action for entry in store.audit.entries()] == ["store updated"]
        assert read_log(store).faults == ()
    open_store(tmp_path / "new.duckdb", create=True).close()
    assert tables_of(path) == tables_of(tmp_path / "new.duckdb")
    with duckdb.connect(str(path) + f".version-{version}", read_only=True) as copy:
        assert copy.execute("SELECT max(version) FROM schema_version").fetchall() == [(version,)]


def test_consents_and_marks_from_before_stay_and_the_new_purposes_are_taken(store_of):
    path = store_of(10)
    with duckdb.connect(str(path)) as raw:
        raw.execute("INSERT INTO consent VALUES ('Q0001', 'norms', true, DATE '2026-01-01', true)")
        raw.execute("INSERT INTO golfer_event VALUES ('Q0001', DATE '2026-01-01', 'injury', NULL)")
    day = date(2026, 1, 1)
    old = Consent(golfer="Q0001", purpose="norms", given=True, decided_on=day, guardian=True)
    with open_store(path) as store:
        assert store.consents.by_golfer() == {"Q0001": (old,)}
        (event,) = store.golfer_shelf.events("Q0001")
        assert is_of_health(event)
        new = [replace(old, purpose=purpose) for purpose in ("shown", "health")]
        store.consents.add(new)
        assert set(store.consents.by_golfer()["Q0001"]) == {old, *new}
        with pytest.raises(StoreRefused):
            store.consents.add([replace(old, purpose="fame")])


@pytest.mark.parametrize("version", range(1, len(ALL)))
def test_a_golfer_can_be_erased_from_a_store_of_an_earlier_version(store_of, version):
    path = store_of(version)
    erase_golfer(path, "Q0001", why="asked", who="data officer")
    assert [file.name for file in path.parent.iterdir()] == [path.name]
    assert b"Q0001" not in path.read_bytes()
