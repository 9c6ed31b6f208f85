"""Progress: sessions of one golfer, and which of their changes are more than noise."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from norms.records._arrays import FloatArray, freeze_fields
from norms.vocabulary import AXES, NODES

Verdict = Literal["real", "within noise", "not enough swings", "cannot be judged"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GolferEvent:
    """Something of a golfer's life that may explain a change.

    Attributes
    ----------
    golfer : str
    day : datetime.date
    kind : str
        In the academy's own words, e.g. ``"lesson"``, ``"injury"``, ``"new driver"``.
    note : str or None
    health : bool
        Whether it concerns the golfer's health, and is read by those alone who may.
    """

    golfer: str
    day: date
    kind: str
    note: str | None = None
    health: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSummary:
    """A golfer's day in a lab with one club."""

    day: date
    lab: str
    swings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureChange:
    """One feature between two sessions.

    Attributes
    ----------
    feature : str
    first, last : float
        Session means, in the catalogue's unit.
    change : float
    needed : float or None
        Smallest change told from noise of swings and days at these numbers of swings.
    expected : float or None
        Change expected with nothing done, because an unusual session is followed by a less
        unusual one.
    expected_low, expected_high : float or None
        Range of change that noise and this return allow.
    retest : float or None
        Correlation of two sessions of golfers' means, at this number of swings.
    verdict : {"real", "within noise", "not enough swings", "cannot be judged"}
    more_swings : int or None
        Swings to be added to the last session for this change, should it stay, to be told.
    """

    feature: str
    first: float
    last: float
    change: float
    needed: float | None
    expected: float | None
    expected_low: float | None
    expected_high: float | None
    retest: float | None
    verdict: Verdict
    more_swings: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Progress:
    """Sessions of one golfer with one club, and the changes between two of them.

    Attributes
    ----------
    golfer, club, edition : str
    cohort_label : str
    peers : int
    sessions : tuple of SessionSummary
        By day.
    events : tuple of GolferEvent
        By day.
    compared : tuple of 2 int
        Places of the two sessions compared.
    changes : tuple of FeatureChange
        In the catalogue's order.
    first_cm, last_cm : ndarray, shape (3, 301)
        Mean curves of the two sessions.
    own_low_cm, own_high_cm : ndarray, shape (3, 301)
        The golfer's own band: where nine in ten of this golfer's swings lie at each node.
    peers_share : float or None
        Share of golfers' means in the peers' band: the widest that so many peers support; None
        where they support none.
    peers_low_cm, peers_high_cm : ndarray, shape (3, 301)
        Ends of that band at each node; NaN where there is none.
    own_deviation_cm : tuple of float
        Overall deviation from the peers of each session.
    cautions : tuple of str
    """

    golfer: str
    club: str
    edition: str
    cohort_label: str
    peers: int
    sessions: tuple[SessionSummary, ...]
    events: tuple[GolferEvent, ...]
    compared: tuple[int, int]
    changes: tuple[FeatureChange, ...]
    first_cm: FloatArray
    last_cm: FloatArray
    own_low_cm: FloatArray
    own_high_cm: FloatArray
    peers_share: float | None
    peers_low_cm: FloatArray
    peers_high_cm: FloatArray
    own_deviation_cm: tuple[float, ...]
    cautions: tuple[str, ...]

    def __post_init__(self) -> None:
        curves = ("first_cm", "last_cm", "own_low_cm", "own_high_cm", "peers_low_cm")
        freeze_fields(self, dict.fromkeys((*curves, "peers_high_cm"), (len(AXES), NODES)))
