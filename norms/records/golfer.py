"""A golfer: a code and the facts a cohort may ask for. Names are never held."""

from bisect import bisect_right
from dataclasses import dataclass
from datetime import date

from norms.vocabulary import Hand, Sex


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedHandicap:
    """Handicap index from a day on; plus handicaps are negative (+2.4 is -2.4)."""

    since: date
    index: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Golfer:
    """One golfer of the roster.

    Attributes
    ----------
    code : str
    sex : {"female", "male"} or None
    birth_year : int or None
    hand : {"right", "left"}
    height_cm, mass_kg : float or None
    professional : bool
        A playing professional: has a level of their own and no handicap.
    consents_norms : bool
        Whether the golfer (a junior's guardian) agreed that the swings enter norms.
    needs_guardian : bool
        Whether they did not only because no guardian of a golfer under age has said so yet.
    handicaps : tuple of DatedHandicap
        In order of date; empty for golfers without a handicap.
    """

    code: str
    hand: Hand
    sex: Sex | None = None
    birth_year: int | None = None
    height_cm: float | None = None
    mass_kg: float | None = None
    professional: bool = False
    consents_norms: bool = True
    needs_guardian: bool = False
    handicaps: tuple[DatedHandicap, ...] = ()

    def handicap_on(self, day: date) -> float | None:
        """Handicap index as it was on ``day``: the newest dated on or before it, else None."""
        place = bisect_right([entry.since for entry in self.handicaps], day)
        return self.handicaps[place - 1].index if place else None
