"""What became of one file that was collected."""

from dataclasses import dataclass
from typing import Literal

OutcomeStatus = Literal["accepted", "accepted_with_warnings", "rejected", "duplicate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOutcome:
    """One line of a collecting run.

    Attributes
    ----------
    source : str
        Path as given.
    lab : str
    status : {"accepted", "accepted_with_warnings", "rejected", "duplicate"}
    code : str
        Short stable word for the reason, ``"ok"`` where there is nothing to say.
    message : str
        One sentence for a person.
    swing : str or None
        Code of the stored swing (for a duplicate, of the one stored before).
    content_hash : str
        SHA-256 of the file's bytes; empty where it could not be read.
    """

    source: str
    lab: str
    status: OutcomeStatus
    code: str
    message: str
    swing: str | None = None
    content_hash: str = ""
