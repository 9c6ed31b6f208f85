"""An erasure through links, on a full disk, or cut short: it ends well, and says so."""

import subprocess
import sys
from datetime import UTC, date, datetime

import duckdb
import numpy as np
import pytest

from norms.cohort.edition import build_edition
from norms.errors import StoreRefused
from norms.records import DatedHandicap, FileOutcome, Golfer, Level
from pipelines.erase_golfer import erase_golfer, receipt_of
from pipelines.store import open_store
from pipelines.store.beside import left_behind, side_files

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
GONE = "Q0003"
CODES = [f"Q{n:04d}" for n in range(1, 8)]
LEVELS = (
    Level(key="everyone", label="everyone", kind="handicap"),
    Level(key="none", label="no handicap", kind="none"),
    Level(key="professional", label="professional", kind="professional"),
)


@pytest.fixture
def plain_bytes(monkeypatch):
    """Files without compression, so that a value that is in them is seen in their bytes."""
    connect = duckdb.connect

    def connect_plainly(*arguments, **settings):
        connection = connect(*arguments, **settings)
        connection.execute("SET force_compression = 'uncompressed'")
        return connection

    monkeypatch.setattr("pipelines.store.holding.duckdb.connect", connect_plainly)


@pytest.fixture
def path(tmp_path, make_swing, plain_bytes):
    (tmp_path / "real").mkdir()
    place = tmp_path / "real" / "academy.duckdb"
    swings = [make_swing(2 * n + 1, code) for n, code in enumerate(CODES)]
    with open_store(place, create=True) as store:
        since = DatedHandicap(since=date(2025, 1, 1), index=8.0)
        store.add_golfers([Golfer(code=c, hand="right", handicaps=(since,)) for c in CODES])
        outcomes = [
            FileOutcome(source=f"{s.label.golfer}.c3d", lab="North bay", status="accepted",
                        code="ok", message="", swing=s.label.swing,
                        content_hash=s.label.content_hash)
            for s in swings
        ]  # fmt: skip
        store.add_swings(swings, outcomes, store.begin_run("North bay", NOON))
    return place


def traces(folder, curve):
    """Files in which the golfer's code, or a stretch of the golfer's curve, stands."""
    pieces = [curve[start : start + 8].tobytes() for start in range(0, 293, 8)]
    return {
        file.name
        for file in folder.rglob("*")
        if file.is_file() and not file.is_symlink()
        if GONE.encode() in (content := file.read_bytes())
        or any(piece in content for piece in pieces)
    }


def own_curve(path):
    with open_store(path, read_only=True) as store:
        pool = store.swing_pool()
    return pool.curves_cm[pool.golfers.index(GONE)][0].astype(np.float32)


def erase(path, **more):
    return erase_golfer(path, GONE, why="asked by the golfer", who="data officer", **more)


class CutShortError(Exception):
    pass


def cut_short_before_the_rewrite(path, monkeypatch):
    def cut(*_):
        raise CutShortError

    with monkeypatch.context() as patch:
        patch.setattr("pipelines.store.care.rewrite_store", cut)
        with pytest.raises(CutShortError):
            erase(path)


def test_erasing_through_a_symbolic_link_cleans_the_real_file_and_what_lies_beside_it(
    path, tmp_path
):
    curve = own_curve(path)
    for name in ("academy.duckdb.version-3", "academy.duckdb.replaced-20261201-0930"):
        path.with_name(name).write_bytes(path.read_bytes())
    link = tmp_path / "link.duckdb"
    link.symlink_to(path)
    assert len(traces(tmp_path, curve)) == 3  # the search finds what is there
    erased = erase(link)
    assert traces(tmp_path, curve) == set()
    assert link.is_symlink()
    assert sorted(file.name for file in tmp_path.rglob("*")) == [
        "academy.duckdb", "link.duckdb", "real",
    ]  # fmt: skip
    assert len(erased.removed) == 2


