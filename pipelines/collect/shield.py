"""Keeps a collecting run alive whatever a file does to its reader.

Compiled readers can crash, hang or swallow all memory on a damaged file. So files are read in
worker processes with limits; a worker that dies is replaced and its file refused.
"""

import os
import signal
import subprocess
import sys
import tempfile
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import suppress
from multiprocessing import Pipe
from multiprocessing.connection import wait
from typing import Any, Final, Self

from norms.errors import CaptureRefused, NormsError
from norms.records import Swing
from pipelines.collect.file_work import READY, FileWork, Limits
from pipelines.collect.profile import Profile

WAITING: Final = 8
"""Files given to a worker at once: enough that none is idle while a batch is being stored."""
AHEAD: Final = 64
"""Files that may be finished ahead of one that takes long, since results keep their order."""


def shielded_swing(
    work: FileWork,
    profile: Profile,
    *,
    limits: Limits | None = None,
    job: str = "pipelines.collect.work:swing_of",
) -> Swing:
    """One capture file to a swing, shielded; ``job`` as in ``WorkerPool``.

    Raises
    ------
    CaptureRefused, SwingRefused
        With a message that begins with the file's name; besides those of the readers the codes
        ``reader_hung``, ``reader_crashed``, ``reader_memory`` and ``reader_failed``.
    """
    with WorkerPool(profile, workers=1, limits=limits, job=job) as pool:
        ((_, result),) = pool.run([work])
    if isinstance(result, NormsError):
        raise result
    swing: Swing = result
    return swing


class WorkerPool:
    """Worker processes that do one job on many files; use it as a context manager.

    Parameters
    ----------
    given : object
        What every call of the job is given besides the work: the profile.
    workers : int
        Largest number of processes, at least 1; they are started when there is work for them.
    limits : Limits, optional
    job, prepare : str
        ``module:function`` of the job, ``job(work, given)``, and of what loads its libraries
        before the clock runs, ``prepare(work)``.
    """

    def __init__(
        self,
        given: object,
        *,
        workers: int,
        limits: Limits | None = None,
        job: str = "pipelines.collect.work:swing_of",
        prepare: str = "pipelines.collect.work:load_libraries",
    ) -> None:
        self._opening = (job, prepare, given, limits or Limits())
        self._most = workers
        self._workers: list[_Worker] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self._workers:
            worker.stop()

    def run(self, items: Iterable[Any]) -> Iterator[tuple[Any, Any]]:
        """Yield each item with its result or refusal, in the order of the items.

        An item that is not ``FileWork`` passes through, in its place, with the result None. Items
        are drawn as workers fall free, so that a generator may prepare them meanwhile.
        """
        source = enumerate(items)
        finished: dict[int, tuple[Any, Any]] = {}
        following, exhausted = 0, False
        while True:
            while not exhausted and self._has_room() and len(finished) < AHEAD:
                index, item = next(source, (-1, None))
                if index < 0:
                    exhausted = True
                elif isinstance(item, FileWork):
                    self._free_worker().give(index, item)
                else:
                    finished[index] = (item, None)
            while following in finished:
                yield finished.pop(following)
                following += 1
            busy = [worker for worker in self._workers if worker.pending]
            if exhausted and not busy:
                return
            told = wait([worker.connection for worker in busy]) if busy else ()
            for worker in busy:
                if worker.connection in told:
                    finished.update(self._answer(worker))

    def _has_room(self) -> bool:
        return sum(len(worker.pending) for worker in self._workers) < WAITING * self._most

    def _free_worker(self) -> "_Worker":
        """The worker with least to do, a new one where all are at work and one more may be."""
        if len(self._workers) < self._most and all(worker.pending for worker in self._workers):
            self._workers.append(_Worker(self._opening))
        return min(self._workers, key=lambda worker: len(worker.pending))

    def _answer(self, worker: "_Worker") -> dict[int, tuple[Any, Any]]:
        """What a worker has to say: a result, nothing yet, or that it died of a file."""
        try:
            answer = worker.connection.recv()
        except (EOFError, ConnectionResetError):
            return self._replace(worker)
        if answer == READY:
            worker.ready = True
            return {}
        index, item = worker.pending.popleft()
        return {index: (item, _named(item, answer))}

    def _replace(self, worker: "_Worker") -> dict[int, tuple[Any, Any]]:
        index, item = worker.pending.popleft()
        refusal = worker.cause_of_death(item)
        successor = _Worker(self._opening)
        self._workers[self._workers.index(worker)] = successor
        for waiting_index, waiting in worker.pending:
            successor.give(waiting_index, waiting)
        worker.stop()
        return {index: (item, refusal)}


class _Worker:
    """One process, its connection and the files it holds, first the one it is at."""

    def __init__(self, opening: tuple[Any, ...]) -> None:
        self.pending: deque[tuple[int, FileWork]] = deque()
        self.ready = False
        self._complaints = tempfile.TemporaryFile()  # noqa: SIM115 (closed by stop)
        self.connection, theirs = Pipe()
        with theirs:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "pipelines.collect.worker", str(theirs.fileno())],
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=self._complaints,
                # One file needs no threads, and several workers would fight over the cores.
                env={**os.environ, **dict.fromkeys(_THREADS, "1")},
            )
        self.connection.send(opening)

    def give(self, index: int, item: FileWork) -> None:
        self.pending.append((index, item))
        # One that has died is found out when its answer is awaited.
        with suppress(BrokenPipeError, ConnectionResetError):
            self.connection.send(item)

    def cause_of_death(self, item: FileWork) -> CaptureRefused:
        status = self._process.wait()
        if not self.ready:
            self._complaints.seek(0)
            last = self._complaints.read().decode(errors="replace").strip().splitlines()[-1:]
            raise RuntimeError(f"a worker process cannot start: {' '.join(last) or status}")
        name = item.path.name
        if status in (-signal.SIGPROF, -signal.SIGALRM):
            return CaptureRefused(
                f"{name}: reading does not come to an end; the file is damaged", code="reader_hung"
            )
        cause = signal.Signals(-status).name if status < 0 else f"exit {status}"
        return CaptureRefused(
            f"{name}: reading breaks down ({cause}); the file is damaged", code="reader_crashed"
        )

    def stop(self) -> None:
        self.connection.close()
        self._process.kill()
        self._process.wait()
        self._complaints.close()


_THREADS: Final = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def _named(item: FileWork, answer: Any) -> Any:
    """A refusal begins with the file's name, whoever gave it."""
    name = item.path.name
    if isinstance(answer, NormsError) and not answer.message.startswith(name):
        return type(answer)(f"{name}: {answer.message}", code=answer.code)
    return answer
