"""How many swings, on how many days, within what window a standard may ask a review to take."""

from typing import Final

from norms.errors import StandardRefused

MOST_SWINGS: Final = 30
"""Swings beyond which a review asks too much of anybody's back: our choice."""
LONGEST_WINDOW_DAYS: Final = 730
"""Days after which a swing says little of how a golfer moves now: two years, our choice."""


def refuse_plan(swings: int, days: int, window_days: int) -> None:
    """Refuse a plan that contradicts itself or that no review could keep.

    Raises
    ------
    StandardRefused
        ``plan`` or ``window``.
    """
    for key, asked, largest, code in (
        ("swings", swings, MOST_SWINGS, "plan"),
        ("window_days", window_days, LONGEST_WINDOW_DAYS, "window"),
    ):
        if asked > largest:
            raise StandardRefused(
                f"{key} {asked}: at most {largest} are allowed; correct it", code=code
            )
    if min(swings, days, window_days) < 1 or days > swings or days > window_days:
        raise StandardRefused(
            f"{swings} swings on {days} days within {window_days} days: each must be 1 or more, "
            "and there can be no more days than swings, nor than days of the window",
            code="plan",
        )
