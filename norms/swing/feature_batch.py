"""The features of many variants of one swing at once, for propagating uncertainty.

The same definitions as ``norms.swing.features``, read off position and velocity on phase nodes
rather than off the pieces of a spline: a little coarser, and fast for a whole batch. What counts
is how a feature differs between variants.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from norms.records import FloatArray
from norms.swing.catalogue import FEATURE_NAMES
from norms.vocabulary import EVENT_NODES

TOP, IMPACT = EVENT_NODES["top"], EVENT_NODES["impact"]
SWAY, THRUST, LIFT = 0, 1, 2
BACK: Final = slice(0, TOP + 1)
DOWN: Final = slice(TOP, IMPACT + 1)
THROUGH: Final = slice(IMPACT, None)
TO_IMPACT: Final = slice(0, IMPACT + 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Variants:
    """Variants of one swing on their own phase nodes.

    Attributes
    ----------
    times_s : ndarray, shape (v, 301)
    position_cm, velocity_cm_s : ndarray, shape (v, 3, 301)
    """

    times_s: FloatArray
    position_cm: FloatArray
    velocity_cm_s: FloatArray


def batch_features(variants: Variants) -> FloatArray:
    """Every feature of every variant.

    Parameters
    ----------
    variants : Variants

    Returns
    -------
    ndarray, shape (v, d)
        In the catalogue's order; NaN where a variant's curve does not turn.
    """
    times, x, v = variants.times_s, variants.position_cm, variants.velocity_cm_s
    start, top, impact = times[:, 0], times[:, TOP], times[:, IMPACT]
    at_top, at_impact, at_finish = x[:, :, TOP], x[:, :, IMPACT], x[:, :, -1]
    sway_low, sway_low_s = _lowest(variants, SWAY, TO_IMPACT)
    lift_low, lift_low_s = _lowest(variants, LIFT, TO_IMPACT)
    thrust_low, _ = _lowest(variants, THRUST, DOWN)
    sway_after = _highest(variants, SWAY, THROUGH)
    sway_rate, sway_rate_at = _fastest(v[:, SWAY, DOWN])
    lift_rate, lift_rate_at = _fastest(v[:, LIFT, DOWN])
    speed = np.sqrt(np.einsum("van,van->vn", v[:, :, TO_IMPACT], v[:, :, TO_IMPACT]))
    found = {
        "sway_top": at_top[:, SWAY],
        "sway_back": sway_low,
        "sway_turn_lead": top - sway_low_s,
        "sway_impact": at_impact[:, SWAY],
        "sway_travel": at_impact[:, SWAY] - sway_low,
        "sway_rate_max": sway_rate,
        "sway_rate_max_at": sway_rate_at,
        "sway_slowing": 1.0 - v[:, SWAY, IMPACT] / sway_rate,
        "sway_drift": sway_after - at_impact[:, SWAY],
        "sway_settle": sway_after - at_finish[:, SWAY],
        "thrust_top": at_top[:, THRUST],
        "thrust_back_max": _highest(variants, THRUST, BACK),
        "thrust_sit_back": thrust_low - at_top[:, THRUST],
        "thrust_impact": at_impact[:, THRUST],
        "thrust_late_rise": at_impact[:, THRUST] - thrust_low,
        "thrust_rate_impact": v[:, THRUST, IMPACT],
        "lift_top": at_top[:, LIFT],
        "lift_low": lift_low,
        "lift_low_after_top": lift_low_s - top,
        "lift_impact": at_impact[:, LIFT],
        "lift_rise": at_impact[:, LIFT] - lift_low,
        "lift_rate_max": lift_rate,
        "lift_rate_max_at": lift_rate_at,
        "lift_after": at_finish[:, LIFT] - _highest(variants, LIFT, THROUGH),
        "turn_order": lift_low_s - sway_low_s,
        "path_length": np.trapezoid(speed, times[:, TO_IMPACT], axis=1),
        "backswing_time": top - start,
        "downswing_time": impact - top,
        "tempo": (top - start) / (impact - top),
    }
    return np.stack([found[name] for name in FEATURE_NAMES], axis=1)


def _highest(variants: Variants, axis: int, nodes: slice) -> FloatArray:
    value, _ = _turn(variants, axis, nodes, sign=1.0)
    return value


def _lowest(variants: Variants, axis: int, nodes: slice) -> tuple[FloatArray, FloatArray]:
    return _turn(variants, axis, nodes, sign=-1.0)


def _turn(
    variants: Variants, axis: int, nodes: slice, *, sign: float
) -> tuple[FloatArray, FloatArray]:
    """Highest or lowest value, and its second (NaN at an end), velocity straight between nodes."""
    times = variants.times_s[:, nodes]
    x, v = variants.position_cm[:, axis, nodes], variants.velocity_cm_s[:, axis, nodes]
    rows, last = np.arange(len(x)), x.shape[1] - 1
    k = np.argmax(sign * x, axis=1)
    other = np.clip(np.where(sign * v[rows, k] > 0, k + 1, k - 1), 0, last)
    turns = v[rows, k] * v[rows, other] < 0
    at_end = ((k == 0) | (k == last)) & ~turns
    change = np.where(turns, v[rows, k] - v[rows, other], 1.0)
    step = np.where(turns, (times[rows, other] - times[rows, k]) * v[rows, k] / change, 0.0)
    value = x[rows, k] + 0.5 * v[rows, k] * step
    return value, np.where(at_end, np.nan, times[rows, k] + step)


def _fastest(rate: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Largest rate of the downswing (NaN where none is positive) and its place in percent."""
    rows, last = np.arange(len(rate)), rate.shape[1] - 1
    k = np.argmax(rate, axis=1)
    inner = np.clip(k, 1, last - 1)
    before, here, after = (rate[rows, inner + shift] for shift in (-1, 0, 1))
    bend = before - 2.0 * here + after
    curved = (bend < 0) & (k == inner)
    offset = np.where(curved, 0.5 * (before - after) / np.where(curved, bend, 1.0), 0.0)
    value = np.where(curved, here - 0.25 * (before - after) * offset, rate[rows, k])
    positive = value > 0
    place = 100.0 * (k + offset) / last
    return np.where(positive, value, np.nan), np.where(positive, place, np.nan)