def test_a_store_with_two_names_is_not_erased_from_and_keeps_the_golfer(path, tmp_path):
    second = tmp_path / "second.duckdb"
    second.hardlink_to(path)
    with pytest.raises(StoreRefused, match="2 names on this disk") as refused:
        erase(path, hand_out=lambda *_: pytest.fail("a key of an erasure that does not begin"))
    assert refused.value.code == "store_linked"
    with open_store(path) as store:
        assert GONE in store.golfers()
    second.unlink()
    assert erase(path).receipt.removed["swing"] == 1


def test_number_and_key_are_handed_out_before_anything_is_deleted(path):
    handed = []

    def cut_short(receipt, key):
        handed.append((receipt, key))
        raise CutShortError

    with pytest.raises(CutShortError):
        erase(path, hand_out=cut_short)
    with open_store(path) as store:
        assert GONE in store.golfers()
        assert store.erasures.receipts() == []
    erased = erase(path, hand_out=lambda *both: handed.append(both))
    assert handed[1] == (erased.receipt.receipt, erased.key)
    assert handed[0] != handed[1]
    with open_store(path) as store:
        assert receipt_of(store, GONE, handed[1][1]) == erased.receipt


@pytest.mark.parametrize("read_only", [True, False])
def test_any_opening_finishes_an_erasure_that_was_cut_short_and_says_so(
    path, tmp_path, monkeypatch, caplog, read_only
):
    curve = own_curve(path)
    cut_short_before_the_rewrite(path, monkeypatch)
    assert traces(tmp_path, curve) == {"academy.duckdb"}
    with open_store(path, read_only=read_only) as store:
        assert GONE not in store.golfers()
        if read_only:
            with pytest.raises(StoreRefused, match="read-only"):
                store.set_setting("length_unit", "cm")
    assert traces(tmp_path, curve) == set()
    assert caplog.messages == [
        f"{path}: an erasure that was cut short is finished: the file is written anew"
    ]


