"""A feature's percentile with both of its uncertainties: few swings, and few golfers."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from norms.placement.feature_places import PLACE_CONFIDENCE, published_quantiles
from norms.placement.golfer_mean import GolferMean
from norms.placement.peers import Peers
from norms.records import Bands, Cohort, FeaturePlace, MeasurementError
from norms.records.golfer_place import SurePlace
from norms.statistics.proportions import wilson_interval
from norms.statistics.single_case import single_case

FloatArray = NDArray[np.float64]
Shares = FloatArray | float

_Z: Final = float(special.ndtri((1.0 + PLACE_CONFIDENCE) / 2.0))


def sure_places(
    mean: GolferMean,
    places: Sequence[FeaturePlace],
    peers: Peers,
    noise: MeasurementError | None,
) -> tuple[SurePlace, ...]:
    """Percentile of every feature with the interval of the golfer's own long-run value.

    Two intervals are put together by the sum of the squares of their reaches on either side
    (MOVER): that of the share of golfers below a value that is known (Wilson, or as published
    percentiles give it), and that of the value, looked up among the peers.

    Parameters
    ----------
    mean : GolferMean
    places : sequence of FeaturePlace
        Of ``mean.swing`` among the peers.
    peers : Peers
    noise : MeasurementError or None
        Noise budget of the club; without it the interval is of few golfers only.

    Returns
    -------
    tuple of SurePlace
        In the order of ``places``; without a test where the peers stayed in another academy.

    References
    ----------
    Zou and Donner (2008), Stat. Med. 27:1693; Crawford and Howell (1998).
    """
    errors = [mean.feature_error(noise, place.feature) for place in places]
    reach = _Z * np.array([0.0 if error is None else error for error in errors])
    if peers.cohort is None:
        low, high = _read_intervals(places, reach, peers.bands)
        p_values = np.full(len(places), np.nan)
    else:
        values = np.array([np.nan if one.value is None else one.value for one in places])
        held = _held(places, peers.cohort)
        _, low, high = both_uncertainties(values, reach, held)
        counts = peers.cohort.swing_counts
        usual = float(1.0 / np.mean(1.0 / counts)) if len(counts) else 1.0
        extra = [mean.extra_variance(noise, place.feature, usual) for place in places]
        p_values = single_case(values, held, extra).p
    found = []
    for at, place in enumerate(places):
        shown = place.about is not None
        p = float(p_values[at])
        found.append(
            SurePlace(
                feature=place.feature,
                percentile=place.percentile,
                low=100.0 * float(low[at]) if shown else None,
                high=100.0 * float(high[at]) if shown else None,
                holds="few golfers only" if errors[at] is None else "few swings and few golfers",
                error=errors[at],
                p=p if shown and np.isfinite(p) else None,
                beyond=place.beyond,
            )
        )
    return tuple(found)


def _held(places: Sequence[FeaturePlace], peers: Cohort) -> FloatArray:
    """The peers' values of each feature, shape (n, d); NaN where there is none."""
    columns = {name: place for place, name in enumerate(peers.feature_names)}
    held = np.full((len(peers.golfers), len(places)), np.nan)
    for at, place in enumerate(places):
        if place.feature in columns:
            held[:, at] = peers.features[:, columns[place.feature]]
    return held


def _read_intervals(
    places: Sequence[FeaturePlace], reach: FloatArray, bands: Bands | None
) -> tuple[FloatArray, FloatArray]:
    """Both uncertainties of shares read off published percentiles; NaN where nothing is placed."""
    low, high = np.full(len(places), np.nan), np.full(len(places), np.nan)
    for at, place in enumerate(places):
        if bands is None or place.about is None or place.value is None:
            continue
        published = published_quantiles(bands)[place.feature]
        share = published.share(place.value)
        below, above = published.reach(place.value, float(reach[at]))
        low[at], high[at] = _together(share, *published.interval(place.value), below, above)
    return low, high


def both_uncertainties(
    values: FloatArray, reach: FloatArray, peers: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Share of peers below each value, and its interval.

    Parameters
    ----------
    values : ndarray, shape (d,)
    reach : ndarray, shape (d,)
        Half-width of each value's own interval.
    peers : ndarray, shape (n, d)
        NaN where a peer lacks a feature.

    Returns
    -------
    share, low, high : ndarray, shape (d,)
        0 to 1, with ``low <= share <= high``.
    """
    counted = np.maximum(np.isfinite(peers).sum(axis=0), 1)
    share, below, above = (
        _share(peers, at, counted) for at in (values, values - reach, values + reach)
    )
    low, high = wilson_interval(share * counted, counted, PLACE_CONFIDENCE)
    return share, *_together(share, low, high, below, above)


def _together(
    share: Shares, low: Shares, high: Shares, below: Shares, above: Shares
) -> tuple[FloatArray, FloatArray]:
    """Limits of a share: its own, and those of the value's reach, by squares on either side."""
    lower = share - np.hypot(share - low, share - below)
    upper = share + np.hypot(high - share, above - share)
    return np.clip(lower, 0.0, share), np.clip(upper, share, 1.0)


def _share(peers: FloatArray, at: FloatArray, counted: NDArray[np.int64]) -> FloatArray:
    share: FloatArray = ((peers < at).sum(axis=0) + 0.5 * (peers == at).sum(axis=0)) / counted
    return share
