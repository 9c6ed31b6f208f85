"""Backup and restore: verified, refused kindly, and never undoing an erasure or a withdrawal."""

import dataclasses
import signal
import subprocess
import sys
from datetime import UTC, date, datetime

import pytest

from norms.cohort.edition import build_edition
from norms.errors import StoreRefused
from norms.records import DatedHandicap, FileOutcome, Golfer, Level
from norms.records.consent import Consent
from pipelines.audit import edition_said
from pipelines.backup import backup_store
from pipelines.erase_golfer import erase_golfer, receipt_of
from pipelines.restore import restore_store
from pipelines.store import open_store
from pipelines.store.database import Database

NOON = datetime(2026, 10, 1, 12, tzinfo=UTC)
LEVELS = (
    Level(key="everyone", label="everyone", kind="handicap"),
    Level(key="none", label="no handicap", kind="none"),
    Level(key="professional", label="professional", kind="professional"),
)
FILES = ["academy.duckdb", "backup.duckdb", "backup.duckdb.manifest.json"]
CODES = [f"Q{n:04d}" for n in range(1, 8)]


@pytest.fixture
def path(tmp_path, make_swing):
    place = tmp_path / "academy.duckdb"
    with open_store(place, create=True) as store:
        since = DatedHandicap(since=date(2025, 1, 1), index=8.0)
        store.add_golfers([Golfer(code=c, hand="right", handicaps=(since,)) for c in CODES])
        add_swings(store, [make_swing(2 * n + 1, code) for n, code in enumerate(CODES)])
        build(store, "spring")
    return place


def add_swings(store, swings):
    outcomes = [
        FileOutcome(source=s.label.source, lab="North bay", status="accepted", code="ok",
                    message="", swing=s.label.swing, content_hash=s.label.content_hash)
        for s in swings
    ]  # fmt: skip
    store.add_swings(swings, outcomes, store.begin_run("North bay", NOON))


def build(store, name):
    edition = build_edition(name, store.swing_pool(), store.golfers(), LEVELS)
    with store.act("build", who="director", details=edition_said(edition)):
        store.save_edition(edition, NOON)


def everything(path):
    with open_store(path, read_only=True) as store:
        return (
            store.golfers(),
            store.content_hashes(),
            store.swing_pool().curves_cm.tobytes(),
            store.edition("spring").content_hash,
            store.outcomes(),
        )


def test_a_backup_holds_what_the_store_holds_and_is_verified(path, tmp_path):
    report = backup_store(path, tmp_path / "backup.duckdb")
    assert everything(tmp_path / "backup.duckdb") == everything(path)
    assert report.rows["swing"] == report.rows["golfer"] == len(CODES)
    with open_store(path, read_only=True) as store:
        assert (report.editions, report.log_entries) == (1, len(store.audit.entries()))
    assert sorted(file.name for file in tmp_path.iterdir()) == FILES


def test_a_store_goes_on_from_a_backup(path, tmp_path, make_swing):
    before = everything(path)
    backup_store(path, tmp_path / "backup.duckdb")
    report = restore_store(tmp_path / "backup.duckdb", tmp_path / "again.duckdb", who="keeper")
    assert everything(tmp_path / "again.duckdb") == before
    assert (report.golfers, report.swings, report.editions) == (len(CODES), len(CODES), 1)
    with open_store(tmp_path / "again.duckdb") as store:
        add_swings(store, [make_swing(101, "Q0002")])
        actions = [entry.action for entry in store.audit.entries()]
        steps = [one for one in actions if one in ("build", "backup", "restore")]
        assert steps == ["build", "backup", "restore"]


def test_a_damaged_store_is_replaced_by_its_backup_and_only_when_asked(path, tmp_path):
    before = everything(path)
    backup_store(path, tmp_path / "backup.duckdb")
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(StoreRefused, match="there is a store here") as refused:
        restore_store(tmp_path / "backup.duckdb", path, who="keeper")
    assert refused.value.code == "store_in_the_way"
    restore_store(tmp_path / "backup.duckdb", path, who="keeper", replace=True)
    assert everything(path) == before


def test_restoring_says_how_many_acts_are_lost(path, tmp_path):
    backup_store(path, tmp_path / "backup.duckdb")
    with open_store(path) as store:
        build(store, "summer")
    report = restore_store(tmp_path / "backup.duckdb", path, who="keeper", replace=True)
    assert report.acts_lost == 1


def test_a_golfer_erased_since_the_backup_does_not_come_back(path, tmp_path):
    backup_store(path, tmp_path / "backup.duckdb")
    erased = erase_golfer(path, "Q0003", why="asked", who="data officer")
    report = restore_store(tmp_path / "backup.duckdb", path, who="keeper", replace=True)
    assert report.erased_again == 1
    assert b"Q0003" not in path.read_bytes()
    with open_store(path) as store:
        assert "Q0003" not in store.golfers()
        assert receipt_of(store, "Q0003", erased.key) == erased.receipt


