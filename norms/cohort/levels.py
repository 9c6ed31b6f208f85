"""Levels of play: the academy's own table, and which level a golfer has on a day."""

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import Any, Final

from norms.errors import CohortRefused
from norms.records import Edition, Golfer, Level
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST

ALL_LEVELS: Final = "all"
"""Last word of the key of a cohort of every level; no level may have it."""

DEFAULT_LEVELS: Final[tuple[Level, ...]] = (
    Level(key="scratch", label="handicap 0 or better", to=0.0),
    Level(key="to_5", label="handicap over 0, to 5", above=0.0, to=5.0),
    Level(key="to_12", label="handicap over 5, to 12", above=5.0, to=12.0),
    Level(key="to_20", label="handicap over 12, to 20", above=12.0, to=20.0),
    Level(key="to_36", label="handicap over 20, to 36", above=20.0, to=36.0),
    Level(key="above_36", label="handicap over 36", above=36.0),
    Level(key="none", label="no handicap", kind="none"),
    Level(key="professional", label="playing professional", kind="professional"),
)


def check_levels(levels: Sequence[Level]) -> None:
    """Make sure that every golfer has exactly one level of a table.

    Parameters
    ----------
    levels : sequence of Level
        In any order.

    Raises
    ------
    CohortRefused
        If a key is repeated or not a plain word, if the handicap levels leave a gap or overlap,
        or if there is not exactly one level without a handicap and one for professionals.
    """
    keys = [level.key for level in levels]
    for key in keys:
        if not key or "/" in key or key == ALL_LEVELS or keys.count(key) > 1:
            raise _refused(f"the key {key!r} is empty, reserved, repeated or holds a '/'")
    for kind in ("none", "professional"):
        count = sum(level.kind == kind for level in levels)
        if count != 1:
            raise _refused(f"{count} levels of kind {kind!r}, exactly 1 is needed")
    if len([level for level in levels if level.kind == "handicap"]) != len(levels) - 2:
        raise _refused("a kind is none of 'handicap', 'none', 'professional'")
    _check_handicaps(levels)


def _check_handicaps(levels: Sequence[Level]) -> None:
    """Handicap levels, from the lowest, must each begin where the one before ends."""
    lowest = float("-inf")
    rising = sorted(
        (level for level in levels if level.kind == "handicap"),
        key=lambda level: lowest if level.above is None else level.above,
    )
    if not rising or rising[0].above is not None or rising[-1].to is not None:
        raise _refused("the lowest handicap level must be open below and the highest open above")
    for before, after in pairwise(rising):
        if before.to is None or after.above is None or before.to != after.above:
            raise _refused(
                f"{before.key!r} ends at {before.to} and {after.key!r} begins above "
                f"{after.above}: they must meet without a gap or an overlap"
            )
        if after.to is not None and not after.above < after.to:
            raise _refused(f"{after.key!r} runs from {after.above} to {after.to}: nobody fits")


def levels_in(edition: Edition) -> tuple[Level, ...]:
    """The table of levels that an edition was built with."""
    stated: Any = edition.parameters["levels"]
    return tuple(Level(**level) for level in stated)


def level_for(
    handicap: float | None, levels: Sequence[Level], *, professional: bool = False
) -> Level:
    """Level of a handicap index.

    Parameters
    ----------
    handicap : float or None
        Handicap index, plus handicaps negative; None for a golfer without one.
    levels : sequence of Level
        A table that `check_levels` accepts.
    professional : bool
        A playing professional, whatever the handicap.

    Returns
    -------
    Level

    Raises
    ------
    CohortRefused
        If the handicap lies outside what the handicap system knows.
    """
    if professional:
        return next(level for level in levels if level.kind == "professional")
    if handicap is None:
        return next(level for level in levels if level.kind == "none")
    if not HANDICAP_LOWEST <= handicap <= HANDICAP_HIGHEST:
        raise CohortRefused(
            f"handicap {handicap}: allowed is {HANDICAP_LOWEST} (a plus handicap of "
            f"{-HANDICAP_LOWEST:g}) to {HANDICAP_HIGHEST}; correct it",
            code="handicap",
        )
    return next(
        level
        for level in levels
        if level.kind == "handicap"
        and (level.above is None or handicap > level.above)
        and (level.to is None or handicap <= level.to)
    )


def level_of(golfer: Golfer, day: date, levels: Sequence[Level] = DEFAULT_LEVELS) -> Level:
    """Level of a golfer as it was on a day.

    Parameters
    ----------
    golfer : Golfer
    day : datetime.date
        Day of the swing; the handicap dated last on or before it counts.
    levels : sequence of Level
        A table that `check_levels` accepts.

    Returns
    -------
    Level

    Raises
    ------
    CohortRefused
        If the handicap lies outside what the handicap system knows.
    """
    handicap = golfer.handicap_on(day)
    return level_for(handicap, levels, professional=golfer.professional)


def _refused(why: str) -> CohortRefused:
    return CohortRefused(f"table of levels: {why}; correct the table", code="levels")
