"""A roster read in by a person, with what it changes for swings that are stored already."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipelines.erased_codes import refuse_unsigned
from pipelines.import_tables import import_roster
from pipelines.roles import NOT_STATED
from pipelines.store import Store
from pipelines.store.door import HandedSwing


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterRead:
    """What came of a roster.

    Attributes
    ----------
    golfers : int
    other_hand : tuple of HandedSwing
        Stored swings, by golfer and code, of golfers whose hand the roster changed, that were
        read from the other side: thrust has its sign by the hand, so they are to be read again.
    """

    golfers: int
    other_hand: tuple[HandedSwing, ...]


def read_roster(
    store: Store,
    roster: Path,
    handicaps: Path | None = None,
    *,
    again: Sequence[str] = (),
    who: str = NOT_STATED,
    why: str = "",
) -> RosterRead:
    """Read a roster into a store, as `import_roster` does, and say what it changes.

    Parameters
    ----------
    store : Store
    roster : Path
    handicaps : Path or None
    again : sequence of str
        Codes of erased golfers that are let in again; then who and why are needed.
    who, why : str

    Raises
    ------
    TableRefused
        Naming every fault of both tables.
    NormsError
        ``not_erased`` or ``again_unsigned``.
    """
    refuse_unsigned(again, who=who, why=why)
    before = {code: golfer.hand for code, golfer in store.golfers().items()}
    count = import_roster(store, roster, handicaps, again=again, who=who, why=why)
    hands = {code: golfer.hand for code, golfer in store.golfers().items()}
    changed = [code for code, hand in before.items() if hands[code] != hand]
    other = tuple(one for one in store.door.hands(changed) if one.hand != hands[one.golfer])
    return RosterRead(golfers=count, other_hand=other)
