"""One small tree of errors. Each carries a short code, and a message that says what to do."""

from dataclasses import dataclass
from typing import Literal


class NormsError(Exception):
    """Anything this project refuses, with a message fit to be shown to a person.

    Parameters
    ----------
    message : str
        One sentence naming the thing, what was found, what is allowed and what to do.
    code : str
        Short stable word for the kind of refusal, used in tables and tests.
    """

    def __init__(self, message: str, *, code: str = "refused") -> None:
        super().__init__(message)
        self.message = message
        self.code = code

    def __reduce__(self) -> tuple[object, ...]:
        # Keyword-only arguments do not survive the default pickling between processes.
        return (_rebuild, (type(self), self.message, self.code))


def _rebuild(kind: type[NormsError], message: str, code: str) -> NormsError:
    return kind(message, code=code)


class CaptureRefused(NormsError):
    """A capture file that cannot be read, or contradicts its profile."""


class SwingRefused(NormsError):
    """A capture that was read but does not hold one whole, usable swing."""


class TableRefused(NormsError):
    """A roster, handicap or ball-speed table with a fault; the message names line and column."""


class ProfileRefused(NormsError):
    """A lab profile that is not valid."""


class StoreRefused(NormsError):
    """A store that is busy, missing, too new, or does not hold what was asked for."""


class CohortRefused(NormsError):
    """A cohort that cannot be built, or is too small for what was asked."""


class StandardRefused(NormsError):
    """A standard that its evidence does not bear, or a step that its life does not allow."""


class StudyRefused(NormsError):
    """A study file, or a mapping of a table of features, that is not valid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A warning that travels with an accepted swing.

    Attributes
    ----------
    code : str
        Short stable word, e.g. ``"gap_filled"``.
    message : str
        One sentence for a person.
    severity : {"note", "warning"}
        ``"note"`` records a method or a stand-in; ``"warning"`` turns the outcome of a file
        into "accepted with warnings".
    """

    code: str
    message: str
    severity: Literal["note", "warning"] = "warning"
