"""What stands out of a placement: at most three findings, each deciding its own words and mark."""

from dataclasses import dataclass
from typing import Final, Literal

MOST_FINDINGS: Final = 3

Strength = Literal["unusual", "very unusual"]
Side = Literal["above", "below"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One feature in which a golfer lies outside the peers by more than the golfer's own noise.

    Everything said or drawn of it comes from these fields.

    Attributes
    ----------
    feature : str
    side : {"above", "below"}
        Of the peers' middle.
    strength : {"unusual", "very unusual"}
    value : float
        Mean of the golfer's swings, in the catalogue's unit.
    error : float or None
        Standard error of that mean; None where the edition has no noise budget.
    middle : float
        Mean of the peers.
    peers, beyond : int
        Peers with the feature, and those whom the value passes on its side.
    p : float
        Crawford and Howell's, two-sided.
    swings : int
    ball_speed : str or None
        How it goes with ball speed, where a study has an answer.
    note : str or None
        The academy's own coaching note.
    """

    feature: str
    side: Side
    strength: Strength
    value: float
    error: float | None
    middle: float
    peers: int
    beyond: int
    p: float
    swings: int
    ball_speed: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoachingNote:
    """A note of the academy's own for a feature on one side.

    Attributes
    ----------
    feature : str
    side : {"above", "below"}
    text : str
    """

    feature: str
    side: Side
    text: str
