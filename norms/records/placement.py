"""A placement: one swing held against its peers in an edition."""

from dataclasses import dataclass
from typing import Literal

from norms.records.bands import Bands
from norms.records.centile_readings import CentilePlace
from norms.records.swing import Swing
from norms.records.whole_curve import WholeCurveBands
from norms.vocabulary import Axis


@dataclass(frozen=True, slots=True, kw_only=True)
class Beyond:
    """Where published percentiles end before a value.

    Attributes
    ----------
    side : {"below", "above"}
    percent : float
        The outermost published percentile on that side.
    """

    side: Literal["below", "above"]
    percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FeaturePlace:
    """Where one feature of the swing falls among the peers.

    Attributes
    ----------
    feature : str
    value : float or None
        In the catalogue's unit; None where the swing does not give the feature.
    reason : str or None
        Why the value is missing.
    peers : int
        Golfers the value is held against, the placed golfer left out.
    below, equal : int or None
        Peers with a smaller value, and with the same one; None where the peers stayed in another
        academy, so that nobody can be counted.
    percentile : float or None
        100 (below + equal / 2) / peers, or read between published percentiles; None where withheld
        or beyond them.
    percentile_low, percentile_high : float or None
        90 % interval of the share of the population below this value (Wilson score), or as
        published percentiles' intervals give it.
    peers_low, peers_median, peers_high : float or None
        The peers' range that their number supports, and their median.
    range_percents : tuple of 2 floats or None
        Which percentiles ``peers_low`` and ``peers_high`` are, e.g. (10, 90).
    beyond : Beyond or None
        Set where the value lies beyond the published percentiles.
    """

    feature: str
    value: float | None
    reason: str | None
    peers: int
    below: int | None
    equal: int | None
    percentile: float | None
    percentile_low: float | None
    percentile_high: float | None
    peers_low: float | None
    peers_median: float | None
    peers_high: float | None
    range_percents: tuple[float, float] | None
    beyond: Beyond | None = None

    @property
    def about(self) -> float | None:
        """The percentile, or the outermost published one that the value lies beyond."""
        return self.percentile if self.beyond is None else self.beyond.percent


@dataclass(frozen=True, slots=True, kw_only=True)
class Excursion:
    """A stretch of one curve outside the joint band of the peers.

    Attributes
    ----------
    axis : {"sway", "thrust", "lift"}
    first_node, last_node : int
        Phase nodes, both outside.
    seconds : float
        How long it lasts in this swing.
    worst_node : int
    beyond_cm : float
        Distance from the nearer limit at the worst node; positive above the band.
    """

    axis: Axis
    first_node: int
    last_node: int
    seconds: float
    worst_node: int
    beyond_cm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WholeCurvePlace:
    """The three curves of a swing, taken together, against the joint band of the peers.

    Attributes
    ----------
    level : float
        Share of golfers' whole curves that the band is to hold.
    peers : int
    bands : WholeCurveBands or None
        Of the peers, without the placed golfer.
    deviation_sd : float or None
        Largest distance from the peers' mean, in their standard deviations; inside the band
        where it is at most ``bands.joint_factor``.
    excursions : tuple of Excursion
        By axis and then in time; empty where the whole curve stays inside.
    outside_s : float or None
        Seconds during which at least one of the three curves is outside.
    caution : str or None
    withheld : str or None
        Why there is no band.
    """

    level: float
    peers: int
    bands: WholeCurveBands | None = None
    deviation_sd: float | None = None
    excursions: tuple[Excursion, ...] = ()
    outside_s: float | None = None
    caution: str | None = None
    withheld: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placement:
    """One swing against one cell of an edition.

    Attributes
    ----------
    swing : Swing
    edition : str
    edition_hash : str
    imported : bool
        Whether the edition is another academy's, whose golfers are not in the store.
    cohort_key, cohort_label : str
    handicap : float or None
        As of the day of the swing.
    peers : int
        Golfers in the cell, the placed golfer left out.
    left_out : bool
        Whether the placed golfer was a member of the cell and was left out.
    bands : Bands or None
        Of the peers, without the placed golfer; None where withheld.
    withheld : str or None
    features : tuple of FeaturePlace
        In the catalogue's order.
    cautions : tuple of str
        Sentences that must stand on the page: stand-ins, few golfers, cohort chosen without a
        handicap. With another academy's edition the first says whose it is and how it was verified.
    whole_curve : WholeCurvePlace or None
        None in an edition without annexes.
    by_handicap : tuple of CentilePlace
        Features among golfers of the same handicap; empty where there is no handicap or the
        edition has no centiles of the club.
    """

    swing: Swing
    edition: str
    edition_hash: str
    cohort_key: str
    cohort_label: str
    handicap: float | None
    peers: int
    left_out: bool
    bands: Bands | None
    withheld: str | None
    features: tuple[FeaturePlace, ...]
    cautions: tuple[str, ...]
    whole_curve: WholeCurvePlace | None = None
    by_handicap: tuple[CentilePlace, ...] = ()
    imported: bool = False