def test_a_golfer_added_since_the_backup_is_lost_but_nobody_is_erased(path, tmp_path):
    backup_store(path, tmp_path / "backup.duckdb")
    with open_store(path) as store:
        store.add_golfers([Golfer(code="Q0100", hand="left")])
    report = restore_store(tmp_path / "backup.duckdb", path, who="keeper", replace=True)
    assert (report.golfers, report.erased_again) == (len(CODES), 0)


def test_a_consent_withdrawn_since_the_backup_stays_withdrawn(path, tmp_path):
    backup_store(path, tmp_path / "backup.duckdb")
    with open_store(path) as store:
        no = Consent(golfer="Q0002", purpose="norms", given=False, decided_on=date(2026, 9, 1))
        store.consents.add([no])
        simple = dataclasses.replace(store.golfers()["Q0004"], consents_norms=False)
        store.add_golfers([simple])
    report = restore_store(tmp_path / "backup.duckdb", path, who="keeper", replace=True)
    assert report.consents_kept == 2
    with open_store(path) as store:
        unwilling = [code for code, one in store.golfers().items() if not one.consents_norms]
    assert unwilling == ["Q0002", "Q0004"]


def test_a_backup_is_never_written_over(path, tmp_path):
    backup_store(path, tmp_path / "backup.duckdb")
    with pytest.raises(StoreRefused, match="exists already") as refused:
        backup_store(path, tmp_path / "backup.duckdb")
    assert refused.value.code == "backup_exists"


def test_a_store_that_does_not_hold_together_is_not_backed_up(path, tmp_path):
    with open_store(path) as store:
        store._database.script("UPDATE edition_feature_band SET value = value + 1")
    with pytest.raises(StoreRefused, match="spring does not hold the numbers"):
        backup_store(path, tmp_path / "backup.duckdb")
    assert not (tmp_path / "backup.duckdb").exists()


def test_a_copy_that_differs_is_not_kept(path, tmp_path, monkeypatch):
    original = Database.script

    def losing(self, text, parameters=()):
        rows = original(self, text, parameters)
        if text.startswith("COPY FROM DATABASE"):
            original(self, "DELETE FROM made.swing WHERE code = 'S00003'")
        return rows

    monkeypatch.setattr(Database, "script", losing)
    with pytest.raises(StoreRefused, match="copy of table swing is not the same"):
        backup_store(path, tmp_path / "backup.duckdb")
    assert [file.name for file in tmp_path.iterdir()] == ["academy.duckdb"]


@pytest.mark.parametrize("keep", [100, 5000, 20000])
def test_a_damaged_backup_is_refused_and_the_store_stays(path, tmp_path, keep):
    before = everything(path)
    backup = tmp_path / "backup.duckdb"
    backup_store(path, backup)
    backup.write_bytes(backup.read_bytes()[:keep])
    with pytest.raises(StoreRefused, match=r"backup\.duckdb"):
        restore_store(backup, path, who="keeper", replace=True)
    assert everything(path) == before
    assert sorted(file.name for file in tmp_path.iterdir()) == FILES


def test_a_missing_backup_is_named(tmp_path):
    with pytest.raises(StoreRefused, match=r"nowhere\.duckdb: cannot be copied"):
        restore_store(tmp_path / "nowhere.duckdb", tmp_path / "again.duckdb", who="keeper")


HOLD = """
import sys
from pipelines.store import open_store
with open_store(sys.argv[1], read_only=sys.argv[2] == "reading"):
    print("open", flush=True)
    sys.stdin.read()
"""


@pytest.mark.parametrize("holder", ["reading", "writing"])
def test_who_holds_the_store_decides_what_can_be_done_with_it(path, tmp_path, holder):
    backup = tmp_path / "backup.duckdb"
    backup_store(path, backup)
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, path, holder], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        process.stdout.readline()
        try:
            if holder == "reading":
                assert everything(path)
                with pytest.raises(StoreRefused, match=f"in use by process {process.pid}"):
                    backup_store(path, tmp_path / "again.duckdb")  # which is logged
                with pytest.raises(StoreRefused, match=f"in use by process {process.pid}"):
                    erase_golfer(path, "Q0003", why="asked", who="data officer")
            else:
                with pytest.raises(StoreRefused, match=f"in use by process {process.pid}"):
                    backup_store(path, tmp_path / "again.duckdb")
                with pytest.raises(StoreRefused, match="in use"):
                    restore_store(backup, path, who="keeper", replace=True)
        finally:
            process.send_signal(signal.SIGKILL)
    assert everything(path)
