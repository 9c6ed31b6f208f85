"""Every command that writes, cut short: killed, on a full disk, beside another, the clock set back.

Whatever happens, the store opens, its log and editions hold together, it holds either all of what
the command does or nothing of it, and all where the command had said that it was done; a file that
has its name is whole; and what was erased is in no byte.
"""

import csv
import importlib.util
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from itertools import cycle
from pathlib import Path

import numpy as np
import pytest

from norms.cohort.edition import verify_edition
from norms.errors import StoreRefused
from pipelines.audit import read_log
from pipelines.backup_manifest import check_bytes, read_manifest
from pipelines.erase_golfer import receipt_of
from pipelines.erased_codes import ERASED_CODES_KEY
from pipelines.store import open_store
from pipelines.store.beside import left_behind, side_files

RESULTS = Path(__file__).with_name("results") / "every_command.csv"
VOLATILE = {
    "receipt", "digest", "new_digest", "secret", "pseudonym", "hash", "previous", "details",
}  # fmt: skip
"""Columns that are random, or hold a moment; those of a time are left out by their type."""
BY_PARTS = {"collect"}
"""Keeps batch after batch: killed, it holds the first ones."""


def load(name):
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


writing = load("writing_commands")


class Server:
    """The process that forks children, and the stores as commands leave them when undisturbed."""

    def __init__(self, folder):
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, writing.__file__, folder],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONWARNINGS": "ignore"},
        )
        assert json.loads(self.process.stdout.readline())["said"] == "ready"
        self._undisturbed = {}

    def run(self, command, kill_after_s=None, **how):
        """Run a command on a copy of its store; the store, its outputs, and the child's last word,
        None where it was killed before."""
        store, out = self.folder / f"{command}.duckdb", self.folder / f"{command}_out"
        shutil.rmtree(out, ignore_errors=True)
        out.mkdir()
        for other in (*side_files(store), store.with_name(f"{store.name}.wal")):
            other.unlink(missing_ok=True)
        base = self.folder / f"{writing.COMMANDS[command][0]}.duckdb"
        shutil.copyfile(base, store)
        return store, out, self.again(command, store, out, kill_after_s, **how)

    def again(self, command, store, out, kill_after_s=None, **how):
        """Run a command on a store as it is."""
        self._say(json.dumps({"command": command, "store": str(store), "out": str(out), **how}))
        heard = {}
        while not {"pid", "begin"} <= heard.keys():
            self._hear(heard)
        if kill_after_s is not None:
            time.sleep(kill_after_s)
            os.kill(heard["pid"]["pid"], signal.SIGKILL)
        self._say("no more kills")
        while "gone" not in heard:
            self._hear(heard)
        return heard.get("end")

    def _hear(self, heard):
        line = json.loads(self.process.stdout.readline())
        heard[line["said"]] = line

    def undisturbed(self, command):
        """What its store holds before and after, its outputs, steps and seconds."""
        if command not in self._undisturbed:
            base = self.folder / f"{writing.COMMANDS[command][0]}.duckdb"
            began = time.monotonic()
            store, out, last = self.run(command)
            took = time.monotonic() - began
            assert last["code"] == 0, last
            self._undisturbed[command] = (
                contents(base), contents(store), outputs(out), last["steps"], took
            )  # fmt: skip
        return self._undisturbed[command]

    def _say(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def close(self):
        self.process.stdin.close()
        self.process.wait(timeout=60)
        self.process.stdout.close()


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    opened = Server(tmp_path_factory.mktemp("commands"))
    yield opened
    opened.close()


def contents(path):
    """What every table holds, without what is random or a moment."""
    found = {}
    with open_store(path, read_only=True) as store:
        database = store._database
        columns = {}
        for table, column, kind in database.rows("stored_columns"):
            if not kind.startswith("TIMESTAMP") and column not in VOLATILE:
                columns.setdefault(table, []).append(f'"{column}"')
        for table, named in columns.items():
            if table != "schema_version":
                rows = database.script(f'SELECT {", ".join(named)} FROM "{table}"')
                if table == "setting":  # digests of erased codes have a random salt
                    rows = [row[:1] if row[0] == ERASED_CODES_KEY else row for row in rows]
                found[table] = sorted(map(repr, rows))
    return found


def timeless(content):
    """Without the minute of a look at a study's data."""
    return re.sub(rb"\d{4}-\d\d-\d\d \d\d:\d\d UTC", b"", content)


def outputs(folder):
    """Files that have their names, by content where it is the same in every run."""
    return {
        str(file.relative_to(folder)): b"" if "backup" in file.name else timeless(file.read_bytes())
        for file in folder.rglob("*")
        if file.is_file() and not any(part.startswith(".") for part in file.parts)
    }


def faults(server, command, store, out, last):
    """What is wrong after a command was cut short, in words."""
    before, after, made, *_ = server.undisturbed(command)
    found = []
    now = contents(store)  # opens it, and finishes what stood out
    done = last is not None and last["code"] == 0
    differ = sorted(table for table in now if now[table] != after[table])
    if done and differ:
        found.append(f"said to be done, but {differ} are not as after it")
    if now not in (before, after) and command not in BY_PARTS:
        found.append(f"half done: {differ}")
    with open_store(store, read_only=True) as opened:
        found += read_log(opened).faults
        editions = [opened.edition(name) for name in opened.edition_names()]
        found += [f"edition {one.name} is damaged" for one in editions if not verify_edition(one)]
    for name, content in outputs(out).items():
        if content != made.get(name):
            found.append(f"{name} is half a file, or another")
    if left_behind(store):
        found.append("a draft is left beside the store")
    found += PARTICULAR.get(command, nothing_more)(store, out, last, now == after)
    return found


def nothing_more(*_):
    return []


def faults_of_erasure(store, out, last, done):
    gone = writing.GONE.encode()
    if done and (gone in store.read_bytes() or side_files(store)):
        return ["bytes of the erased golfer are left"]
    return []


def faults_of_backup(store, out, last, done):
    backup = out / "backup.duckdb"
    if not backup.exists():
        return []
    try:
        check_bytes(backup, read_manifest(backup), backup)
    except StoreRefused as refusal:
        return [refusal.message]
    return []


PARTICULAR = {"erase": faults_of_erasure, "backup": faults_of_backup}


def killed(server, kills, seed, ways=("time", "step")):
    """Rows of results: each command in turn, killed after a random time or at a random step."""
    rng = np.random.default_rng(seed)
    turns = [(way, command) for way in ways for command in rng.permutation(list(writing.COMMANDS))]
    for _, (way, command) in zip(range(kills), cycle(turns), strict=False):
        *_, steps, took = server.undisturbed(command)
        at_time, at_step = rng.uniform(0.0, took), int(rng.integers(1, steps + 1))
        how = {"kill_after_s": at_time} if way == "time" else {"die_at": at_step}
        store, out, last = server.run(command, **how)
        try:
            wrong = faults(server, command, store, out, last)
        except Exception as error:  # whatever keeps a store from being judged is the finding
            wrong = [f"cannot be judged: {error!r}"]
        yield {
            "command": command,
            "killed": f"after {at_time:.3f} s" if way == "time" else f"at step {at_step}",
            "finished_before": last is not None,
            "faults": "; ".join(wrong),
        }


@pytest.mark.slow
def test_every_command_changes_the_store_that_it_is_killed_at(server):
    for command in writing.COMMANDS:
        before, after, *_ = server.undisturbed(command)
        assert before != after, command


def test_a_dozen_kills_at_commands_that_write_leave_all_or_nothing(server):
    rows = list(killed(server, 12, seed=5, ways=("step",)))
    assert [row for row in rows if row["faults"]] == []
    assert sum(not row["finished_before"] for row in rows) > 6


@pytest.mark.slow
def test_three_hundred_kills_at_every_command_that_writes_leave_all_or_nothing(server):
    rows = []
    with RESULTS.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        for row in killed(server, 300, seed=6):
            if not rows:
                writer.writerow(row)
            rows.append(row)
            writer.writerow(row.values())
            stream.flush()
    assert [row for row in rows if row["faults"]] == []
    assert sum(not row["finished_before"] for row in rows) > 150


FULL = [("collect", 0.02), ("erase", 0.02), ("erase", 0.5), ("backup", 0.5)]
SHARES = (0.02, 0.3, 0.6, 1.0)


def on_a_full_disk(server, command, share):
    """Faults of a command that finds room for files of this share of its store's size."""
    base = server.folder / f"{writing.COMMANDS[command][0]}.duckdb"
    store, out, last = server.run(command, room=int(share * base.stat().st_size))
    return last, faults(server, command, store, out, last)


@pytest.mark.parametrize(("command", "share"), FULL)
def test_a_full_disk_is_told_and_leaves_all_or_nothing(server, command, share):
    last, wrong = on_a_full_disk(server, command, share)
    assert wrong == []
    assert last["code"] == 1
    assert "File too large" in last["told"]


@pytest.mark.slow
def test_a_full_disk_leaves_all_or_nothing_of_any_command(server):
    for command in writing.COMMANDS:
        for share in SHARES:
            assert on_a_full_disk(server, command, share)[1] == [], (command, share)


def test_a_clock_that_was_set_back_changes_nothing_but_the_times(server):
    for command in ("exclude", "build", "erase", "backup"):
        store, out, last = server.run(command, clock_back_days=1)
        assert last["code"] == 0, last
        assert faults(server, command, store, out, last) == [], command


RUN = "from pipelines.cli import main; main()"


def test_several_processes_at_one_store_wait_for_each_other_and_lose_nothing(server):
    store, out, _ = server.run("exclude")
    copy = out / "copy.duckdb"
    words = [
        f"erase {writing.GONE} --who office --why asked --store {store}",
        *(f"exclude --golfer Q000{n} --who coach --why ill --store {store}" for n in (4, 5)),
        f"mark Q0001 2026-03-04 lesson --store {store}",
        f"backup {store} {copy}",
        f"exclusions --store {store}",
        f"log --store {store}",
    ]
    env = {**os.environ, "NORMS_WAIT_S": "300", "OPENBLAS_NUM_THREADS": "1"}
    both = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True, "env": env}
    running = [subprocess.Popen([sys.executable, "-c", RUN, *one.split()], **both) for one in words]
    told = [process.communicate() for process in running]
    assert [process.returncode for process in running] == [0] * len(words), told
    with open_store(store) as opened:
        left_out = {decided.exclusion.golfer for decided in opened.exclusions()}
        assert left_out == {"Q0002", "Q0004", "Q0005"}
        assert [one.kind for one in opened.golfer_shelf.events("Q0001")] == ["lesson"]
        assert read_log(opened).faults == ()
        actions = [entry.action for entry in opened.audit.entries()]
        key = re.search(r"who is erased: (\w+)", told[0][0])[1]
        assert receipt_of(opened, writing.GONE, key).removed["swing"] == 2
    assert {action: actions.count(action) for action in ("exclude", "erase", "backup")} == {
        "exclude": 3, "erase": 1, "backup": 1,
    }  # fmt: skip
    assert writing.GONE.encode() not in store.read_bytes()
    check_bytes(copy, read_manifest(copy), copy)
