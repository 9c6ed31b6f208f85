"""Where each feature of a swing falls among its peers: counted, or read off what is published."""

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from norms.placement.peers import Peers
from norms.records import Bands, Cohort, FeaturePlace, Swing
from norms.records.placement import Beyond
from norms.statistics.proportions import standing, wilson_interval
from norms.statistics.quantile_lookup import QuantileLookup
from norms.swing.catalogue import FEATURE_NAMES

PLACE_CONFIDENCE: Final = 0.90
"""Confidence of the interval of a percentile."""


def feature_places(swing: Swing, peers: Peers) -> tuple[FeaturePlace, ...]:
    """Place of every feature of the catalogue; no place where too few peers have it.

    Parameters
    ----------
    swing : Swing
    peers : Peers

    Returns
    -------
    tuple of FeaturePlace
        Counts and Wilson's interval among golfers who are here; among golfers elsewhere the share
        between published percentiles with the interval that their limits give, and never a share
        beyond the outermost.
    """
    if peers.cohort is None:
        return tuple(_read_place(swing, name, peers.bands) for name in FEATURE_NAMES)
    return _counted_places(swing, peers.cohort, peers.bands, peers.smallest_cell)


def _counted_places(
    swing: Swing, peers: Cohort, bands: Bands | None, smallest_cell: int
) -> tuple[FeaturePlace, ...]:
    columns = {name: place for place, name in enumerate(peers.feature_names)}
    # A feature that the edition does not know has peers without a value.
    held = np.full((len(peers.golfers), len(FEATURE_NAMES)), np.nan)
    for place, name in enumerate(FEATURE_NAMES):
        if name in columns:
            held[:, place] = peers.features[:, columns[name]]
    values = np.array([swing.features.values.get(name, np.nan) for name in FEATURE_NAMES])
    stands = standing(values, held)
    shown = (bands is not None) & (stands.counted >= smallest_cell) & ~np.isnan(values)
    below, equal = np.where(shown, stands.below, 0), np.where(shown, stands.equal, 0)
    low, high = wilson_interval(
        below + equal / 2.0, np.maximum(stands.counted, 1), PLACE_CONFIDENCE
    )
    return tuple(
        FeaturePlace(
            feature=name,
            value=swing.features.values.get(name),
            reason=swing.features.missing.get(name),
            peers=int(stands.counted[at]),
            below=int(below[at]),
            equal=int(equal[at]),
            percentile=float(stands.percentile[at]) if shown[at] else None,
            percentile_low=100.0 * float(low[at]) if shown[at] else None,
            percentile_high=100.0 * float(high[at]) if shown[at] else None,
            **_peers_range(bands, name)._asdict(),
        )
        for at, name in enumerate(FEATURE_NAMES)
    )


def _read_place(swing: Swing, feature: str, bands: Bands | None) -> FeaturePlace:
    value = swing.features.values.get(feature)
    published = None if bands is None else published_quantiles(bands).get(feature)
    counted = 0
    if bands is not None and feature in bands.feature_names:
        counted = int(bands.feature_golfers[bands.feature_names.index(feature)])
    share, low, high, beyond = None, None, None, None
    if published is not None and value is not None:
        beyond = beyond_published(published, value)
        share = published.share(value) if beyond is None else None
        low, high = published.interval(value)
    return FeaturePlace(
        feature=feature,
        value=value,
        reason=swing.features.missing.get(feature),
        peers=counted,
        below=None,
        equal=None,
        percentile=None if share is None else 100.0 * share,
        percentile_low=None if low is None else 100.0 * low,
        percentile_high=None if high is None else 100.0 * high,
        beyond=beyond,
        **_peers_range(bands, feature)._asdict(),
    )


def beyond_published(published: QuantileLookup, value: float) -> Beyond | None:
    """On which side a value lies beyond every published percentile, and beyond which."""
    low, high = published.outermost
    if published.below(value):
        return Beyond(side="below", percent=round(100.0 * low, 9))
    if published.above(value):
        return Beyond(side="above", percent=round(100.0 * high, 9))
    return None


@lru_cache(maxsize=64)
def published_quantiles(bands: Bands) -> dict[str, QuantileLookup]:
    """Shown percentiles of each feature that has any; made once, because a roster asks often."""
    found = {}
    shares = np.array(bands.percents) / 100.0
    for column, name in enumerate(bands.feature_names):
        table = np.stack(
            [one[:, column] for one in (bands.feature, bands.feature_low, bands.feature_high)]
        )
        shown = np.isfinite(table).all(axis=0)
        if shown.any():
            found[name] = QuantileLookup(shares[shown], *table[:, shown])
    return found


class _Range(NamedTuple):
    peers_low: float | None = None
    peers_median: float | None = None
    peers_high: float | None = None
    range_percents: tuple[float, float] | None = None


def _peers_range(bands: Bands | None, feature: str) -> _Range:
    """Widest symmetric pair of percentiles that the peers support for a feature, and the median."""
    if bands is None or feature not in bands.feature_names:
        return _Range()
    column = bands.feature[:, bands.feature_names.index(feature)]
    known = {
        p: float(value)
        for p, value in zip(bands.percents, column, strict=True)
        if not np.isnan(value)
    }
    pairs = [p for p in sorted(known) if p < 50.0 and 100.0 - p in known]
    if not pairs:
        return _Range(peers_median=known.get(50.0))
    low, high = pairs[0], 100.0 - pairs[0]
    return _Range(known[low], known.get(50.0), known[high], (low, high))
