"""Every command that writes to a store, and a process that runs each and is cut short at it.

Run as a program it loads everything once, prepares, and forks a child for every order on its
standard input: a command, a copy of a store, and how the child is to end. ``die_at`` kills it
before so many steps, a step being a statement to the database or a change of a file's name, so that
kills fall between a file's renaming and the log's entry; ``room`` is where its disk is full;
``clock_back_days`` sets its clock back.
"""

import datetime as clock
import importlib.util
import json
import os
import resource
import shutil
import signal
import sys
from pathlib import Path
from types import ModuleType

import numpy as np

GONE = "Q0003"
WHO = "--who office --why asked"

# Name: the store it begins with, and its words.
COMMANDS = {
    "roster": ("collected", "roster {folder}/more.csv --handicaps {folder}/handicaps.csv"),
    "speeds": ("collected", "speeds {folder}/speeds.csv"),
    "settings": ("collected", "settings {folder}/settings.toml"),
    "collect": ("empty", "collect {folder}/captures --profile {folder}/north_bay.toml --workers 1"),
    "events": ("collected", "events {capture} --top 1.32 " + WHO),
    "build": ("collected", "build --edition summer --html {out}/edition.html"),
    "exclude": ("collected", "exclude --golfer Q0002 " + WHO),
    "readmit": ("excluded", "exclude --golfer Q0002 --readmit " + WHO),
    "consents": ("collected", "consents {folder}/consents.csv --who office"),
    "place": (
        "built",
        "place {capture} --edition summer --html {out}/sheet.html --json {out}/sheet.json",
    ),
    "mark": ("collected", "mark Q0001 2026-03-04 lesson"),
    "share": ("built", "share summer {out}/shared"),
    "import": ("collected", "import {folder}/shared --name theirs"),
    "features": ("collected", "features {folder}/open.csv --mapping {folder}/open.toml"),
    "declare": ("collected", "declare {folder}/study.toml"),
    "study": ("open", "study {folder}/study.toml --json {out}/study.json"),
    "export": ("open", "export {folder}/study.toml --out {out}/frame"),
    "review": ("drafted", "standard review {folder}/driver.toml " + WHO),
    "approve": ("reviewed", "standard approve driver_2026 " + WHO),
    "retire": ("approved", "standard retire driver_2026 " + WHO),
    "keep": ("approved", "standard check driver_2026 --keep --on 2026-06-10"),
    "erase": ("built", f"erase {GONE} " + WHO),
    "backup": ("built", "backup {store} {out}/backup.duckdb"),
    "restore": ("collected", "restore {folder}/kept.duckdb {store} --replace --who keeper"),
}
STORE_IN_WORDS = ("backup", "restore")