def test_a_reader_that_is_not_alone_reads_and_says_that_an_erasure_is_unfinished(
    path, monkeypatch, caplog
):
    cut_short_before_the_rewrite(path, monkeypatch)
    hold = (
        "import sys, duckdb\nc = duckdb.connect(sys.argv[1], read_only=True)\n"
        "print('held', flush=True)\nsys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold, path], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        process.stdout.readline()
        with open_store(path, read_only=True) as store:
            assert GONE not in store.golfers()
        process.stdin.close()
    assert "an erasure is still to be finished" in caplog.text


def test_on_a_disk_without_room_the_rows_go_and_the_next_opening_with_room_ends_it(
    path, tmp_path, monkeypatch, caplog
):
    curve = own_curve(path)
    handed = []
    with monkeypatch.context() as patch:
        usage = type("Usage", (), {"free": 1000})
        patch.setattr("pipelines.store.rewrite.shutil.disk_usage", lambda _: usage)
        with pytest.raises(StoreRefused, match=r"make room for .* The rows are erased") as refused:
            erase(path, hand_out=lambda *both: handed.append(both))
        assert refused.value.code == "erasure_unfinished"
        with open_store(path, read_only=True) as store:  # reading goes on
            assert receipt_of(store, GONE, handed[0][1]).receipt == handed[0][0]
        assert "an erasure is still to be finished" in caplog.text
    open_store(path, read_only=True).close()
    assert traces(tmp_path, curve) == set()


def test_a_disk_that_is_full_while_the_file_is_written_anew_leaves_the_store_whole(path, tmp_path):
    curve = own_curve(path)
    before = sorted(file.name for file in path.parent.iterdir())
    erase_on_a_full_disk = f"""
import resource, sys
from pathlib import Path
from pipelines.erase_golfer import erase_golfer
from pipelines.store import care
def full(*given):
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, resource.RLIM_INFINITY))
    return whole(*given)
whole, care.rewrite_store = care.rewrite_store, full
try:
    erase_golfer(Path(sys.argv[1]), {GONE!r}, why="asked", who="data officer",
                 hand_out=lambda *both: print(*both, flush=True))
except Exception as error:
    print(type(error).__name__, error)
"""
    told = subprocess.run(
        [sys.executable, "-c", erase_on_a_full_disk, path],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert path.stat().st_size > 200_000
    receipt, key = told.stdout.splitlines()[0].split()
    assert "The rows are erased and the receipt is kept" in told.stdout, told
    assert "File too large" in told.stdout
    assert left_behind(path) == []
    assert [file for file in side_files(path) if file.name not in before] == []
    with open_store(path, read_only=True) as store:
        assert receipt_of(store, GONE, key).receipt == receipt
        assert len(store.swing_pool().swings) == len(CODES) - 1
    assert traces(tmp_path, curve) == set()


@pytest.mark.parametrize("read_only", [True, False])
def test_what_a_kill_left_beside_a_store_is_gone_after_any_opening(path, caplog, read_only):
    names = [
        "academy.duckdb.rewriting", "academy.duckdb.rewriting.wal",
        ".academy.duckdb.rewriting-0", ".academy.duckdb.rewriting-0.wal", ".academy.duckdb.draft-0",
        ".academy.duckdb.restoring-0", ".academy.duckdb.restoring-0.wal",
        ".academy.duckdb.version-9.draft-0",
    ]  # fmt: skip
    for name in names:
        path.with_name(name).write_bytes(b"half a file")
    path.with_name("academy.duckdb.tmp-0").mkdir()
    path.with_name("academy.duckdb.tmp-0").joinpath("spilled").write_bytes(GONE.encode())
    path.with_name("academy.duckdb.version-9").write_bytes(b"kept")
    open_store(path, read_only=read_only).close()
    assert sorted(file.name for file in path.parent.iterdir()) == [
        "academy.duckdb", "academy.duckdb.version-9",
    ]  # fmt: skip
    assert all(name in caplog.text for name in [*names, "academy.duckdb.tmp-0"])


def test_what_has_left_the_store_and_may_hold_the_golfer_is_named(path):
    with open_store(path) as store:
        edition = build_edition("spring", store.swing_pool(), store.golfers(), LEVELS)
        store.save_edition(edition, NOON)
        early = {"study": "before the first swing", "swings": 3}
        store.audit.record("export", "analyst", early)
        store._database._connection.execute("UPDATE collect_run SET started_at = '2035-01-01'")
        for action, details in (
            ("export", {"edition": "spring", "sha256": edition.content_hash}),
            ("export", {"edition": "another academy's", "sha256": "0" * 64}),
            ("share", {"edition": "spring"}),
            ("export", {"study": "late", "swings": 7}),
            ("backup", {"file": "/shelf/backup.duckdb"}),
            ("build", {"edition": "spring"}),
        ):
            store.audit.record(action, "analyst", details, at=datetime(2040, 1, 1, tzinfo=UTC))
    named = [(entry.action, entry.details) for entry in erase(path).given_out]
    assert [action for action, _ in named] == ["export", "share", "export", "backup"]
    assert "late" in named[2][1]
    assert "/shelf/backup.duckdb" in named[3][1]


def test_what_a_running_process_works_on_is_left_alone(path):
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as process:
        draft = path.with_name(f".academy.duckdb.restoring-{process.pid}")
        draft.write_bytes(b"half a file")
        open_store(path).close()
        assert draft.exists()
        process.stdin.close()
    open_store(path).close()
    assert not draft.exists()


def test_the_file_that_is_being_written_anew_never_holds_what_is_erased(
    path, tmp_path, monkeypatch
):
    curve = own_curve(path)

    def killed(*_):
        raise CutShortError

    monkeypatch.setattr("pipelines.store.rewrite._put_in_place", killed)
    monkeypatch.setattr("pipelines.store.rewrite.forget_draft", lambda _: None)
    with pytest.raises(CutShortError):
        erase(path)
    (draft,) = path.parent.glob(".academy.duckdb.rewriting-*")
    assert b"Q0004" in draft.read_bytes()
    assert traces(tmp_path, curve) == {path.name}
