"""A feature's percentile with both of its uncertainties: few swings, and few golfers."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from norms.placement.golfer_mean import GolferMean
from norms.placement.place import PLACE_CONFIDENCE
from norms.records import Cohort, FeaturePlace, MeasurementError
from norms.records.golfer_place import SurePlace
from norms.statistics.proportions import wilson_interval
from norms.statistics.single_case import single_case

FloatArray = NDArray[np.float64]

_Z: Final = float(special.ndtri((1.0 + PLACE_CONFIDENCE) / 2.0))


def sure_places(
    mean: GolferMean,
    places: Sequence[FeaturePlace],
    peers: Cohort,
    noise: MeasurementError | None,
) -> tuple[SurePlace, ...]:
    """Percentile of every feature with the interval of the golfer's own long-run value.

    Two intervals are put together by the sum of the squares of their reaches on either side
    (MOVER): that of the share of golfers below a value that is known (Wilson), and that of the
    value, looked up among the peers.

    Parameters
    ----------
    mean : GolferMean
    places : sequence of FeaturePlace
        Of ``mean.swing`` among the peers.
    peers : Cohort
        Without the golfer.
    noise : MeasurementError or None
        Noise budget of the club; without it the interval is of few golfers only.

    Returns
    -------
    tuple of SurePlace
        In the order of ``places``.

    References
    ----------
    Zou and Donner (2008), Stat. Med. 27:1693; Crawford and Howell (1998).
    """
    columns = {name: place for place, name in enumerate(peers.feature_names)}
    values = np.array([np.nan if one.value is None else one.value for one in places])
    held = np.full((len(peers.golfers), len(places)), np.nan)
    for at, place in enumerate(places):
        if place.feature in columns:
            held[:, at] = peers.features[:, columns[place.feature]]
    errors = [mean.feature_error(noise, place.feature) for place in places]
    reach = _Z * np.array([0.0 if error is None else error for error in errors])
    share, low, high = both_uncertainties(values, reach, held)
    usual = float(1.0 / np.mean(1.0 / peers.swing_counts)) if len(peers.golfers) else 1.0
    extra = [mean.extra_variance(noise, place.feature, usual) for place in places]
    test = single_case(values, held, extra)
    found = []
    for at, place in enumerate(places):
        shown = place.percentile is not None
        p = float(test.p[at])
        found.append(
            SurePlace(
                feature=place.feature,
                percentile=100.0 * float(share[at]) if shown else None,
                low=100.0 * float(low[at]) if shown else None,
                high=100.0 * float(high[at]) if shown else None,
                holds="few golfers only" if errors[at] is None else "few swings and few golfers",
                error=errors[at],
                p=p if shown and np.isfinite(p) else None,
            )
        )
    return tuple(found)


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
    lower = share - np.hypot(share - low, share - below)
    upper = share + np.hypot(high - share, above - share)
    return share, np.clip(lower, 0.0, share), np.clip(upper, share, 1.0)


def _share(peers: FloatArray, at: FloatArray, counted: NDArray[np.int64]) -> FloatArray:
    share: FloatArray = ((peers < at).sum(axis=0) + 0.5 * (peers == at).sum(axis=0)) / counted
    return share
