"""Damaged and random files through every reader, inside the shield: what became of them.

    python tests/fuzz/run_fuzz.py --files 10000 --seed 1

Prints a report as JSON, and exits with 1 where a promise was broken: every file ends as a swing
or as a refusal of one line that begins with its name, in at most 2 s of the processor (a second
more for every 2 MB), with at most 500 MB, and the process that collects stays alive.
"""

import argparse
import json
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
from damage import damaged
from fuzz_job import LOG
from seeds import helpers, write_seeds

from norms.errors import NormsError
from norms.records import Swing, SwingLabel
from pipelines.collect.file_work import FileWork, Limits
from pipelines.collect.profile import load_profile
from pipelines.collect.shield import WorkerPool

SLACK_S = 0.5
"""For the system's own grain in telling the time limit."""
SHIELDED = ("reader_crashed", "reader_hung", "reader_memory", "reader_failed")
"""Refusals that the shield gave because the reader itself could not."""


def run(files: int, seed: int, workers: int, keep: Path | None, corpus: Path | None) -> dict:
    """Fuzz, and report.

    Parameters
    ----------
    files, seed, workers : int
    keep : Path or None
        Folder into which files are copied that needed the shield.
    corpus : Path or None
        Folder of files to read in place of damaged ones.
    """
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        profile = load_profile(helpers("capture_helpers", "conftest.py").write_profile(root))
        os.environ[LOG] = str(root / "log.txt")
        os.environ["PYTHONPATH"] = os.pathsep.join(
            [str(Path(__file__).parent), *filter(None, [os.environ.get("PYTHONPATH")])]
        )
        works = (
            damaged_files(root, write_seeds(root), files, seed)
            if corpus is None
            else (work_on(path) for path in sorted(corpus.iterdir()))
        )
        report, start = Report(keep), time.monotonic()
        with WorkerPool(
            profile, workers=workers, job="fuzz_job:timed", prepare="fuzz_job:prepare"
        ) as pool:
            for work, result in pool.run(works):
                report.take(work, result)
                if corpus is None:
                    work.path.unlink()
        report.read_log(root / "log.txt")
        return report.document(seed, time.monotonic() - start)


def damaged_files(root: Path, seeds: list[Path], files: int, seed: int) -> Iterator[FileWork]:
    """Each damaged file of its own generator, so that any of them can be made again alone."""
    contents = {path: path.read_bytes() for path in seeds}
    for number in range(files):
        rng = np.random.default_rng([seed, number])
        source = seeds[int(rng.integers(len(seeds)))]
        text = source.suffix in (".bvh", ".csv")
        path = root / f"d{number:05d}_{source.name}"
        path.write_bytes(damaged(rng, contents[source], text=text))
        yield work_on(path)


def work_on(path: Path) -> FileWork:
    label = SwingLabel(
        swing=path.stem,
        golfer="Q0001",
        club="driver",
        recorded_on=date(2026, 3, 2),
        lab="North bay",
        source=path.name,
        content_hash="0f",
    )
    return FileWork(path=path, label=label, hand="right")


class Report:
    """What became of the files, and which promises were broken."""

    def __init__(self, keep: Path | None = None) -> None:
        self.outcomes: Counter[str] = Counter()
        self.broken: list[str] = []
        self.shielded: dict[str, list[str]] = {}
        self.longest, self.largest = (0.0, ""), (0.0, "")
        self._allowed: dict[str, float] = {}
        self._keep = keep

    def take(self, work: FileWork, result: object) -> None:
        name = work.path.name
        self._allowed[name] = Limits().seconds_for(work.path)
        if isinstance(result, Swing):
            self.outcomes["swing"] += 1
            return
        if not isinstance(result, NormsError):
            self.outcomes["neither"] += 1
            self.broken.append(f"{name}: ended as {type(result).__name__}")
            return
        self.outcomes[result.code] += 1
        message = result.message
        if not message.startswith(name) or "\n" in message or not 20 < len(message) < 600:
            self.broken.append(f"{name}: unclear refusal: {message[:200]!r}")
        if result.code in SHIELDED:
            self.shielded.setdefault(result.code, []).append(f"{name}: {message}")
            if self._keep is not None:
                self._keep.joinpath(name).write_bytes(work.path.read_bytes())

    def read_log(self, log: Path) -> None:
        for line in log.read_text().splitlines() if log.exists() else ():
            name, took, peak = line.split("\t")
            self.longest = max(self.longest, (float(took), name))
            self.largest = max(self.largest, (float(peak), name))
            if float(took) > self._allowed.get(name, 0.0) + SLACK_S:
                self.broken.append(f"{name}: took {took} s")
            if float(peak) > Limits().memory_bytes / 1e6:
                self.broken.append(f"{name}: took {peak} MB")

    def document(self, seed: int, seconds: float) -> dict:
        return {
            "files": self.outcomes.total(),
            "seed": seed,
            "seconds": round(seconds, 1),
            "longest_s": self.longest[0],
            "longest": self.longest[1],
            "most_mb": self.largest[0],
            "largest": self.largest[1],
            "outcomes": dict(self.outcomes.most_common()),
            "shielded": self.shielded,
            "broken": self.broken,
        }


def main() -> int:
    """Run from the command line."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--files", type=int, default=10_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--workers", type=int, default=2)
    options.add_argument("--keep", type=Path, help="folder for files that needed the shield")
    options.add_argument("--corpus", type=Path, help="folder of files to read instead")
    given = options.parse_args()
    report = run(given.files, given.seed, given.workers, given.keep, given.corpus)
    print(json.dumps(report, indent=1))
    return 1 if report["broken"] else 0


if __name__ == "__main__":
    sys.exit(main())
