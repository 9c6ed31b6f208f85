"""What one file may take, and the word by which a worker says that it can begin."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

READY: Final = "ready"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What reading and processing one file may take.

    Attributes
    ----------
    seconds : float
        For any file; a large one gets a second more for every 2 MB.
    memory_bytes : int
        Beyond what the worker holds before it begins.
    """

    seconds: float = 2.0
    memory_bytes: int = 500_000_000

    def seconds_for(self, path: Path) -> float:
        """Seconds that this file may take."""
        return self.seconds + path.stat().st_size / 2_000_000
