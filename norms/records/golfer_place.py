"""A golfer's swings of one club held against the peers: what the placement sheet shows."""

from dataclasses import dataclass
from typing import Literal

from norms.records.findings import Finding
from norms.records.placement import Beyond, Placement
from norms.vocabulary import Axis, Phase

IntervalHolds = Literal["few swings and few golfers", "few golfers only"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurePlace:
    """A feature's percentile with all that is uncertain about it.

    Attributes
    ----------
    feature : str
    percentile, low, high : float or None
        0 to 100; 90 % interval of the share of such golfers below this golfer's own long-run
        value; None where withheld.
    holds : {"few swings and few golfers", "few golfers only"}
        What the interval allows for.
    error : float or None
        Standard error of the golfer's mean, in the catalogue's unit.
    p : float or None
        Crawford and Howell's test of one golfer against this many, two-sided, the noise of few
        swings allowed for; None, too, where the peers stayed in another academy.
    beyond : Beyond or None
        As in the `FeaturePlace`.
    """

    feature: str
    percentile: float | None
    low: float | None
    high: float | None
    holds: IntervalHolds
    error: float | None
    p: float | None
    beyond: Beyond | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPart:
    """One axis in one phase against the peers' mean curve.

    Attributes
    ----------
    axis : {"sway", "thrust", "lift"}
    phase : {"backswing", "downswing", "follow_through"}
    distance_cm : float
        Root mean square over the phase's nodes.
    signed_cm : float
        Mean difference: too far to the positive side, or to the negative one.
    shape_cm : float
        What is left of the distance without the mean difference.
    share_pct : float
        Of the sum of squared distances of all nine; the nine add to 100.
    distance_detectable_cm, signed_detectable_cm : float or None
        Smallest change between two such measurements that is more than noise.
    """

    axis: Axis
    phase: Phase
    distance_cm: float
    signed_cm: float
    shape_cm: float
    share_pct: float
    distance_detectable_cm: float | None = None
    signed_detectable_cm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileMap:
    """The signed map, three axes by three phases, and the overall deviation.

    Attributes
    ----------
    parts : tuple of 9 MapPart
        Axis by axis, phases in order.
    overall_cm : float
        Root mean square of the nine distances.
    overall_detectable_cm : float or None
    index : float or None
        100 at the peers' usual overall deviation, 10 less for each spread above it.
    """

    parts: tuple[MapPart, ...]
    overall_cm: float
    overall_detectable_cm: float | None = None
    index: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalityPlace:
    """How unusual the whole swing is at its level.

    Attributes
    ----------
    overall_cm : float
    more_unusual_than, peers : int
        Peers with a smaller overall deviation from the others, and all peers.
    p : float
        Share that would be at least as unusual; never below 1 / (peers + 1).
    swings : int
        Swings of each peer that were averaged, at most, so that like is held against like.
    """

    overall_cm: float
    more_unusual_than: int
    peers: int
    p: float
    swings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NearestHandicap:
    """The handicap whose typical curves are nearest.

    Attributes
    ----------
    handicap : float
    low, high : float
        90 % interval.
    low_open, high_open : bool
        Whether the interval runs to the end of the supported range.
    golfers : int
    """

    handicap: float
    low: float
    high: float
    low_open: bool
    high_open: bool
    golfers: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternPlace:
    """Which pattern a swing belongs to, as probabilities.

    Attributes
    ----------
    names : tuple of str
        Empty where the club's golfers form one cloud.
    probabilities : tuple of float
        Add to 1.
    fit_p : float
        Share of golfers who fit as badly; small where none fits.
    none_fits : bool
    reason : str
        What the edition found.
    """

    names: tuple[str, ...]
    probabilities: tuple[float, ...]
    fit_p: float
    none_fits: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LookAlike:
    """One earlier golfer who swings alike.

    Attributes
    ----------
    golfer : str or None
        Code; None where the golfer did not agree to be named on another's page.
    level : str or None
        Label of the level.
    ball_speed_mps : float or None
        Mean with this club.
    distance : float
        Between scores of components.
    next_change_cm : float or None
        How the overall deviation from the peers changed to the next session; negative: nearer.
    """

    golfer: str | None
    level: str | None
    ball_speed_mps: float | None
    distance: float
    next_change_cm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LookAlikes:
    """A group of at least five golfers who swing alike, nearest first.

    Attributes
    ----------
    group : tuple of LookAlike
        Empty where withheld.
    withheld : str or None
    """

    group: tuple[LookAlike, ...] = ()
    withheld: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GolferPlace:
    """Swings of one golfer with one club against one cell of an edition.

    Attributes
    ----------
    placement : Placement
        Of the mean of the swings.
    swings : tuple of str
    days : int
    places : tuple of SurePlace
        In the catalogue's order.
    map : ProfileMap or None
    typicality : TypicalityPlace or None
    nearest : NearestHandicap or None
    pattern : PatternPlace or None
    look_alikes : LookAlikes or None
    findings : tuple of Finding
        At most three, the most unusual first.
    """

    placement: Placement
    swings: tuple[str, ...]
    days: int
    places: tuple[SurePlace, ...]
    map: ProfileMap | None
    typicality: TypicalityPlace | None
    nearest: NearestHandicap | None
    pattern: PatternPlace | None
    look_alikes: LookAlikes | None
    findings: tuple[Finding, ...]
