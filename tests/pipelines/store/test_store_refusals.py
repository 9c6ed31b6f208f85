import dataclasses
import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import numpy as np
import pytest

from norms.errors import StoreRefused
from norms.records import FileOutcome, Golfer
from pipelines.store import migrations, open_store
from pipelines.store.database import Database

NOON = datetime(2026, 5, 1, 12, tzinfo=UTC)


@pytest.fixture
def path(tmp_path) -> Path:
    """A store on disk with one golfer."""
    made = tmp_path / "store.duckdb"
    with open_store(made, create=True) as store:
        store.add_golfers([Golfer(code="Q0001", hand="right")])
    return made


def refusal(path, **how) -> StoreRefused:
    with pytest.raises(StoreRefused) as refused:
        open_store(path, **how)
    assert refused.value.message.startswith(f"{path}: ")
    assert "\n" not in refused.value.message
    return refused.value


def table(path, sql):
    with duckdb.connect(path) as connection:
        return connection.execute(sql).fetchall()


# Opening


def test_a_store_that_is_not_there_is_refused_and_not_made(tmp_path):
    path = tmp_path / "none.duckdb"
    assert refusal(path).code == "store_missing"
    assert refusal(path, read_only=True).code == "store_missing"
    assert not path.exists()


def test_a_store_in_a_folder_that_is_not_there_is_refused(tmp_path):
    assert refusal(tmp_path / "no" / "s.duckdb", create=True).code == "store_missing"


@pytest.mark.parametrize("content", [b"", b"a roster, not a store\n" * 1000])
def test_a_file_that_is_no_store_is_refused_and_left_alone(tmp_path, content):
    path = tmp_path / "roster.csv"
    path.write_bytes(content)
    assert refusal(path, create=True).code == "not_a_store"
    assert refusal(path, read_only=True).code == "not_a_store"
    assert path.read_bytes() == content


def test_a_folder_is_refused(tmp_path):
    assert refusal(tmp_path, create=True).code == "not_a_store"


@pytest.mark.parametrize("how", [{"create": True}, {}, {"read_only": True}])
def test_a_database_of_another_program_is_refused_and_left_alone(tmp_path, how):
    path = tmp_path / "other.duckdb"
    table(path, "CREATE TABLE birds (name VARCHAR)")
    assert refusal(path, **how).code == "not_a_store"
    assert table(path, "SELECT table_name FROM duckdb_tables()") == [("birds",)]


def test_a_database_without_tables_becomes_a_store_only_when_asked(tmp_path):
    path = tmp_path / "new.duckdb"
    table(path, "SELECT 1")
    assert refusal(path).code == "not_a_store"
    open_store(path, create=True).close()
    open_store(path).close()


@pytest.mark.parametrize("keep", [6000, 20000])
def test_a_store_cut_short_is_refused(path, keep):
    path.write_bytes(path.read_bytes()[:keep])
    assert refusal(path).code == "store_corrupt"


def test_a_store_with_a_damaged_header_is_refused(path):
    content = bytearray(path.read_bytes())
    content[4096:12288] = bytes(8192)
    path.write_bytes(content)
    assert refusal(path, read_only=True).code == "store_corrupt"


def test_a_newer_store_is_refused_and_left_alone(path):
    table(path, "INSERT INTO schema_version VALUES (99, 'later', now()::TIMESTAMP, '9', 'v9')")
    content = path.read_bytes()
    refused = refusal(path)
    assert refused.code == "store_newer"
    assert "version 99" in refused.message
    assert refusal(path, read_only=True).code == "store_newer"
    assert path.read_bytes() == content


@pytest.mark.parametrize(
    ("words", "code"),
    [
        # Only a newer DuckDB can write the first, and only a person without rights sees the
        # second; the tests run as neither, so DuckDB's words are given instead.
        (
            "IO Error: Trying to read a database file with version number 99, but we can only "
            "read versions between 64 and 67.",
            "store_newer",
        ),
        ('IO Error: Cannot open file "s.duckdb": Permission denied', "store_not_permitted"),
    ],
)
def test_what_the_database_says_is_told_apart(monkeypatch, tmp_path, words, code):
    def refuse(*_, **__):
        raise duckdb.IOException(words)

    monkeypatch.setattr(duckdb, "connect", refuse)
    assert refusal(tmp_path / "s.duckdb", create=True).code == code


class InterruptedConnection:
    """What DuckDB does at ctrl-C. It looks for the signal only now and then, so a real one would
    make a test that sometimes waits for the end of the query."""

    def __init__(self, words):
        self.words = words

    def execute(self, *_):
        raise RuntimeError(self.words)


def test_ctrl_c_during_a_query_is_an_interrupt_and_other_errors_stay_what_they_are():
    with pytest.raises(KeyboardInterrupt):
        Database(InterruptedConnection("Query interrupted"), "s.duckdb").rows("golfers")
    with pytest.raises(RuntimeError, match="something else"):
        Database(InterruptedConnection("something else"), "s.duckdb").rows("golfers")


