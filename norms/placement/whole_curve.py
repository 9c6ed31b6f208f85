"""A swing's whole curves against the joint band of its peers: where they leave it, how long."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records import Excursion, PhaseCurve, WholeCurveBands, WholeCurvePlace
from norms.vocabulary import AXES

FloatArray = NDArray[np.float64]

ONE_SWING_IN_A_BAND_OF_MEANS: Final = (
    "the band is for golfers' mean curves; a single swing leaves it more often"
)


def place_whole_curve(
    curve: PhaseCurve, band: WholeCurveBands | str, *, level: float, peers: int
) -> WholeCurvePlace:
    """Hold a swing's three curves together against the joint band of the peers.

    Parameters
    ----------
    curve : PhaseCurve
    band : WholeCurveBands or str
        Of the peers without the placed golfer, or why there is none.
    level : float
        Share of whole curves that the band is to hold.
    peers : int

    Returns
    -------
    WholeCurvePlace
    """
    if isinstance(band, str):
        return WholeCurvePlace(level=level, peers=peers, withheld=band)
    return WholeCurvePlace(
        level=level,
        peers=peers,
        bands=band,
        deviation_sd=float(band.deviations(curve.values_cm).max()),
        excursions=joint_excursions(curve, band),
        outside_s=_time_outside(curve, band),
        caution=ONE_SWING_IN_A_BAND_OF_MEANS,
    )


def joint_excursions(curve: PhaseCurve, bands: WholeCurveBands) -> tuple[Excursion, ...]:
    """Stretches where a curve lies outside the joint band, by axis and then in time.

    Parameters
    ----------
    curve : PhaseCurve
    bands : WholeCurveBands

    Returns
    -------
    tuple of Excursion
        A stretch lasts from the first to the last node outside; each end is known to half the
        time between nodes.
    """
    low, high = bands.joint_limits_cm()
    beyond = np.maximum(curve.values_cm - high, 0.0) + np.minimum(curve.values_cm - low, 0.0)
    found = []
    for axis, row in zip(AXES, beyond, strict=True):
        outside = np.concatenate([[False], row != 0.0, [False]])
        starts = np.flatnonzero(~outside[:-1] & outside[1:])
        ends = np.flatnonzero(outside[:-1] & ~outside[1:]) - 1
        for start, end in zip(starts, ends, strict=True):
            worst = int(start + np.argmax(np.abs(row[start : end + 1])))
            found.append(
                Excursion(
                    axis=axis,
                    first_node=int(start),
                    last_node=int(end),
                    seconds=float(_node_seconds(curve)[start : end + 1].sum()),
                    worst_node=worst,
                    beyond_cm=float(row[worst]),
                )
            )
    return tuple(found)


def _time_outside(curve: PhaseCurve, bands: WholeCurveBands) -> float:
    """Seconds during which at least one of the three curves is outside."""
    low, high = bands.joint_limits_cm()
    outside = ((curve.values_cm < low) | (curve.values_cm > high)).any(axis=0)
    return float(_node_seconds(curve)[outside].sum())


def _node_seconds(curve: PhaseCurve) -> FloatArray:
    """Time that each node stands for: half of the way to either neighbour, shape (301,)."""
    halves = np.diff(curve.times_s) / 2.0
    seconds: FloatArray = np.concatenate([halves, [0.0]]) + np.concatenate([[0.0], halves])
    return seconds
