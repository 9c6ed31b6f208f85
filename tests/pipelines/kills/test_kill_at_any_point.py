"""kill -9 at random points of collect, build, approve and erase.

After each kill the store opens, everything that was reported as stored is there, nothing is half
there, and the same job run again ends in the state of a run that was never killed.
"""

import csv
import importlib.util
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from itertools import cycle
from pathlib import Path

import duckdb
import numpy as np
import pytest

from norms.cohort.edition import verify_edition
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.audit import read_log
from pipelines.erase_golfer import receipt_of
from pipelines.store import open_store
from pipelines.store.beside import side_files

RESULTS = Path(__file__).with_name("results") / "kills.csv"


def load_jobs():
    spec = importlib.util.spec_from_file_location("kill_jobs", Path(__file__).with_name("jobs.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


jobs = load_jobs()


class Server:
    """The process that forks children, and what the child at hand has said."""

    def __init__(self, folder):
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, jobs.__file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONWARNINGS": "ignore"},
        )

    def run(self, job, store, kill_after_s=None):
        """Run a job, kill it so long after it began; what it reported, its seconds, whether it
        came to its end."""
        order = {"job": job, "store": str(store), "folder": str(self.folder)}
        self.tell(json.dumps(order))
        said, child, began = [], None, None
        while child is None or began is None:
            line = json.loads(self.process.stdout.readline())
            child = line["pid"] if line["said"] == "pid" else child
            began = time.monotonic() if line["said"] == "begin" else began
        if kill_after_s is not None:
            time.sleep(kill_after_s)
            os.kill(child, signal.SIGKILL)
        self.tell("no more kills")
        while (line := json.loads(self.process.stdout.readline()))["said"] != "gone":
            said.append(line)
        finished = bool(said) and said[-1]["said"] == "end"
        assert finished or kill_after_s is not None
        return said, time.monotonic() - began, finished

    def tell(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def close(self):
        self.process.stdin.close()
        self.process.wait(timeout=60)
        self.process.stdout.close()


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kills")
    jobs.prepare(folder)
    server = Server(folder)
    yield folder, server
    server.close()


def state(path):
    """Everything that two runs must agree on."""
    with open_store(path) as store:
        pool = store.swing_pool()
        names = store.edition_names()
        return {
            "golfers": store.golfers(),
            "swings": pool.swings,
            "curves": pool.curves_cm.tobytes(),
            "features": pool.features.tobytes(),
            "editions": {name: store.edition(name).content_hash for name in names},
            "decisions": [
                decision
                for name in store.standards.names()
                for decision in store.standards.decisions(name)
            ],
            "marks": [(m.policy, m.hash_after) for n in names for m in store.erasures.marks(n)],
            "receipts": [receipt.removed for receipt in store.erasures.receipts()],
            "accepted": sorted(o.swing for o in store.outcomes() if o.status == "accepted"),
        }


def faults(path, said):
    """What is lost, or half there, in a store; empty where all is well."""
    found = []
    with open_store(path) as store:
        codes = store.swing_codes()
        for word in said:
            if word["said"] == "swings":
                found += [f"swing {code} is lost" for code in word["codes"] if code not in codes]
            if word["said"] == "edition":
                kept = store.edition(word["name"]).content_hash
                found += ["edition is lost"] if kept != word["sha256"] else []
            if word["said"] == "approved":
                state = store.standards.decisions(word["name"])[-1].state
                found += ["approval is lost"] if state != "approved" else []
            if word["said"] == "erased" and not store.erasures.receipts():
                found.append("receipt is lost")
        keys = [word["key"] for word in said if word["said"] == "key"]
        if store.erasures.receipts() and not keys:
            found.append("erased before the key was handed out")
        elif store.erasures.receipts():
            receipt_of(store, jobs.GONE, keys[-1])
        found += read_log(store).faults
        editions = [store.edition(name) for name in store.edition_names()]
        found += [f"edition {one.name} is damaged" for one in editions if not verify_edition(one)]
        accepted = [one.swing for one in store.outcomes() if one.status.startswith("accepted")]
        if accepted and set(accepted) != codes:
            found.append("outcomes and swings differ")
        erased = bool(store.erasures.receipts())
        count = store._database.script
        whole = ((count("SELECT count(*) FROM swing_event"), 5 * len(codes)),
                 (count("SELECT count(*) FROM swing_feature"), len(FEATURE_NAMES) * len(codes)),
                 (count("SELECT count(*) FROM rewrite_due"), 0))  # fmt: skip
        found += [f"{rows} rows where {due} are due" for ((rows,),), due in whole if rows != due]
        if erased:
            left = count("SELECT count(*) FROM edition_member WHERE golfer = ?", (jobs.GONE,))
            found += ["half an erasure"] if left != [(0,)] or jobs.GONE in store.golfers() else []
    if erased and (jobs.GONE.encode() in path.read_bytes() or side_files(path)):
        found.append("bytes of the erased golfer are left")
    return found


def kill_once(folder, server, job, seconds, reference):
    """One run that is killed, judged, run again and compared; a row of the results."""
    store = folder / f"{job}.duckdb"
    for other in folder.glob(f"*{job}.duckdb*"):
        if not other.name.startswith("before_"):
            other.unlink()
    shutil.copyfile(folder / f"before_{job}.duckdb", store)
    said, _, finished = server.run(job, store, kill_after_s=seconds)
    try:
        wrong = faults(store, said)
    except Exception as error:  # whatever keeps a store from opening is the finding
        wrong = [f"does not open: {error!r}"]
    server.run(job, store)
    same = state(store) == reference
    if store.with_name(f"{store.name}.wal").exists():
        wrong.append("a log is left beside the store")
    return {
        "job": job,
        "killed_after_s": round(seconds, 4),
        "finished_before": finished,
        "reports_before": sum(word["said"] not in ("begin", "end") for word in said),
        "faults": "; ".join(wrong),
        "same_state_after_rerun": same,
    }


def kill_often(prepared, kills, seed):
    folder, server = prepared
    rng = np.random.default_rng(seed)
    references, lasting = {}, {}
    for job in jobs.JOBS:
        store = folder / f"reference_{job}.duckdb"
        shutil.copyfile(folder / f"before_{job}.duckdb", store)
        _, lasting[job], _ = server.run(job, store)
        references[job] = state(store)
        store.unlink()
    for _, job in zip(range(kills), cycle(jobs.JOBS), strict=False):
        yield kill_once(folder, server, job, rng.uniform(0.0, lasting[job]), references[job])


def test_a_dozen_kills_lose_nothing_and_leave_nothing_half_done(prepared):
    rows = list(kill_often(prepared, 12, seed=1))
    assert [row for row in rows if row["faults"] or not row["same_state_after_rerun"]] == []
    assert any(not row["finished_before"] for row in rows)


@pytest.mark.slow
def test_two_hundred_kills_lose_nothing_and_leave_nothing_half_done(prepared):
    rows = []
    RESULTS.parent.mkdir(exist_ok=True)
    with RESULTS.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        for row in kill_often(prepared, 200, seed=2):
            if not rows:
                writer.writerow(row)
            rows.append(row)
            writer.writerow(row.values())
            stream.flush()
    assert [row for row in rows if row["faults"] or not row["same_state_after_rerun"]] == []
    assert sum(not row["finished_before"] for row in rows) > 100


def test_the_judge_sees_what_a_kill_could_have_done(prepared):
    folder, _ = prepared
    store = folder / "judged.duckdb"
    shutil.copyfile(folder / "before_build.duckdb", store)
    assert faults(store, [{"said": "swings", "codes": ["S"]}]) == ["swing S is lost"]
    with duckdb.connect(str(store)) as connection:
        connection.execute("DELETE FROM swing_event WHERE event = 'top'")
        connection.execute("DELETE FROM swing WHERE golfer = 'Q0001'")
    found = faults(store, [])
    assert "outcomes and swings differ" in found
    assert any("rows where" in fault for fault in found)
    store.unlink()