def test_an_interrupt_in_a_transaction_undoes_it(store):
    database = store._database

    def interrupted_after_writing():
        with database.transaction():
            database.rows("set_setting", ("length_unit", '"cm"'))
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted_after_writing()
    assert store.setting("length_unit") is None


HOLD = """
import sys
from pipelines.store import open_store
with open_store(sys.argv[1], read_only=sys.argv[2] == "read"):
    print("held", flush=True)
    sys.stdin.read()
"""


def held_by_another_process(path, how):
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, path, how],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline() == "held\n"
    return process


def test_a_store_held_by_another_process_is_busy_and_names_it(path):
    with held_by_another_process(path, "write") as process:
        for how in ({}, {"read_only": True}):
            refused = refusal(path, **how)
            assert refused.code == "store_busy"
            assert str(process.pid) in refused.message
        process.stdin.close()
    open_store(path).close()


def test_readers_share_a_store_and_keep_a_writer_out(path):
    with held_by_another_process(path, "read") as process:
        with open_store(path, read_only=True) as store:
            assert list(store.golfers()) == ["Q0001"]
        assert refusal(path).code == "store_busy"
        process.stdin.close()


def test_a_store_open_for_writing_is_busy_for_a_reader_of_the_same_process(path):
    with open_store(path):
        assert refusal(path, read_only=True).code == "store_busy"


def test_a_store_open_for_reading_only_is_not_written_to(path):
    with open_store(path, read_only=True) as store, pytest.raises(StoreRefused) as refused:
        store.set_setting("length_unit", "cm")
    assert refused.value.code == "store_failed"
    assert "read-only" in refused.value.message


# Migrations


def test_a_new_store_records_version_and_storage_format(path):
    recorded = "SELECT version, name, duckdb_version, storage_version FROM schema_version"
    assert table(path, recorded) == [
        (step.version, step.name, duckdb.__version__, "v1.4.0+")
        for step in migrations.known_migrations()
    ]


def test_the_steps_are_numbered_without_a_gap():
    steps = migrations.known_migrations()
    assert [step.version for step in steps] == list(range(1, len(steps) + 1))


def with_a_further_step(monkeypatch, sql):
    steps = migrations.known_migrations()
    further = migrations.Migration(version=len(steps) + 1, name="further", sql=sql)
    monkeypatch.setattr(migrations, "known_migrations", lambda: (*steps, further))
    return further.version


@pytest.mark.parametrize("read_only", [True, False])
def test_an_older_store_is_copied_and_brought_up_to_date(path, monkeypatch, caplog, read_only):
    before = len(migrations.known_migrations())
    version = with_a_further_step(monkeypatch, "CREATE TABLE weather (day DATE)")
    with open_store(path, read_only=read_only) as store:
        assert list(store.golfers()) == ["Q0001"]
    assert f"brought from version {before} to {version}" in caplog.text
    assert table(path, "SELECT max(version) FROM schema_version") == [(version,)]
    copy = path.with_name(f"store.duckdb.version-{before}")
    assert table(copy, "SELECT max(version) FROM schema_version") == [(before,)]
    assert table(copy, "SELECT code FROM golfer") == [("Q0001",)]


def test_a_step_that_fails_leaves_the_store_as_it_was(path, monkeypatch):
    further = with_a_further_step(
        monkeypatch, "CREATE TABLE weather (day DATE); SELECT * FROM nowhere"
    )
    with pytest.raises(StoreRefused, match="nowhere"):
        open_store(path)
    assert table(path, "SELECT max(version) FROM schema_version") == [(further - 1,)]
    assert table(path, "SELECT count(*) FROM duckdb_tables() WHERE table_name = 'weather'") == [
        (0,)
    ]


# Writing


def nothing_kept(store):
    return store.swing_codes() == set() and store.outcomes() == []


def refused_batch(store, swings, code):
    outcome = FileOutcome(
        source="1.c3d", lab="North bay", status="accepted", code="ok", message="stored"
    )
    with pytest.raises(StoreRefused) as refused:
        store.add_swings(swings, [outcome], 1)
    assert refused.value.code == code
    assert "\n" not in refused.value.message
    return refused.value.message


def test_a_golfer_who_is_not_on_the_roster_is_named(store, make_swing):
    message = refused_batch(store, [make_swing(1), make_swing(2, "Q0404")], "golfer_unknown")
    assert "Q0404" in message
    assert "Q0001" not in message
    assert nothing_kept(store)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e39])
@pytest.mark.parametrize("where", [(0, 0), (2, 300)])
def test_a_curve_that_is_not_finite_is_refused(store, make_swing, bad, where):
    swing = make_swing(2)
    values = swing.curve.values_cm.copy()
    values[where] = bad
    broken = dataclasses.replace(swing, curve=dataclasses.replace(swing.curve, values_cm=values))
    message = refused_batch(store, [make_swing(1), broken], "not_finite")
    assert message.startswith("2.c3d: swing S00002: curve")
    assert nothing_kept(store)


