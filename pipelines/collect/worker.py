"""The worker process: does the work on one file after another, and may die of any of them.

Started by ``pipelines.collect.shield`` as ``python -m pipelines.collect.worker``. A module of its
own that nobody imports, so that the process is bare: no command line, no store, no figures.
"""

import os
import signal
import sys
from collections.abc import Callable
from importlib import import_module
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from norms.errors import CaptureRefused, NormsError
from pipelines.collect.file_work import READY

WAITING_FACTOR = 5.0
"""A reader that waits, on a disk or for its turn, may take so many times its processor's time."""


def main(descriptor: int) -> None:
    """Answer work with a result or a refusal until the other end closes.

    The first message is ``(job, prepare, given, limits)``: two functions as ``module:name``, what
    every call of the job is given besides the work, and the limits on a file.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # ctrl-C is for the parent to handle
    for ending in (signal.SIGPROF, signal.SIGALRM):
        signal.signal(ending, signal.SIG_DFL)
    with Connection(descriptor) as parent:
        try:
            job_name, prepare_name, given, limits = parent.recv()
            job, prepare = _function(job_name), _function(prepare_name)
            parent.send(READY)
            while True:
                work = parent.recv()
                parent.send(_limited(job, prepare, work, given, limits))
        except (EOFError, BrokenPipeError, ConnectionResetError):
            return


def _limited(
    job: Callable[[Any, Any], Any],
    prepare: Callable[[Any], None],
    work: Any,
    given: Any,
    limits: Any,
) -> Any:
    """The job's result or refusal, within limits; past the time limit the process dies."""
    try:
        prepare(work)
        _limit_memory(limits.memory_bytes)
        _limit_time(limits.seconds_for(work.path))
        return job(work, given)
    except NormsError as refusal:
        return refusal
    except MemoryError:
        said = f"reading takes more than {limits.memory_bytes // 1_000_000} MB of memory"
        return CaptureRefused(f"{said}; the file is damaged", code="reader_memory")
    except OSError as fault:
        said = fault.strerror or "cannot be read"
        return CaptureRefused(f"{said}; check the path and its rights", code="unreadable")
    except Exception as fault:
        said = f"could not be read ({type(fault).__name__}); copy or export it again"
        return CaptureRefused(said, code="reader_failed")
    finally:
        _limit_time(0.0)
        _limit_memory(None)


def _limit_time(seconds: float) -> None:
    """End the process after so much of the processor's time; 0 for no limit.

    The default action of these signals ends a process even from inside compiled code that never
    comes back to Python; the parent tells the cause from the signal. The processor's time counts,
    so that on a busy machine no sound file is refused; the clock's only where a reader waits.
    """
    signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, WAITING_FACTOR * seconds)


def _limit_memory(further_bytes: int | None) -> None:
    """Let the process take so much more than it has now; only where the system can tell."""
    import resource

    statistics = Path("/proc/self/statm")
    if not statistics.exists():
        return
    _, hard = resource.getrlimit(resource.RLIMIT_DATA)
    if further_bytes is None:
        resource.setrlimit(resource.RLIMIT_DATA, (hard, hard))
        return
    data_pages = int(statistics.read_text().split()[5])
    limit = data_pages * os.sysconf("SC_PAGE_SIZE") + further_bytes
    if hard != resource.RLIM_INFINITY:
        limit = min(limit, hard)
    resource.setrlimit(resource.RLIMIT_DATA, (limit, hard))


def _function(name: str) -> Callable[..., Any]:
    module, function = name.split(":")
    found: Callable[..., Any] = getattr(import_module(module), function)
    return found


if __name__ == "__main__":
    main(int(sys.argv[1]))
