"""Plain names of patterns from the features by which they differ from other golfers."""

from collections.abc import Sequence
from typing import Final

from norms.records.patterns import PatternFeature
from norms.swing.catalogue import BY_NAME

FEATURES_IN_NAME: Final = 2
PLACES: Final = frozenset(
    {
        "sway_top",
        "sway_back",
        "sway_impact",
        "thrust_top",
        "thrust_back_max",
        "thrust_impact",
        "lift_top",
        "lift_low",
        "lift_impact",
        "lift_after",
    }
)
"""Features that say where the point is, so that more and less are directions."""
DIRECTIONS: Final[dict[str, tuple[str, str]]] = {
    "sway": ("more toward the target", "more away from the target"),
    "thrust": ("more toward the ball", "more away from the ball"),
    "lift": ("higher", "lower"),
}


def plain_name(features: Sequence[PatternFeature]) -> str:
    """Name from the most distinguishing features, at most two of them and of different axes.

    Parameters
    ----------
    features : sequence of PatternFeature
        Most distinguishing first.
    """
    chosen: list[PatternFeature] = []
    for feature in features:
        if BY_NAME[feature.feature].axis not in {BY_NAME[one.feature].axis for one in chosen}:
            chosen.append(feature)
    words = [side_words(one.feature, one.difference > 0) for one in chosen[:FEATURES_IN_NAME]]
    return " and ".join(words) or "like the rest"


def side_words(feature: str, more: bool) -> str:
    """A feature and its side, e.g. "more forward travel" or "lift at impact higher"."""
    info = BY_NAME[feature]
    label = info.label.removesuffix(" by").removesuffix(" at")
    if feature in PLACES:
        return f"{label} {DIRECTIONS[info.axis][0 if more else 1]}"
    if info.unit == "s" and info.axis == "time":
        return f"{'longer' if more else 'shorter'} {label.removesuffix(' time')}"
    if info.unit == "pct":
        return f"{label} {'later' if more else 'earlier'}"
    return f"{'more' if more else 'less'} {label}"
