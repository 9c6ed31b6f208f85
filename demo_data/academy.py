"""Quillmere Academy, an invented golf academy with two labs, written to a folder.

The folder then holds ``captures/north_bay`` and ``captures/range_hut`` (C3D), ``student`` (five
captures of a golfer who has no other), ``roster.csv``, ``handicaps.csv``, ``ball_speed.csv``,
``consents.csv`` and the two labs' profiles.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

import numpy as np

from demo_data.ball_speed import BALL_SPEED, BallSpeedModel
from demo_data.calendar import Calendar, calendar_for
from demo_data.captures import write_swing
from demo_data.faults import Fault, capture_path, write_faults
from demo_data.golfers import (
    GolferTruth,
    PlannedSwing,
    invent_golfer,
    invent_staff,
    invent_student,
)
from demo_data.labs import LAB_KEYS, load_lab
from demo_data.people import levels_for
from demo_data.tables import write_ball_speeds, write_consents, write_handicaps, write_roster
from norms.errors import NormsError
from norms.synthetic import SwingTruth, capture_times, swing_truth

DEFAULT_SEED = 20260
DEFAULT_GOLFERS = 300
STAFF_PER_LAB = 3
FIRST_STAFF = 901
"""Number in the code of the first of the staff."""
STUDENT_DAY = date(2026, 10, 6)

Progress = Callable[[int, int], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class AcademyTruth:
    """All that is true of an academy that was written.

    Attributes
    ----------
    seed : int
    golfers : tuple of GolferTruth
        With latent pattern and planned swings; staff and student are not among them.
    staff : tuple of GolferTruth
        Each lab's own, who swing a driver once in every session, so that it can be told when the
        lab has changed.
    student : GolferTruth
        One golfer with five swings on one day.
    student_captures : tuple of str
        Paths of these swings' captures inside the folder.
    faults : tuple of Fault
    askew : (str, datetime.date)
        Lab and day of the one session that was captured with its axes askew.
    ball_speed : BallSpeedModel
        The coefficients behind the ball speeds.
    """

    seed: int
    golfers: tuple[GolferTruth, ...]
    staff: tuple[GolferTruth, ...]
    student: GolferTruth
    student_captures: tuple[str, ...]
    faults: tuple[Fault, ...]
    askew: tuple[str, date]
    ball_speed: BallSpeedModel = BALL_SPEED

    @cached_property
    def swings(self) -> dict[str, PlannedSwing]:
        """Every good swing by its code, those of staff and student included."""
        everyone = (*self.golfers, *self.staff, self.student)
        return {swing.code: swing for golfer in everyone for swing in golfer.swings}

    @cached_property
    def patterns(self) -> dict[str, str]:
        """Latent pattern by golfer."""
        return {one.person.golfer.code: one.pattern for one in (*self.golfers, *self.staff)}

    def truth_of(self, code: str) -> SwingTruth:
        """Events, features and path of one swing at its capture's samples; worked out on asking."""
        swing = self.swings[code]
        times = capture_times(swing.parameters, load_lab(swing.lab).rate_hz)
        return swing_truth(swing.parameters, times)


class GolferJob(NamedTuple):
    """What one worker needs to invent and write one golfer."""

    seed: np.random.SeedSequence
    code: str
    place: str
    folder: str
    calendar: Calendar

    def invent(self) -> GolferTruth:
        """The golfer with all swings; one of the staff where ``place`` is a lab, not a level."""
        if self.place in LAB_KEYS:
            return invent_staff(self.seed, self.code, self.place, self.calendar)
        return invent_golfer(self.seed, self.code, self.place, self.calendar)


class _Seeds(NamedTuple):
    """Independent seeds for everything that is drawn, the same for any number of workers."""

    levels: np.random.SeedSequence
    faults: np.random.SeedSequence
    speeds: np.random.SeedSequence
    student: np.random.SeedSequence
    staff: list[np.random.SeedSequence]
    golfers: list[np.random.SeedSequence]
    consents: np.random.SeedSequence


def _spawn_seeds(seed: int, golfers: int) -> _Seeds:
    staff = STAFF_PER_LAB * len(LAB_KEYS)
    levels, faults, speeds, student, *rest = np.random.SeedSequence(seed).spawn(5 + staff + golfers)
    return _Seeds(levels, faults, speeds, student, rest[:staff], rest[staff:-1], rest[-1])


def academy_jobs(seed: int, golfers: int, folder: Path) -> list[GolferJob]:
    """One job for each golfer: seed, code, level, and the folder to write into."""
    seeds = _spawn_seeds(seed, golfers)
    levels = levels_for(len(seeds.golfers), np.random.default_rng(seeds.levels))
    calendar = calendar_for(golfers)
    return [
        GolferJob(seed, f"Q{place:04d}", level, str(folder), calendar)
        for place, (seed, level) in enumerate(zip(seeds.golfers, levels, strict=True), start=1)
    ]


