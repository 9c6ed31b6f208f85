"""The days on which the academy's labs are open, and the session that went wrong."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from demo_data.labs import LAB_KEYS

SEASONS = ((date(2025, 3, 1), 240), (date(2026, 3, 1), 228))
"""First day of a season and its length in days."""
GOLFERS_PER_DAY = 15
FEWEST_DAYS, MOST_DAYS = 5, 20
"""Days of a lab in a season: fewer where there are fewer golfers to come."""
ASKEW_DEG = 14.0
"""How far every point of one session is turned about the vertical, from the target away from a
right-hander's ball: the frame that sets the lab's axes lay askew. No file of that day shows it;
the golfers' other days do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """When the labs are open.

    Attributes
    ----------
    days : Mapping of str to tuple of tuple of datetime.date
        By lab, then by season, in order.
    askew : (str, datetime.date)
        Lab and day of the session whose axes were set askew.
    """

    days: Mapping[str, tuple[tuple[date, ...], ...]]
    askew: tuple[str, date]

    def every_day(self, lab: str) -> tuple[date, ...]:
        """All days of a lab in order."""
        return tuple(day for season in self.days[lab] for day in season)


def calendar_for(golfers: int) -> Calendar:
    """Days of both labs for so many golfers: evenly over each season, the labs in turn."""
    count = min(max(golfers // GOLFERS_PER_DAY, FEWEST_DAYS), MOST_DAYS)
    days = {
        lab: tuple(
            tuple(
                first + timedelta(days=length * (len(LAB_KEYS) * place + turn) // _slots(count))
                for place in range(count)
            )
            for first, length in SEASONS
        )
        for turn, lab in enumerate(LAB_KEYS)
    }
    second_season = days[LAB_KEYS[1]][1]
    return Calendar(days=days, askew=(LAB_KEYS[1], second_season[count // 3]))


def _slots(count: int) -> int:
    return count * len(LAB_KEYS)