@pytest.mark.parametrize("field", ["shot_axes", "filled_share"])
def test_axes_and_shares_that_are_not_finite_are_refused(store, make_swing, field):
    swing = make_swing(2)
    broken = dataclasses.replace(swing, **{field: np.full_like(getattr(swing, field), np.nan)})
    refused_batch(store, [broken], "not_finite")
    assert nothing_kept(store)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_feature_that_is_not_finite_is_refused(store, make_swing, bad):
    swing = make_swing(2)
    features = dataclasses.replace(swing.features, values={"tempo": bad}, missing={})
    refused_batch(store, [dataclasses.replace(swing, features=features)], "store_conflict")
    assert nothing_kept(store)


def test_the_same_code_or_the_same_content_twice_is_refused_as_a_whole(store, make_swing):
    store.add_swings([make_swing(1)], [], 1)
    other = make_swing(2)
    same_code = dataclasses.replace(other, label=dataclasses.replace(other.label, swing="S00001"))
    same_hash = dataclasses.replace(
        other, label=dataclasses.replace(other.label, content_hash=f"{1:064x}")
    )
    refused_batch(store, [make_swing(3), same_code], "store_conflict")
    refused_batch(store, [make_swing(3), same_hash], "store_conflict")
    refused_batch(store, [make_swing(3), make_swing(3)], "store_conflict")
    assert store.swing_codes() == {"S00001"}
    assert store.outcomes() == []
    store.add_swings([make_swing(3)], [], 1)


def test_a_handicap_outside_the_scale_is_refused_and_the_roster_stays(store):
    from datetime import date

    from norms.records import DatedHandicap

    broken = Golfer(
        code="Q0001", hand="left", handicaps=(DatedHandicap(since=date(2026, 1, 1), index=54.1),)
    )
    with pytest.raises(StoreRefused):
        store.add_golfers([broken])
    assert store.golfer("Q0001") == Golfer(code="Q0001", hand="right")


def test_what_is_not_in_the_store_is_named_when_asked_for(store, make_edition):
    with pytest.raises(StoreRefused, match="S9: is not in the store") as refused:
        store.swing("S9")
    assert refused.value.code == "swing_unknown"
    store.save_edition(make_edition("spring"), NOON)
    with pytest.raises(StoreRefused, match=r'"2031": is not .* editions in it: spring') as refused:
        store.edition("2031")
    assert refused.value.code == "edition_unknown"


ENDLESS = """
import importlib.util, sys
from pipelines.store import open_store
spec = importlib.util.spec_from_file_location("invented", sys.argv[2])
invented = importlib.util.module_from_spec(spec)
spec.loader.exec_module(invented)
from norms.records import FileOutcome
swings = [invented.build_swing(number) for number in range(20)]
import dataclasses
with open_store(sys.argv[1]) as store:
    for batch in range(10000):
        named = [
            dataclasses.replace(s, label=dataclasses.replace(
                s.label, swing=f"{batch}-{n}", content_hash=f"{batch}-{n}"))
            for n, s in enumerate(swings)
        ]
        done = [
            FileOutcome(source=s.label.swing, lab="l", status="accepted", code="ok", message="m")
            for s in named
        ]
        store.add_swings(named, done, 1)
        print(batch, flush=True)
"""


@pytest.mark.parametrize("delay_s", [0.0, 0.004, 0.011])
def test_a_process_killed_while_storing_leaves_whole_batches_only(path, delay_s):
    factory = Path(__file__).with_name("conftest.py")
    with subprocess.Popen(
        [sys.executable, "-c", ENDLESS, path, factory], stdout=subprocess.PIPE, text=True
    ) as process:
        for _ in range(3):
            told = int(process.stdout.readline())
        time.sleep(delay_s)  # so that kills fall on different places of a batch
        os.kill(process.pid, signal.SIGKILL)
    with open_store(path) as store:
        codes = store.swing_codes()
        batches = {int(code.partition("-")[0]) for code in codes}
        assert batches == set(range(len(batches)))
        assert len(batches) > told
        assert len(codes) == 20 * len(batches)
        assert {outcome.source for outcome in store.outcomes(1)} == codes
        assert np.isfinite(store.swing_pool().curves_cm).all()
        for code in (f"{max(batches)}-0", f"{max(batches)}-19"):
            assert len(store.swing(code).features.values) > 0


class CutOffError(Exception):
    pass


def test_an_error_between_swings_and_outcomes_undoes_the_batch(store, make_swing, monkeypatch):
    def cut_off(*_):
        raise CutOffError

    monkeypatch.setattr("pipelines.store.swings._outcome_table", cut_off)
    with pytest.raises(CutOffError):
        refused_batch(store, [make_swing(1)], "never")
    assert nothing_kept(store)