def staff_jobs(seed: int, golfers: int, folder: Path) -> list[GolferJob]:
    """One job for each of the labs' staff."""
    labs = [lab for lab in LAB_KEYS for _ in range(STAFF_PER_LAB)]
    calendar = calendar_for(golfers)
    return [
        GolferJob(one, f"Q{FIRST_STAFF + place:04d}", lab, str(folder), calendar)
        for place, (one, lab) in enumerate(
            zip(_spawn_seeds(seed, golfers).staff, labs, strict=True)
        )
    ]


def noise_seeds(
    golfer: GolferTruth, seed: np.random.SeedSequence
) -> Iterator[tuple[PlannedSwing, np.random.SeedSequence]]:
    """Each swing of a golfer with the seed of its capture's noise."""
    # Keyed by place, not by SeedSequence.spawn: spawning counts, so a second call would differ.
    for place, swing in enumerate(golfer.swings):
        key = (*seed.spawn_key, place)
        yield swing, np.random.SeedSequence(seed.entropy, spawn_key=key)


def _write_golfer(job: GolferJob) -> GolferTruth:
    golfer = job.invent()
    for swing, noise in noise_seeds(golfer, job.seed):
        file = Path(job.folder) / capture_path(swing.lab, swing.code)
        askew = (swing.lab, swing.recorded_on) == job.calendar.askew
        write_swing(file, swing, golfer.person.golfer.hand, noise, askew=askew)
    return golfer


def _run_jobs(jobs: list[GolferJob], workers: int, progress: Progress | None) -> list[GolferTruth]:
    """Write every golfer, in one process or several; results in the order of the jobs."""
    done: list[GolferTruth] = []

    def note(golfer: GolferTruth) -> None:
        done.append(golfer)
        if progress is not None:
            progress(len(done), len(jobs))

    if workers <= 1:
        for job in jobs:
            note(_write_golfer(job))
        return done
    # "spawn" behaves alike on every system and copies no threads or locks of the caller.
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for golfer in pool.map(_write_golfer, jobs, chunksize=4):
            note(golfer)
    return done


def _write_student(folder: Path, seed: np.random.SeedSequence, code: str) -> GolferTruth:
    student = invent_student(seed, code, STUDENT_DAY)
    (folder / "student").mkdir()
    for swing, noise in noise_seeds(student, seed):
        write_swing(folder / "student" / f"{swing.code}.c3d", swing, "right", noise)
    return student


def _prepare(folder: Path) -> None:
    """Make the folders; an old academy is never written over, old captures would stay in it."""
    for name in ("captures", "student"):
        if (folder / name).exists():
            raise NormsError(
                f"{folder / name} exists already; name an empty folder or remove it first",
                code="folder_in_use",
            )
    for lab in LAB_KEYS:
        (folder / "captures" / lab).mkdir(parents=True)


def write_profiles(folder: Path) -> None:
    """Write both labs' profiles."""
    for key in LAB_KEYS:
        (folder / f"{key}.toml").write_text(load_lab(key).profile, encoding="utf-8", newline="\n")


def write_academy(
    folder: Path,
    *,
    seed: int = DEFAULT_SEED,
    golfers: int = DEFAULT_GOLFERS,
    progress: Progress | None = None,
    workers: int = 1,
) -> AcademyTruth:
    """Write the invented academy.

    Parameters
    ----------
    folder : pathlib.Path
        Made if it is missing; must not hold an academy yet.
    seed : int, optional
        The same seed and number of golfers give the same bytes, whatever the workers.
    golfers : int, optional
        Golfers with captures; the labs' staff and the student come on top.
    progress : callable, optional
        Called with (golfers done, golfers in all), staff among them.
    workers : int, optional
        Processes. With more than one, the caller's main module must be importable.

    Returns
    -------
    AcademyTruth

    Raises
    ------
    NormsError
        If the folder already holds captures.
    """
    _prepare(folder)
    seeds = _spawn_seeds(seed, golfers)
    jobs = academy_jobs(seed, golfers, folder)
    written = _run_jobs(jobs + staff_jobs(seed, golfers, folder), workers, progress)
    everyone, staff = written[:golfers], written[golfers:]
    student = _write_student(folder, seeds.student, f"Q{golfers + 1:04d}")
    faults = write_faults(folder, everyone, seeds.faults)
    roster = [one.person.golfer for one in (*everyone, student, *staff)]
    write_roster(folder / "roster.csv", roster)
    write_handicaps(folder / "handicaps.csv", roster)
    swings = (swing for one in everyone for swing in one.swings)
    write_ball_speeds(folder / "ball_speed.csv", swings, np.random.default_rng(seeds.speeds))
    write_consents(folder / "consents.csv", roster, np.random.default_rng(seeds.consents))
    write_profiles(folder)
    return AcademyTruth(
        seed=seed,
        golfers=tuple(everyone),
        staff=tuple(staff),
        askew=calendar_for(golfers).askew,
        student=student,
        student_captures=tuple(f"student/{swing.code}.c3d" for swing in student.swings),
        faults=faults,
    )


def invent_academy(
    *, seed: int = DEFAULT_SEED, golfers: int = DEFAULT_GOLFERS
) -> list[GolferTruth]:
    """Golfers, without staff, that `write_academy` would write, without writing anything."""
    return [job.invent() for job in academy_jobs(seed, golfers, Path())]
