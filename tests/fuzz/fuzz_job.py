"""The worker's job, with a line for each file on what it took; imported by the worker alone."""

import os
import time
from pathlib import Path

from pipelines.collect.work import load_libraries, swing_of

LOG = "FUZZ_LOG"
STATUS = Path("/proc/self/status")


def prepare(work):
    load_libraries(work)


def timed(work, profile):
    """As in collecting; processor's seconds, and megabytes beyond the start, go to the log."""
    before, start = _megabytes("VmRSS"), time.process_time()
    _forget_peak()
    try:
        return swing_of(work, profile)
    finally:
        took, peak = time.process_time() - start, _megabytes("VmHWM") - before
        with Path(os.environ[LOG]).open("a") as log:
            log.write(f"{work.path.name}\t{took:.4f}\t{peak:.1f}\n")


def _megabytes(name: str) -> float:
    if not STATUS.exists():
        return 0.0
    line = next(line for line in STATUS.read_text().splitlines() if line.startswith(name))
    return int(line.split()[1]) / 1024


def _forget_peak() -> None:
    place = Path("/proc/self/clear_refs")
    if place.exists():
        place.write_text("5")
