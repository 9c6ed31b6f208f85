"""Peers two ways: golfers of like handicap and golfers of like ball speed, side by side.

A deviation among golfers of like handicap that is none among golfers of like ball speed goes with
speed rather than with handicap. Neither says what would happen if the golfer moved otherwise.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from norms.cohort.bands import PRIVACY_MINIMUM
from norms.cohort.roll import Roll
from norms.records import BallSpeed, Cohort
from norms.statistics.proportions import standing, wilson_interval

FloatArray = NDArray[np.float64]

HANDICAP_WINDOW: Final = 4.0
"""Strokes to either side."""
SPEED_WINDOW_MPS: Final = 2.5
"""Metres per second to either side."""
PEER_CONFIDENCE: Final = 0.90
OUTSIDE_PERCENTS: Final = (10.0, 90.0)
"""A feature stands out when its percentile lies beyond these."""

CAUTION: Final = (
    "Going with ball speed is not being caused by it: golfers of like speed may share strength, "
    "build or coaching."
)

Finding = Literal[
    "in the range of both",
    "stands out among both",
    "stands out at like handicap, not at like ball speed",
    "stands out at like ball speed, not at like handicap",
    "not known",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GolferCovariates:
    """Handicap and ball speed of a cohort's golfers, over the swings they are in it with.

    Attributes
    ----------
    golfers : tuple of str
        n codes, as in the cohort.
    handicaps, speeds_mps : ndarray, shape (n,)
        Mean over the golfer's swings; NaN where there is none.
    """

    golfers: tuple[str, ...]
    handicaps: FloatArray
    speeds_mps: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerGroup:
    """Whom a golfer is held against in one of the two ways.

    Attributes
    ----------
    matched_on : {"handicap", "ball speed"}
    golfers : int
        The golfer left out.
    own : float or None
        The golfer's own handicap, or ball speed in m/s.
    low, high : float or None
        Window.
    mean : float or None
        Of the peers; far from ``own`` where peers lie to one side.
    withheld : str or None
        Why there is nothing to show.
    """

    matched_on: Literal["handicap", "ball speed"]
    golfers: int
    own: float | None
    low: float | None
    high: float | None
    mean: float | None
    withheld: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerPlace:
    """Percentile among one group of peers, with its 90 % interval; None where withheld."""

    peers: int
    percentile: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoWayPlace:
    """One feature among both groups of peers."""

    feature: str
    value: float
    at_like_handicap: PeerPlace
    at_like_speed: PeerPlace
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoWayPeers:
    """A golfer's features among both groups of peers.

    Attributes
    ----------
    golfer : str
    by_handicap, by_speed : PeerGroup
    places : tuple of TwoWayPlace
        In the order of the cohort's features; those the golfer lacks are left out.
    caution : str
    """

    golfer: str
    by_handicap: PeerGroup
    by_speed: PeerGroup
    places: tuple[TwoWayPlace, ...]
    caution: str = CAUTION


def golfer_covariates(
    roll: Roll, cohort: Cohort, ball_speeds: Mapping[str, BallSpeed]
) -> GolferCovariates:
    """Mean handicap of the day and mean ball speed of each golfer with the cohort's club.

    Parameters
    ----------
    roll : Roll
    cohort : Cohort
        Of this roll; of every level, as a rule, so that either match finds its peers.
    ball_speeds : Mapping of str to BallSpeed
        By swing code.
    """
    own = roll.clubs == cohort.definition.club
    codes = [roll.pool.swings[row] for row in roll.rows]
    speeds = np.array(
        [ball_speeds[code].ball_speed_mps if code in ball_speeds else np.nan for code in codes]
    )
    return GolferCovariates(
        golfers=cohort.golfers,
        handicaps=_means(roll.golfers[own], roll.facts.handicaps[own], cohort.golfers),
        speeds_mps=_means(roll.golfers[own], speeds[own], cohort.golfers),
    )


def peers_two_ways(
    golfer: str,
    features: Mapping[str, float],
    cohort: Cohort,
    covariates: GolferCovariates,
    *,
    handicap: float | None,
    speed_mps: float | None,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> TwoWayPeers:
    """Hold a golfer's features against peers of like handicap and of like ball speed.

    Parameters
    ----------
    golfer : str
        Left out of both groups.
    features : Mapping of str to float
        Of one swing, or the golfer's means.
    cohort : Cohort
        Golfers of one club and of every level.
    covariates : GolferCovariates
        Of this cohort.
    handicap, speed_mps : float or None
        The golfer's own; None where not known.
    smallest_cell : int
        Fewest golfers of whom any number is shown.

    Returns
    -------
    TwoWayPeers
    """
    others = np.array([code != golfer for code in cohort.golfers], dtype=bool)
    near_handicap = others & _near(covariates.handicaps, handicap, HANDICAP_WINDOW)
    near_speed = others & _near(covariates.speeds_mps, speed_mps, SPEED_WINDOW_MPS)
    columns = {
        name: column
        for column, name in enumerate(cohort.feature_names)
        if features.get(name) is not None
    }
    values = np.array([features[name] for name in columns], dtype=float)
    table = cohort.features[:, list(columns.values())]
    at_handicap = _places(values, table[near_handicap], smallest_cell)
    at_speed = _places(values, table[near_speed], smallest_cell)
    return TwoWayPeers(
        golfer=golfer,
        by_handicap=_group(
            "handicap",
            covariates.handicaps[near_handicap],
            handicap,
            HANDICAP_WINDOW,
            smallest_cell,
        ),
        by_speed=_group(
            "ball speed",
            covariates.speeds_mps[near_speed],
            speed_mps,
            SPEED_WINDOW_MPS,
            smallest_cell,
        ),
        places=tuple(
            TwoWayPlace(
                feature=name,
                value=float(value),
                at_like_handicap=one,
                at_like_speed=other,
                finding=_finding(one, other),
            )
            for name, value, one, other in zip(columns, values, at_handicap, at_speed, strict=True)
        ),
    )


def peers_document(peers: TwoWayPeers) -> dict[str, Any]:
    """Both placements as plain JSON values; it names the placed golfer only."""
    return asdict(peers)


def _means(codes: NDArray[np.str_], values: FloatArray, golfers: tuple[str, ...]) -> FloatArray:
    """Mean of the present values of each golfer, NaN where there is none."""
    known = ~np.isnan(values) & np.isin(codes, np.array(golfers, dtype=str))
    place = np.searchsorted(np.array(golfers, dtype=str), codes[known])
    counts = np.bincount(place, minlength=len(golfers))
    sums = np.bincount(place, weights=values[known], minlength=len(golfers))
    means = np.full(len(golfers), np.nan)
    np.divide(sums, counts, out=means, where=counts > 0)
    return means


def _near(values: FloatArray, own: float | None, window: float) -> NDArray[np.bool_]:
    if own is None:
        return np.full(values.shape, False)
    return np.asarray(np.abs(values - own) <= window, dtype=bool)


def _group(
    matched_on: Literal["handicap", "ball speed"],
    peers: FloatArray,
    own: float | None,
    window: float,
    smallest_cell: int,
) -> PeerGroup:
    withheld = None
    if own is None:
        withheld = f"the golfer's {matched_on} is not known"
    elif peers.size < smallest_cell:
        who = "1 golfer" if peers.size == 1 else f"{peers.size} golfers"
        withheld = f"{who} of like {matched_on}, where {smallest_cell} are needed"
    shown = withheld is None
    return PeerGroup(
        matched_on=matched_on,
        golfers=peers.size,
        own=own,
        low=None if own is None else own - window,
        high=None if own is None else own + window,
        mean=float(peers.mean()) if shown else None,
        withheld=withheld,
    )


def _places(values: FloatArray, peers: FloatArray, smallest_cell: int) -> list[PeerPlace]:
    stands = standing(values, peers)
    low, high = wilson_interval(
        stands.below + stands.equal / 2.0, np.maximum(stands.counted, 1), PEER_CONFIDENCE
    )
    return [
        PeerPlace(peers=int(n), percentile=float(p), low=100.0 * float(lo), high=100.0 * float(hi))
        if n >= smallest_cell
        else PeerPlace(peers=int(n), percentile=None, low=None, high=None)
        for n, p, lo, hi in zip(stands.counted, stands.percentile, low, high, strict=True)
    ]


def _finding(at_handicap: PeerPlace, at_speed: PeerPlace) -> Finding:
    if at_handicap.percentile is None or at_speed.percentile is None:
        return "not known"
    low, high = OUTSIDE_PERCENTS
    by_handicap = not low <= at_handicap.percentile <= high
    by_speed = not low <= at_speed.percentile <= high
    if by_handicap and by_speed:
        return "stands out among both"
    if by_handicap:
        return "stands out at like handicap, not at like ball speed"
    if by_speed:
        return "stands out at like ball speed, not at like handicap"
    return "in the range of both"
