"""A backup is what its manifest says, in every byte and every table, or it is not restored."""

import json
import shutil
from datetime import UTC, date, datetime

import duckdb
import numpy as np
import pytest

from norms.errors import StoreRefused
from norms.records import FileOutcome, Golfer
from norms.records.consent import Consent
from pipelines import backup_manifest
from pipelines import restore as restoring
from pipelines.backup import backup_store
from pipelines.backup_manifest import manifest_path
from pipelines.erase_golfer import erase_golfer
from pipelines.restore import restore_store
from pipelines.store import open_store
from pipelines.store.beside import left_behind
from pipelines.store.checksums import table_checksums

NOON = datetime(2026, 10, 1, 12, tzinfo=UTC)
CODES = [f"Q{n:04d}" for n in range(1, 4)]


@pytest.fixture
def path(tmp_path, make_swing):
    place = tmp_path / "academy.duckdb"
    swings = [make_swing(2 * n + 1, code) for n, code in enumerate(CODES)]
    with open_store(place, create=True) as store:
        store.add_golfers([Golfer(code=code, hand="right") for code in CODES])
        outcomes = [
            FileOutcome(source=f"{s.label.golfer}.c3d", lab="North bay", status="accepted",
                        code="ok", message="", swing=s.label.swing,
                        content_hash=s.label.content_hash)
            for s in swings
        ]  # fmt: skip
        store.add_swings(swings, outcomes, store.begin_run("North bay", NOON))
        yes = Consent(golfer="Q0001", purpose="norms", given=True, decided_on=date(2026, 1, 1))
        store.consents.add([yes])
    return place


@pytest.fixture
def backup(path, tmp_path):
    (tmp_path / "away").mkdir()
    target = tmp_path / "away" / "backup.duckdb"
    backup_store(path, target)
    return target


def restored(backup, path, **how):
    return restore_store(backup, path, who="keeper", replace=True, **how)


def refused(backup, path, **how):
    """Refuses, and leaves the folder of the store as it was, byte for byte."""
    before = {file: file.read_bytes() for file in path.parent.iterdir() if file.is_file()}
    with pytest.raises(StoreRefused) as refusal:
        restored(backup, path, **how)
    assert {f: f.read_bytes() for f in path.parent.iterdir() if f.is_file()} == before
    assert "\n" not in refusal.value.message
    return refusal.value


def flip(file, content, bit):
    changed = bytearray(content)
    changed[bit // 8] ^= 1 << bit % 8
    file.write_bytes(changed)


@pytest.mark.parametrize("which", ["backup", "manifest"])
def test_of_a_hundred_flipped_bits_none_is_restored_over_a_good_store(path, backup, which):
    file = backup if which == "backup" else manifest_path(backup)
    content = file.read_bytes()
    for bit in np.random.default_rng(7).integers(0, 8 * len(content), 100):
        flip(file, content, int(bit))
        code = refused(backup, path).code
        assert code == f"{which}_damaged", f"bit {bit}: {code}"
    file.write_bytes(content)
    assert restored(backup, path).checked


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("swing_feature", "UPDATE swing_feature SET value = value + 1e-9 WHERE swing = 'S00001'"),
        ("consent", "UPDATE consent SET given = NOT given"),
        ("consent", "DELETE FROM consent"),
    ],
)
def test_tables_altered_in_a_backup_are_found_even_under_a_manifest_of_the_new_bytes(
    path, backup, table, change
):
    manifest = json.loads(manifest_path(backup).read_text())
    with duckdb.connect(str(backup)) as connection:
        connection.execute(change)
    assert refused(backup, path).code == "backup_damaged"
    # Whoever makes the bytes' hash anew still has to make those of the tables.
    altered = backup.with_name("altered.duckdb")
    shutil.copyfile(backup, altered)
    with open_store(altered, read_only=True) as store:
        forged = backup_manifest.make_manifest(altered, store, manifest["made_at"])
        assert forged.tables != manifest["tables"]
        half = {**manifest, "sha256": forged.sha256, "length": forged.length}
    fields = {k: v for k, v in half.items() if k not in ("sha256_of_this", "format")}
    manifest_path(altered).write_text(backup_manifest._text(fields))
    assert f"does not hold what was backed up in {table}:" in refused(altered, path).message


def test_a_backup_without_its_manifest_is_restored_only_where_that_is_said(path, backup):
    manifest_path(backup).unlink()
    refusal = refused(backup, path)
    assert refusal.code == "manifest_missing"
    assert "backup.duckdb.manifest.json" in refusal.message
    assert not restored(backup, path, unchecked=True).checked


def test_saying_unchecked_does_not_excuse_a_backup_from_the_manifest_that_it_has(path, backup):
    flip(backup, backup.read_bytes(), 80_000)
    assert refused(backup, path, unchecked=True).code == "backup_damaged"


def test_backup_and_manifest_can_be_moved_and_renamed_together(path, backup, tmp_path):
    moved = tmp_path / "shelf" / "of-october.duckdb"
    moved.parent.mkdir()
    manifest_path(backup).rename(manifest_path(moved))
    backup.rename(moved)
    assert restored(moved, path).checked


def test_a_backup_is_reached_through_a_link_and_restored_through_one(path, backup, tmp_path):
    (tmp_path / "b").symlink_to(backup)
    (tmp_path / "s").symlink_to(path)
    with open_store(path) as store:
        store.add_golfers([Golfer(code="Q0009", hand="left")])
    assert restored(tmp_path / "b", tmp_path / "s").checked
    assert (tmp_path / "s").is_symlink()
    with open_store(path) as store:
        assert list(store.golfers()) == CODES


