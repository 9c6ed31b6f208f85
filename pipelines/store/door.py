"""What the store knows that newcomers are held against: its clubs, and from which side it read."""

from collections.abc import Sequence
from dataclasses import dataclass

from norms.vocabulary import Hand
from pipelines.store.database import Database


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedSwing:
    """From which side a stored swing was read."""

    golfer: str
    swing: str
    source: str
    hand: Hand


class Door:
    """Questions that are asked before something new is let in; nothing is written."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def clubs(self) -> list[str]:
        """Every club of a stored swing, in order of name."""
        return [club for (club,) in self._database.rows("stored_clubs")]

    def collected_before(self) -> bool:
        """Whether a collecting run ever came to its end."""
        return bool(self._database.rows("finished_runs")[0][0])

    def hands(self, golfers: Sequence[str]) -> list[HandedSwing]:
        """Swings of some golfers with the side they were read from, by golfer and code."""
        if not golfers:
            return []
        return [
            HandedSwing(golfer=golfer, swing=code, source=source, hand=hand)
            for golfer, code, source, hand in self._database.rows(
                "swings_by_hand", (list(golfers),)
            )
        ]