def neighbour(name: str, *parts: str) -> ModuleType:
    """Helpers of another test folder, which cannot be imported by name."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).parent.joinpath(*parts))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def prepare(folder: Path) -> None:
    """The stores that commands begin with, and the files that they read."""
    jobs = neighbour("kill_jobs", "jobs.py")
    jobs.prepare(folder)
    for name, made in (
        ("empty", "collect"), ("collected", "build"), ("reviewed", "approve"), ("approved", "erase")
    ):  # fmt: skip
        shutil.copyfile(folder / f"before_{made}.duckdb", folder / f"{name}.duckdb")
    write_tables(folder)
    run_on(folder, "collected", "built", "build")
    run_on(folder, "collected", "excluded", "exclude")
    run_on(folder, "collected", "open", "features")
    run_on(folder, "built", "scratch", "share", out=folder)
    standards = neighbour("helpers_standards", "..", "standards", "conftest.py")
    from pipelines.store import open_store

    with open_store(folder / "drafted.duckdb", create=True) as store:
        standards.fill(store)
    run_on(folder, "built", "scratch", "backup", out=folder)
    for ending in ("", ".manifest.json"):
        (folder / f"backup.duckdb{ending}").rename(folder / f"kept.duckdb{ending}")


def write_tables(folder: Path) -> None:
    """What the commands read in."""
    rng = np.random.default_rng(3)
    codes = [f"Q{n:04d}" for n in range(1, 9)]
    write = {
        "more.csv": [
            "golfer,sex,birth_year,hand,height_cm,mass_kg,professional,consents_norms",
            "Q0001,female,1990,right,170,60,no,yes",
            "Q0077,male,1980,left,180,80,no,yes",
        ],
        "handicaps.csv": ["golfer,date,handicap_index", "Q0077,2026-01-01,+1.5"],
        "speeds.csv": ["swing,ball_speed_mph"]
        + [f"{code}_2026-03-04_driver_1,140" for code in codes],
        "settings.toml": ["smallest_cell = 6", 'length_unit = "cm"'],
        "consents.csv": ["golfer,purpose,given,date", "Q0002,research,yes,2026-02-01"],
        "open.toml": [
            'name = "open"', 'club = "driver"', "[columns]", 'golfer = "who"', "[facts]",
            'sex = { column = "sex", female = "f", male = "m" }', "[speeds]",
            'ball_speed = { column = "bs", unit = "mph" }', "[[features]]", 'column = "fwd"',
            'name = "sway_travel"', 'unit = "in"',
        ],
        "study.toml": [
            'name = "open"', 'question = "Does forward travel go with ball speed?"',
            'primary = ["sway_travel"]', "[cohort]", 'feature_cohort = "open"', "[model]",
            'covariates = ["sex"]', "folds = 5",
        ],
        "open.csv": ["who,sex,bs,fwd"]
        + [
            f"X{n:03d},{'fm'[n % 2]},{rng.normal(140, 8):.1f},{rng.normal(4, 1):.2f}"
            for n in range(40)
            for _ in range(3)
        ],
    }  # fmt: skip
    for name, lines in write.items():
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def run_on(folder: Path, base: str, made: str, command: str, out: Path | None = None) -> None:
    """Make a store by a command from another."""
    store = folder / f"{made}.duckdb"
    shutil.copyfile(folder / f"{base}.duckdb", store)
    code, told = run_command(command, store, folder, out or folder)
    if code:
        raise RuntimeError(f"{command}: {told}")


def run_command(command: str, store: Path, folder: Path, out: Path) -> tuple[int, str]:
    """Run a command as a person does; its exit code, and what it said."""
    from typer.testing import CliRunner

    from norms.errors import NormsError
    from pipelines.cli import app

    capture = folder / "captures" / "Q0001_2026-03-04_driver_1.c3d"
    words = COMMANDS[command][1].format(folder=folder, out=out, store=store, capture=capture)
    given = words.split() + ([] if command in STORE_IN_WORDS else ["--store", str(store)])
    result = CliRunner().invoke(app, given)
    if isinstance(result.exception, NormsError):
        return 1, result.exception.message
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.output


class Steps:
    """Counts statements to the database and changes of files' names; kills before one of them."""

    def __init__(self, die_at: int | None) -> None:
        self.count, self.die_at = 0, die_at

    def step(self) -> None:
        self.count += 1
        if self.count == self.die_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def counting(self, function):
        def counted(*args, **how):
            self.step()
            try:
                return function(*args, **how)
            finally:
                self.step()

        return counted


def cut_short_in(order: dict) -> Steps:
    """Prepare this process for how it is to end."""
    from pipelines.store.database import Database

    steps = Steps(order.get("die_at"))
    for name in ("script", "take_in", "arrow"):
        setattr(Database, name, steps.counting(getattr(Database, name)))
    for name in ("replace", "rename", "link", "unlink"):
        setattr(os, name, steps.counting(getattr(os, name)))
    if room := order.get("room"):
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, resource.RLIM_INFINITY))
    if days := order.get("clock_back_days"):
        set_back(clock.timedelta(days=days))
    return steps


def set_back(by: clock.timedelta) -> None:
    """Let every module of the program read an earlier clock."""
    real_moment, real_day = clock.datetime, clock.date

    class StandsFor(type):
        """What is made, and what is asked of instances, are the real ones."""

        def __call__(cls, *args, **how):
            return cls.__base__(*args, **how)

        def __instancecheck__(cls, one):
            return isinstance(one, cls.__base__)

    class Moment(real_moment, metaclass=StandsFor):
        @classmethod
        def now(cls, tz=None):
            return real_moment.now(tz) - by

    class Day(real_day, metaclass=StandsFor):
        @classmethod
        def today(cls):
            return real_day.today() - by

    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] == "pipelines":  # the other rooms read no clock
            if getattr(module, "datetime", None) is real_moment:
                module.datetime = Moment
            if getattr(module, "date", None) is real_day:
                module.date = Day


def tell(what: str, **facts: object) -> None:
    """Say a line in one write, so that a kill never leaves half of it."""
    os.write(1, (json.dumps({"said": what, **facts}) + "\n").encode())


def serve(folder: Path) -> None:
    """Prepare; then fork a child for each order, and tell how it ended."""
    prepare(folder)
    tell("ready")
    for line in sys.stdin:
        order = json.loads(line)
        child = os.fork()
        if child == 0:
            run_child(order, folder)
        tell("pid", pid=child)
        sys.stdin.readline()  # nobody will kill this child any more
        _, status = os.waitpid(child, 0)
        tell("gone", status=status)


def run_child(order: dict, folder: Path) -> None:
    """Run one command and leave without a word to whoever forked."""
    try:
        steps = cut_short_in(order)
        tell("begin")
        code, told = run_command(order["command"], Path(order["store"]), folder, Path(order["out"]))
        tell("end", code=code, told=told, steps=steps.count)
        os._exit(0)
    except BaseException as error:
        print(f"{order}: {error!r}", file=sys.stderr, flush=True)
        os._exit(1)


if __name__ == "__main__":
    serve(Path(sys.argv[1]))