def test_a_backup_is_not_opened_for_writing_and_reading_leaves_every_byte(path, backup):
    content = backup.read_bytes()
    with open_store(backup, read_only=True) as store:
        assert list(store.golfers()) == CODES
    with pytest.raises(StoreRefused, match="is a backup") as refusal:
        open_store(backup)
    assert refusal.value.code == "store_is_backup"
    with pytest.raises(StoreRefused, match="destroy it and back the store up anew"):
        erase_golfer(backup, "Q0001", why="asked", who="data officer")
    assert backup.read_bytes() == content


def test_a_backup_restored_onto_itself_is_refused(backup, path):
    assert refused(backup, backup).code == "store_in_the_way"


def test_who_may_not_read_the_store_may_not_read_what_is_made_of_it(path, tmp_path):
    path.chmod(0o600)
    copy = tmp_path / "private.duckdb"
    backup_store(path, copy)
    erase_golfer(path, "Q0003", why="asked", who="data officer")
    modes = [file.stat().st_mode & 0o777 for file in (copy, path)]
    restored(copy, path)
    assert [*modes, path.stat().st_mode & 0o777] == [0o600] * 3


def test_nothing_is_restored_over_a_backup_nor_to_the_name_of_one(path, backup):
    second = backup.with_name("second.duckdb")
    backup_store(path, second)
    assert refused(backup, second).code == "store_is_backup"
    second.unlink()
    assert refused(backup, second).code == "store_is_backup"


def test_a_replaced_store_that_holds_more_than_the_backup_is_kept_and_goes_with_an_erasure(
    path, backup
):
    with open_store(path) as store:
        store.add_golfers([Golfer(code="Q0009", hand="left")])
    report = restored(backup, path)
    assert report.acts_lost == 1
    assert "it holds what the backup does not (1 of its acts)" in report.kept_because
    back = restored(report.replaced, path, unchecked=True)  # and forth again
    with open_store(path) as store:
        assert "Q0009" in store.golfers()
    restored(backup, path)
    erased = erase_golfer(path, "Q0001", why="asked", who="data officer")
    assert {report.replaced.name, back.replaced.name} < set(erased.removed)
    assert [file for file in path.parent.iterdir() if "replaced" in file.name] == []
    assert [entry.action for entry in erased.given_out] == ["backup"]
    assert str(backup) in erased.given_out[0].details


def test_a_replaced_store_that_holds_nothing_more_is_removed(path, backup):
    again = path.with_name("again.duckdb")
    restored(backup, again)
    shutil.copyfile(backup, again)  # as it was at that moment
    report = restored(backup, again)
    assert (report.replaced, report.kept_because) == (None, "")
    assert [file for file in path.parent.iterdir() if "replaced" in file.name] == []


def test_a_store_that_could_not_be_read_is_kept_beside_the_restored_one(path, backup):
    broken = path.read_bytes()[:6000]
    path.write_bytes(broken)
    path.with_name("academy.duckdb.wal").write_bytes(b"of the broken store")
    report = restored(backup, path)
    assert "it could not be read" in report.kept_because
    assert report.replaced.read_bytes() == broken
    assert report.replaced.with_name(report.replaced.name + ".wal").exists()
    with open_store(path) as store:
        assert list(store.golfers()) == CODES


def test_a_replaced_store_is_removed_after_a_month_and_not_before(path, caplog):
    old = path.with_name("academy.duckdb.replaced-20200101-093000")
    new = path.with_name(f"academy.duckdb.replaced-{datetime.now():%Y%m%d}-093000")
    for file in (old, new):
        file.write_bytes(b"a store")
    open_store(path, read_only=True).close()
    assert (old.exists(), new.exists()) == (False, True)
    assert old.name in caplog.text


def test_a_new_store_that_does_not_read_back_gives_its_place_to_the_old_one(
    path, backup, monkeypatch
):
    check = restoring.check_tables

    def failing(store, tables, named):
        if named == path:
            raise StoreRefused("does not read back", code="backup_damaged")
        check(store, tables, named)

    monkeypatch.setattr(restoring, "check_tables", failing)
    with open_store(path, read_only=True) as store:
        before = table_checksums(store)
    with pytest.raises(StoreRefused, match="put back") as refusal:
        restored(backup, path)
    assert refusal.value.code == "restore_failed"
    with open_store(path, read_only=True) as store:
        assert table_checksums(store) == before
    assert [file.name for file in path.parent.iterdir() if file.is_file()] == [path.name]


def test_a_restore_that_was_cut_short_leaves_the_store_and_its_second_name_goes(
    path, backup, monkeypatch, caplog
):
    class CutShortError(BaseException):
        pass

    def cut(*_):
        raise CutShortError

    with monkeypatch.context() as patch:
        patch.setattr(restoring, "_forget", lambda _: None)
        linked = restoring._linked
        patch.setattr(restoring, "_linked", lambda *both: linked(*both) and cut())
        with pytest.raises(CutShortError):
            restored(backup, path)
    assert len([file for file in path.parent.iterdir() if "replaced" in file.name]) == 1
    with open_store(path, read_only=True) as store:
        assert list(store.golfers()) == CODES
    assert "replaced" in caplog.text
    assert left_behind(path) == []
    assert path.stat().st_nlink == 1


def test_a_checksum_is_of_what_the_rows_hold_and_not_of_their_order(store):
    def of(*codes):
        store._database.script("DELETE FROM golfer")
        store.add_golfers([Golfer(code=code, hand="right") for code in codes])
        return table_checksums(store)["golfer"]

    assert of("A", "B", "C") == of("C", "A", "B")
    assert len({of("A", "B", "C"), of("A", "B"), of("A", "B", "D"), of()}) == 4
