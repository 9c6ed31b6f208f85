"""One file that is to be read, and the limits on it: what goes from the shield to a worker.

Apart from the work itself, so that only the worker loads the libraries that the work needs.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from norms.records import EventCorrection, SwingLabel
from norms.vocabulary import Hand

READY: Final = "ready"
"""What a worker says when it can begin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileWork:
    """A capture file that is to become a swing.

    Attributes
    ----------
    path : Path
    label : SwingLabel
    hand : {"right", "left"}
        The side the golfer plays from, as declared.
    corrections : tuple of EventCorrection
        A person's word on the file's events.
    """

    path: Path
    label: SwingLabel
    hand: Hand
    corrections: tuple[EventCorrection, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What reading and processing one file may take.

    Attributes
    ----------
    seconds : float
        Of the processor's time, for any file; a large one gets a second more for every 2 MB.
    memory_bytes : int
        Beyond what the worker holds before it begins.
    """

    seconds: float = 2.0
    memory_bytes: int = 500_000_000

    def seconds_for(self, path: Path) -> float:
        """Seconds of the processor's time that this file may take."""
        return self.seconds + path.stat().st_size / 2_000_000
