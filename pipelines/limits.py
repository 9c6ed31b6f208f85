"""What is within reason: days, counts, sizes and lengths that a file or an option may ask for.

Every limit that is not a fact of golf or of the body stands here; those of the body and of ball
and club stand beside the tables that read them, those of a review's plan in
`norms.standards.review_plan`. Each is set well beyond what an academy needs
and well below what would hang the program or break a date, and is our own choice.
"""

from datetime import date, timedelta
from typing import Final

EARLIEST_DAY: Final = date(1950, 1, 1)
"""Before the first film of a swing that anybody would measure today."""
ZONE_DAYS: Final = 1
"""A day may be this far ahead: on the other side of the date line it is tomorrow already."""
YEARS_AHEAD: Final = 10
"""How far ahead a day to come may lie, such as that of a standard's review."""
OLDEST: Final = 120
"""Years of age."""

LARGEST_SMALLEST_CELL: Final = 1_000
"""Golfers: an academy that asks for more has no cell left to show."""
MOST_GOLFERS: Final = 1_000_000
MOST_SWINGS_OF_CELL: Final = 1_000_000_000
LARGEST_EXPORT: Final = 1_000_000_000
"""Bytes of one table of an exported edition."""
MOST_EXPORTED_ROWS: Final = 20_000_000
LARGEST_TABLE: Final = 100_000_000
"""Bytes of a table in CSV; a roster of 10,000 golfers has half a megabyte."""
MOST_ROWS: Final = 1_000_000
MOST_COLUMNS: Final = 2_000
LONGEST_CELL: Final = 10_000
"""Characters."""
LARGEST_SEED: Final = 2**32 - 1
MOST_WORKERS: Final = 256
MOST_LOOKS: Final = 1_000_000
MOST_ACTS: Final = 1_000_000_000
"""Lines of a log."""
LARGEST_DEMO: Final = 20_000
"""Golfers of an invented academy; its captures then fill some 100 GB."""
LONGEST_CAPTURE_S: Final = 3_600.0
MOST_LEVELS: Final = 50
MOST_CLUBS: Final = 200
LONGEST_NAME: Final = 64
"""Characters of a golfer's code, a club, a role."""
LONGEST_LINE: Final = 2_000
"""Characters of one line of a refusal on the terminal."""
LONGEST_SENTENCE: Final = 2_000
"""Characters of a reason or a note on the command line."""
LARGEST_MEASURED: Final = 1e12
"""Of a column of a table of features, which may have any unit."""
LARGEST_VALUE: Final = 1e6
"""Of a feature or of a limit of one, in any of its units."""


def latest_day(today: date | None = None) -> date:
    """Last day on which something can have happened already, anywhere on earth."""
    return (today or date.today()) + timedelta(days=ZONE_DAYS)


def last_day_ahead(today: date | None = None) -> date:
    """Last day that a plan may name."""
    now = today or date.today()
    return date(now.year + YEARS_AHEAD, now.month, min(now.day, 28))


def past_day_fault(
    day: date, *, today: date | None = None, birth_year: int | None = None
) -> str | None:
    """Why nothing can have happened on a day, and what to do; None where it can.

    Parameters
    ----------
    day : datetime.date
    today : datetime.date, optional
        By the computer's clock where left out.
    birth_year : int or None
        Of the golfer to whom it happened.
    """
    last = latest_day(today)
    if day > last:
        return f"is after today, {today or date.today()}; correct it, or the computer's clock"
    if day < EARLIEST_DAY:
        return f"is before {EARLIEST_DAY}; correct it"
    if birth_year is not None and day.year < birth_year:
        return f"is before the golfer was born ({birth_year} on the roster); correct one of them"
    return None


def planned_day_fault(day: date, *, today: date | None = None) -> str | None:
    """Why a plan may not name a day, and what to do; None where it may."""
    last = last_day_ahead(today)
    if not EARLIEST_DAY <= day <= last:
        return f"allowed is {EARLIEST_DAY} to {last}, {YEARS_AHEAD} years ahead; correct it"
    return None
