"""The jobs that are killed, and a process that starts each of them when it is told to.

Run as a program it loads everything once, then forks a child for every job named on its standard
input. A child says ``begin``, then one line for each thing it reports as stored, then ``end``.
"""

import importlib.util
import json
import os
import sys
from datetime import date
from pathlib import Path
from types import ModuleType

import numpy as np

from norms.errors import StandardRefused, StoreRefused
from norms.records import DatedHandicap, Golfer
from pipelines import build_edition, collect_captures, erase_golfer, manage_standard
from pipelines.collect.profile import load_profile
from pipelines.lab_profiles import keep_profile
from pipelines.store import Store, open_store

CODES = [f"Q{n:04d}" for n in range(1, 9)]
GONE = "Q0003"
"""Erased; a golfer of both academies."""
SIGNED = {"role": "director", "reason": "agreed with the coaches", "on": date(2026, 6, 10)}
AGREED = SIGNED | {"role": "academy director"}


def neighbour(*parts: str) -> ModuleType:
    """Another test folder's helpers, which cannot be imported by name."""
    path = Path(__file__).parent.parent.joinpath(*parts)
    spec = importlib.util.spec_from_file_location("helpers_" + parts[0], path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def prepare(folder: Path) -> None:
    """Captures of eight golfers, and a store before each job: ``before_<job>.duckdb``."""
    captures = neighbour("collect", "conftest.py")
    rng = np.random.default_rng(4)
    (folder / "captures").mkdir()
    for code in CODES:
        for number in (1, 2):
            points = captures.swing_points_mm()
            still = points[:1]
            points = still + rng.uniform(0.9, 1.1) * (points - still)
            captures.write_c3d(
                folder / "captures" / f"{code}_2026-03-04_driver_{number}.c3d", points
            )
    captures.write_profile(folder)
    with open_store(folder / "before_collect.duckdb", create=True) as store:
        since = DatedHandicap(since=date(2025, 1, 1), index=8.0)
        store.add_golfers([Golfer(code=c, hand="right", handicaps=(since,)) for c in CODES])
        keep_profile(store, load_profile(folder / "north_bay.toml"))
        store.copy_to(folder / "before_build.duckdb")
    collect(folder / "before_build.duckdb", folder, quiet)
    standards = neighbour("standards", "conftest.py")
    with open_store(folder / "before_approve.duckdb", create=True) as store:
        standards.fill(store)
        file = folder / "driver.toml"
        manage_standard.draft_standard(store, standards.draft_request(file))
        manage_standard.review_standard(store, file, **SIGNED)
        store.copy_to(folder / "before_erase.duckdb")
    approve(folder / "before_erase.duckdb", folder, quiet)


def quiet(_: str, **__: object) -> None:
    """Say nothing."""


def collect(path, folder, say):
    """Collect the captures, four files to a transaction, and say what each one stored."""
    collect_captures.BATCH = 4
    keep = Store.add_swings

    def keep_and_say(self, swings, outcomes, run):
        keep(self, swings, outcomes, run)
        say("swings", codes=[swing.label.swing for swing in swings])

    Store.add_swings = keep_and_say
    try:
        with open_store(path) as store:
            profile = load_profile(folder / "north_bay.toml")
            collect_captures.collect_captures([folder / "captures"], store, profile, workers=1)
    finally:
        Store.add_swings = keep


def build(path, folder, say):
    """Build an edition, and say its hash."""
    with open_store(path) as store:
        edition = build_edition.build_edition(store, "summer")
        say("edition", name="summer", sha256=edition.content_hash)


def approve(path, folder, say):
    """Approve the standard that is in review, and say so."""
    with open_store(path) as store:
        try:
            manage_standard.approve_standard(store, "driver_2026", **AGREED)
        except StandardRefused:
            if store.standards.decisions("driver_2026")[-1].state != "approved":
                raise
        say("approved", name="driver_2026")


def erase(path, folder, say):
    """Erase a golfer; say the key that is handed out, and that it is done."""
    try:
        erase_golfer.erase_golfer(
            path, GONE, why="asked", who="data officer",
            hand_out=lambda _, key: say("key", key=key),
        )  # fmt: skip
    except StoreRefused as refusal:
        if refusal.code != "golfer_unknown":
            raise
    say("erased")


JOBS = {"collect": collect, "build": build, "approve": approve, "erase": erase}


def tell(what: str, **facts: object) -> None:
    """Say a line in one write, so that a kill never leaves half of it."""
    os.write(1, (json.dumps({"said": what, **facts}) + "\n").encode())


def serve() -> None:
    """Fork a child for each job named on standard input, as JSON a line.

    A child that is done is kept until a further line says that nobody will kill it any more, so
    that its number cannot have become somebody else's.
    """
    for line in sys.stdin:
        order = json.loads(line)
        child = os.fork()
        if child == 0:
            run_child(order)
        tell("pid", pid=child)
        sys.stdin.readline()
        _, status = os.waitpid(child, 0)
        tell("gone", status=status)


def run_child(order: dict[str, str]) -> None:
    """Run one job and leave without a word to whoever forked."""
    try:
        tell("begin")
        JOBS[order["job"]](Path(order["store"]), Path(order["folder"]), tell)
        tell("end")
        os._exit(0)
    except BaseException as error:
        print(f"{order}: {error!r}", file=sys.stderr, flush=True)
        os._exit(1)


if __name__ == "__main__":
    serve()
