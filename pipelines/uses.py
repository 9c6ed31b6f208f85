"""What every command uses golfers' data for, and so whose consent it asks, each time anew.

Two functions ask, and nobody else does: `pipelines.consents.consenting` (who of the roster agrees
to a purpose today) and `refuse_without_consent` (this golfer does, or the command stops); what
stands on them there is for one use each. DEVELOPERS.md shows this table, and tests hold it against
the commands and against what their jobs ask.
"""

from dataclasses import dataclass
from typing import Final

from norms.records.consent import Purpose


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What one command needs golfers to have agreed to.

    Attributes
    ----------
    purposes : tuple of str
        Every one of them is asked, of whom it concerns; empty where none is.
    because : str
        Whom each purpose is asked of, or why none is asked.
    reads_swings : bool
        Whether its job reaches swings; then ``purposes`` or ``because`` says by what right.
    """

    purposes: tuple[Purpose, ...] = ()
    because: str = ""
    reads_swings: bool = False


_NO_SWINGS: Final = "reads no swing"
_IN_HAND: Final = "a capture in the hand of who asks; nothing of it is kept"
_FROZEN: Final = (
    "a frozen edition's own numbers; whom it counts without consent today, or though left out, is "
    "said"
)
_OWN_AFFAIR: Final = (
    "whether labs and devices measure well is their own affair, and no golfer is judged; without "
    "it no number could be trusted"
)

USES: Final[dict[str, Use]] = {
    "demo": Use(
        purposes=("coaching", "norms", "research", "shown", "health"),
        because="invented people, asked like real ones",
        reads_swings=True,
    ),
    "roster": Use(because=_NO_SWINGS),
    "speeds": Use(because="numbers by swing code; who uses them asks"),
    "settings": Use(because=_NO_SWINGS),
    "profile": Use(because=_IN_HAND, reads_swings=True),
    "collect": Use(
        purposes=("coaching", "norms", "research"),
        because="who swings agrees to one of them at least",
        reads_swings=True,
    ),
    "check": Use(
        purposes=("norms",),
        because="for the labs' terms and the noise budget; the charts look at everyone: "
        + _OWN_AFFAIR,
        reads_swings=True,
    ),
    "events": Use(
        purposes=("coaching", "norms", "research"),
        because="who swings agrees to one of them at least",
        reads_swings=True,
    ),
    "hips": Use(because=_IN_HAND, reads_swings=True),
    "build": Use(purposes=("norms",), because="everyone counted", reads_swings=True),
    "exclude": Use(because="a decision to use less"),
    "exclusions": Use(because=_NO_SWINGS),
    "plan": Use(purposes=("norms",), because="whom it says to invite", reads_swings=True),
    "compare": Use(purposes=("norms",), because=_FROZEN, reads_swings=True),
    "centile": Use(purposes=("norms",), because=_FROZEN, reads_swings=True),
    "share": Use(
        purposes=("norms",),
        because="everyone counted, else refused: what is out cannot be called back",
    ),
    "import": Use(because="another academy's edition holds no golfer"),
    "adopt": Use(purposes=("norms",), because="the local golfers", reads_swings=True),
    "place": Use(
        purposes=("coaching", "norms", "shown", "health"),
        because="coaching of who is placed, where the roster knows them (of a guest nothing is "
        "kept); norms of look-alikes, shown of those of them who are named; health for the line "
        "that a note is on record",
        reads_swings=True,
    ),
    "placements": Use(purposes=("coaching",), because="whose they are"),
    "progress": Use(
        purposes=("coaching", "health"),
        because="whose it is; health for the line that a note is on record, and for its words",
        reads_swings=True,
    ),
    "mark": Use(
        purposes=("coaching", "health"),
        because="of whom it is; health where it concerns that",
        reads_swings=True,
    ),
    "patterns": Use(purposes=("norms",), because=_FROZEN, reads_swings=True),
    "peers": Use(
        purposes=("coaching", "norms"),
        because="coaching of who is held, norms of the peers",
        reads_swings=True,
    ),
    "study": Use(purposes=("research",), because="everyone studied", reads_swings=True),
    "declare": Use(because="a plan is written down; no data are looked at", reads_swings=True),
    "looks": Use(because="the register of looks"),
    "features": Use(because="a table is brought in; who asks it asks for consent"),
    "ask": Use(purposes=("norms",), because="golfers of the roster", reads_swings=True),
    "timed-speeds": Use(because="numbers by swing code; who uses them asks", reads_swings=True),
    "doubtful-speeds": Use(because=_OWN_AFFAIR),
    "export": Use(purposes=("research",), because="everyone in the frame", reads_swings=True),
    "consents": Use(purposes=("health",), because="to name notes kept without it"),
    "entries": Use(because="what was entered, for who keeps it; of health, no words"),
    "amend": Use(
        purposes=("coaching", "norms", "research"),
        because="who a capture is moved to agrees to one of them at least",
        reads_swings=True,
    ),
    "withdraw": Use(because="a decision to use less", reads_swings=True),
    "undo": Use(because="what was before; each use asks again"),
    "erase": Use(
        because="at the golfer's wish; editions are computed anew without them", reads_swings=True
    ),
    "receipts": Use(because="that somebody was erased, and not who", reads_swings=True),
    "log": Use(because=_NO_SWINGS),
    "backup": Use(because="the store as it is, consents with it"),
    "restore": Use(because="the store as it was, with the newer consents", reads_swings=True),
    "standard draft": Use(because="a frozen edition's own numbers"),
    "standard review": Use(because="a frozen edition's own numbers"),
    "standard approve": Use(because="a frozen edition's own numbers"),
    "standard retire": Use(because=_NO_SWINGS),
    "standard list": Use(because=_NO_SWINGS),
    "standard compare": Use(
        purposes=("coaching",), because="everyone held against both", reads_swings=True
    ),
    "standard check": Use(
        purposes=("coaching", "norms", "health"),
        because="coaching of everyone held; norms of new golfers in whom drift is sought; health "
        "for the line, or the count, of notes on record",
        reads_swings=True,
    ),
    "standard sheet": Use(because="a frozen edition's own numbers"),
}
