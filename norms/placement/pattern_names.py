"""Plain names of patterns from the features by which they differ from other golfers."""

from collections.abc import Sequence
from typing import Final

from norms.records.patterns import PatternFeature
from norms.swing.catalogue import BY_NAME
from norms.vocabulary import AXES

FEATURES_IN_NAME: Final = 2
SIDES: Final[dict[str, tuple[str, str]]] = {
    "sway_top": ("closer to the target at the top", "farther from the target at the top"),
    "sway_back": ("goes back less far", "goes back farther"),
    "sway_turn_lead": ("turns to the target earlier", "turns to the target later"),
    "sway_impact": ("farther forward at impact", "less far forward at impact"),
    "sway_travel": ("more forward travel", "less forward travel"),
    "sway_rate_max": ("faster forward", "slower forward"),
    "sway_rate_max_at": ("fastest forward later", "fastest forward earlier"),
    "sway_slowing": ("slows more before impact", "slows less before impact"),
    "sway_drift": ("drifts on farther after impact", "drifts on less after impact"),
    "sway_settle": ("settles back farther", "settles back less"),
    "thrust_top": ("closer to the ball at the top", "farther from the ball at the top"),
    "thrust_back_max": ("more thrust in the backswing", "less thrust in the backswing"),
    "thrust_sit_back": ("sits back less", "sits back farther"),
    "thrust_impact": ("closer to the ball at impact", "farther from the ball at impact"),
    "thrust_late_rise": ("moves in late by more", "moves in late by less"),
    "thrust_rate_impact": ("moving in faster at impact", "moving in slower at impact"),
    "lift_top": ("higher at the top", "lower at the top"),
    "lift_low": ("drops less", "drops farther"),
    "lift_low_after_top": ("lowest later", "lowest earlier"),
    "lift_impact": ("higher at impact", "lower at impact"),
    "lift_rise": ("rises more to impact", "rises less to impact"),
    "lift_rate_max": ("rises faster", "rises more slowly"),
    "lift_rate_max_at": ("rises fastest later", "rises fastest earlier"),
    "lift_after": ("drops less after impact", "drops farther after impact"),
    "turn_order": ("drop ends later", "drop ends earlier"),
    "path_length": ("longer path", "shorter path"),
    "backswing_time": ("longer backswing", "shorter backswing"),
    "downswing_time": ("longer downswing", "shorter downswing"),
    "tempo": ("higher tempo", "lower tempo"),
}
"""Words of each feature for a larger and for a smaller value. Written out, because the sign of a
value seldom is its direction in plain words: more sitting back is a more negative number."""


def plain_name(features: Sequence[PatternFeature]) -> str:
    """Name from the most distinguishing features, at most two of them and of different axes.

    Path and times, which follow from the moves, name a pattern only where no move does.

    Parameters
    ----------
    features : sequence of PatternFeature
        Most distinguishing first.
    """
    moves = [one for one in features if BY_NAME[one.feature].axis in AXES]
    chosen: dict[str, str] = {}
    for one in moves or features:
        words = SIDES[one.feature][0 if one.difference > 0 else 1]
        chosen.setdefault(BY_NAME[one.feature].axis, words)
    return " and ".join(list(chosen.values())[:FEATURES_IN_NAME]) or "like the rest"
