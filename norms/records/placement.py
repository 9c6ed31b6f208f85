"""A placement: one swing held against its peers in an edition."""

from dataclasses import dataclass

from norms.records.bands import Bands
from norms.records.swing import Swing


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
    below, equal : int
        Peers with a smaller value, and with the same one.
    percentile : float or None
        100 (below + equal / 2) / peers; None where withheld.
    percentile_low, percentile_high : float or None
        90 % interval of the share of the population below this value (Wilson score).
    peers_low, peers_median, peers_high : float or None
        The peers' range that their number supports, and their median.
    range_percents : tuple of 2 floats or None
        Which percentiles ``peers_low`` and ``peers_high`` are, e.g. (10, 90).
    """

    feature: str
    value: float | None
    reason: str | None
    peers: int
    below: int
    equal: int
    percentile: float | None
    percentile_low: float | None
    percentile_high: float | None
    peers_low: float | None
    peers_median: float | None
    peers_high: float | None
    range_percents: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placement:
    """One swing against one cell of an edition.

    Attributes
    ----------
    swing : Swing
    edition : str
    edition_hash : str
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
        handicap.
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
