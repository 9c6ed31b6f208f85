"""What is done to a store, as its log says it."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import TypedDict

from pipelines.roles import NOT_STATED


@dataclass(slots=True, kw_only=True)
class Act:
    """One act: what a job does within one transaction, and its line in the log.

    Attributes
    ----------
    action : str
        E.g. ``"build"``.
    who : str
        A role.
    why : str
        Codes of golfers in it stand in the log as their pseudonyms.
    golfer : str or None
        Code of whom it concerns: the log holds the golfer's pseudonym.
    details : dict of str to plain JSON values
        Counts, hashes, names of editions; never a code of a golfer or a swing.
    can_undo : bool
        Whether the old state of what it changes is kept, so that it can be undone.
    silent_unchanged : bool
        Whether it leaves no line in the log where nothing is changed by it.
    swings : set of str or None
        Codes of the only swings whose rows it changes, where that is known: others need not be
        read to find out.
    binds_anew : bool
        Whether its line binds every table, under a new key: an erasure, after which no digest from
        before may say anything.
    at : datetime.datetime or None
        With a zone; now by default.
    touched : dict of str to bool
        Tables written to, and whether rows were taken away there or only added.
    """

    action: str
    who: str = NOT_STATED
    why: str = ""
    golfer: str | None = None
    details: dict[str, object] = field(default_factory=dict)
    can_undo: bool = True
    silent_unchanged: bool = False
    swings: set[str] | None = None
    binds_anew: bool = False
    at: datetime | None = None
    touched: dict[str, bool] = field(default_factory=dict)

    def say(self, **details: object) -> None:
        """Add to what the log says of it."""
        self.details.update(details)


class ActOptions(TypedDict, total=False):
    """What may be said of an act when it begins; see `Act`."""

    who: str
    why: str
    golfer: str | None
    details: dict[str, object]
    can_undo: bool
    silent_unchanged: bool
    swings: set[str] | None
    binds_anew: bool
