"""Several processes at one store: who is waited for, and a file that is replaced meanwhile."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from norms.errors import StoreRefused
from norms.records import Golfer
from pipelines.store import holding, open_store
from pipelines.store.beside import spill_folder

HOLD = """
import sys
from pipelines.store import open_store
with open_store(sys.argv[1], read_only=sys.argv[2] == "read"):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def path(tmp_path):
    made = tmp_path / "store.duckdb"
    with open_store(made, create=True) as store:
        store.add_golfers([Golfer(code="Q0001", hand="right")])
    return made


def holder(path, how):
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, path, how],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline() == "held\n"
    return process


def test_a_busy_store_is_waited_for_and_it_is_said_for_whom(path, monkeypatch):
    monkeypatch.setenv("NORMS_WAIT_S", "60")
    with holder(path, "write") as process:

        class Told:
            """Lets the other process go once it has been said that it is waited for."""

            def warning(self, words):
                said.append(words)
                process.stdin.close()

        said = []
        monkeypatch.setattr(holding, "LOGGER", Told())
        with open_store(path) as store:
            assert list(store.golfers()) == ["Q0001"]
    assert len(said) == 1
    assert f"in use by process {process.pid}" in said[0]
    assert "waiting up to 60 s" in said[0]


def test_a_store_that_stays_busy_is_refused_after_the_stated_while(path, monkeypatch):
    monkeypatch.setenv("NORMS_WAIT_S", "0.3")
    with holder(path, "write") as process:
        with pytest.raises(StoreRefused, match=r"after 0\.3 s: wait until it has finished"):
            open_store(path, read_only=True)
        process.stdin.close()


def test_the_holders_command_is_said_and_nothing_that_follows_it(path, tmp_path):
    program = tmp_path / "norms"
    program.write_text(HOLD.replace("sys.argv[", "sys.argv[1:]["))
    process = subprocess.Popen(
        [sys.executable, program, "collect", path, "write"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with process:
        assert process.stdout.readline() == "held\n"
        with pytest.raises(StoreRefused) as refused:
            open_store(path)
        process.stdin.close()
    named = f"process {process.pid} (norms collect): "
    assert (named in refused.value.message) == Path("/proc/self/cmdline").exists()


@pytest.mark.parametrize("said", ["soon", "-1", "nan", "1e9"])
def test_a_time_to_wait_that_is_none_is_refused(path, monkeypatch, said):
    monkeypatch.setenv("NORMS_WAIT_S", said)
    with pytest.raises(StoreRefused, match="NORMS_WAIT_S"):
        open_store(path)


def test_readers_do_not_shut_each_other_out(path):
    with holder(path, "read") as first, holder(path, "read") as second:
        with open_store(path, read_only=True) as store:
            assert list(store.golfers()) == ["Q0001"]
        first.stdin.close()
        second.stdin.close()


def test_each_process_spills_into_a_folder_of_its_own(path):
    with open_store(path) as store:
        used = store._database.script("SELECT current_setting('temp_directory')")
    assert used == [(str(spill_folder(path)),)]
    assert str(os.getpid()) in used[0][0]


def test_who_opened_a_file_that_lost_its_name_meanwhile_opens_the_one_in_its_place(
    path, tmp_path, monkeypatch
):
    other = tmp_path / "other.duckdb"
    with open_store(other, create=True) as store:
        store.add_golfers([Golfer(code="Q0002", hand="left")])
    connect = holding._connect

    def replaced_after_opening(name, place, **how):
        database = connect(name, place, **how)
        if other.exists():
            other.replace(path)
        return database

    monkeypatch.setattr(holding, "_connect", replaced_after_opening)
    with open_store(path) as store:
        assert list(store.golfers()) == ["Q0002"]


def test_a_store_is_kept_from_everybody_while_its_file_is_replaced(path):
    with holding.held(path, str(path)):
        tried = subprocess.run(
            [sys.executable, "-c", HOLD, path, "read"], capture_output=True, text=True, check=False
        )
    assert f"in use by process {os.getpid()}" in tried.stderr
    with holder(path, "read") as process:
        with (
            pytest.raises(StoreRefused, match="another process took the store"),
            holding.held(path, str(path)),
        ):
            pytest.fail("held a store that another process reads")
        process.stdin.close()


def test_a_store_that_was_written_to_meanwhile_is_not_replaced(path):
    before = holding.stamp_of(path)
    with open_store(path) as store:
        store.add_golfers([Golfer(code="Q0002", hand="left")])
    with (
        pytest.raises(StoreRefused, match="another process took the store"),
        holding.held(path, str(path), since=before),
    ):
        pytest.fail("held a store that was written to")


def test_two_processes_that_write_lose_nothing_of_either(path):
    add = """
import sys
from norms.records import Golfer
from pipelines.store import open_store
for number in range(12):
    with open_store(sys.argv[1]) as store:
        store.add_golfers([Golfer(code=f"{sys.argv[2]}{number:03d}", hand="right")])
"""
    both = [
        subprocess.Popen(
            [sys.executable, "-c", add, path, letter],
            env={**os.environ, "NORMS_WAIT_S": "120"},
            stderr=subprocess.PIPE,
            text=True,
        )
        for letter in "AB"
    ]
    for process in both:
        _, told = process.communicate()
        assert process.returncode == 0, told
    with open_store(path) as store:
        assert len(store.golfers()) == 25
