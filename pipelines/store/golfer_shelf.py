"""What the store keeps of single golfers beside their swings: event marks."""

from collections.abc import Sequence

from norms.errors import StoreRefused
from norms.records import Swing
from norms.records.progress import GolferEvent
from pipelines.store.database import Database
from pipelines.store.many_swings import many_swings


class GolferShelf:
    """Event marks of golfers, and their swings read together.

    Parameters
    ----------
    database : Database
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    def mark(self, event: GolferEvent) -> int:
        """Keep an event mark, and return its number.

        Raises
        ------
        StoreRefused
            ``golfer_unknown``.
        """
        if event.golfer not in {row[0] for row in self._database.rows("golfers")}:
            raise StoreRefused(
                f"golfer {event.golfer}: is not on the roster; check the code",
                code="golfer_unknown",
            )
        said = (event.golfer, event.day, event.kind, event.note, event.health)
        number: int = self._database.rows("add_golfer_event", said)[0][0]
        return number

    def events(self, golfer: str) -> list[GolferEvent]:
        """Event marks of one golfer, by day."""
        return [
            GolferEvent(golfer=code, day=day, kind=kind, note=note, health=bool(health))
            for code, day, kind, note, health in self._database.rows("golfer_events", (golfer,))
        ]

    def marked(self) -> list[str]:
        """Codes of the golfers of whom anything is marked."""
        return [code for (code,) in self._database.rows("marked_golfers")]

    def swing_owners(self) -> dict[str, tuple[str, str]]:
        """Golfer and club of every stored swing, by its code; nothing else of it is read."""
        return {code: (who, club) for code, who, club in self._database.rows("swing_owners")}

    def swings(self, codes: Sequence[str]) -> dict[str, Swing]:
        """Stored swings by code, read together.

        Raises
        ------
        StoreRefused
            ``swing_unknown``.
        """
        return many_swings(self._database, codes)
