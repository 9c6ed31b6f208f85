"""Progress on standard error: bars on a terminal, one line a step elsewhere."""

import sys
from collections.abc import Callable
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bars

Report = Callable[[int, int], None]
"""Called with how many are done and how many there are in all."""


class Progress:
    """Steps of a run; use as a context manager."""

    def __init__(self) -> None:
        self._plain = not sys.stderr.isatty()
        self._bars = Bars(
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            TimeElapsedColumn(),
            console=Console(stderr=True),
            disable=self._plain,
        )

    def __enter__(self) -> Self:
        self._bars.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._bars.stop()

    def step(self, words: str) -> Report:
        """Begin a step and return the function that reports how far it has come."""
        if self._plain:
            return _plain_report(words)
        task = self._bars.add_task(words, total=None)

        def report(done: int, total: int) -> None:
            self._bars.update(task, completed=done, total=total)

        return report


def _plain_report(words: str) -> Report:
    """Say the step once, then every quarter of the way."""
    print(f"{words} …", file=sys.stderr, flush=True)
    quarter = 0

    def report(done: int, total: int) -> None:
        nonlocal quarter
        reached = 4 * done // total if total else 4
        if reached > quarter:
            quarter = reached
            print(f"{words}: {done} of {total}", file=sys.stderr, flush=True)

    return report
