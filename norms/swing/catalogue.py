"""The features of a swing: name, unit, words and definition. The single source for all of them."""

from dataclasses import dataclass
from typing import Final, Literal

FeatureUnit = Literal["cm", "cm_s", "s", "pct", "ratio"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureInfo:
    """What a feature is called and what it means.

    Attributes
    ----------
    name : str
        Stable name in tables and JSON.
    unit : {"cm", "cm_s", "s", "pct", "ratio"}
        Unit inside; centimetres and cm/s are shown in the reader's unit, pct is percent of the
        downswing.
    label : str
        Short words for a page.
    definition : str
        One sentence.
    axis : {"sway", "thrust", "lift", "path", "time"}
        Heading under which pages list it.
    """

    name: str
    unit: FeatureUnit
    label: str
    definition: str
    axis: str


def _info(axis: str, name: str, unit: FeatureUnit, label: str, definition: str) -> FeatureInfo:
    return FeatureInfo(name=name, unit=unit, label=label, definition=definition, axis=axis)


CATALOGUE: Final[tuple[FeatureInfo, ...]] = (
    _info("sway", "sway_top", "cm", "sway at the top", "Sway at the top."),
    _info(
        "sway",
        "sway_back",
        "cm",
        "farthest back",
        "The lowest sway from start to impact; negative is away from the target.",
    ),
    _info(
        "sway",
        "sway_turn_lead",
        "s",
        "sway turns before the top by",
        "Time of the top minus time of the farthest back; positive: the pelvis leads the club.",
    ),
    _info("sway", "sway_impact", "cm", "sway at impact", "Sway at impact."),
    _info(
        "sway",
        "sway_travel",
        "cm",
        "forward travel",
        "Sway at impact minus the farthest back.",
    ),
    _info(
        "sway",
        "sway_rate_max",
        "cm_s",
        "fastest forward rate",
        "Largest rate toward the target in the downswing.",
    ),
    _info(
        "sway",
        "sway_rate_max_at",
        "pct",
        "fastest forward rate comes at",
        "Where in the downswing the largest forward rate is, in percent of the downswing.",
    ),
    _info(
        "sway",
        "sway_slowing",
        "ratio",
        "slowing before impact",
        "1 minus rate at impact over fastest forward rate: 1 has stopped, 0 still at full rate.",
    ),
    _info(
        "sway",
        "sway_drift",
        "cm",
        "drift after impact",
        "Largest sway in the follow-through minus sway at impact.",
    ),
    _info(
        "sway",
        "sway_settle",
        "cm",
        "settling back by the finish",
        "Largest sway in the follow-through minus sway at the finish.",
    ),
    _info("thrust", "thrust_top", "cm", "thrust at the top", "Thrust at the top."),
    _info(
        "thrust",
        "thrust_back_max",
        "cm",
        "most thrust in the backswing",
        "Largest thrust in the backswing.",
    ),
    _info(
        "thrust",
        "thrust_sit_back",
        "cm",
        "sit back in the downswing",
        "Lowest thrust in the downswing minus thrust at the top; negative: away from the ball.",
    ),
    _info("thrust", "thrust_impact", "cm", "thrust at impact", "Thrust at impact."),
    _info(
        "thrust",
        "thrust_late_rise",
        "cm",
        "late move toward the ball",
        "Thrust at impact minus the lowest thrust in the downswing "
        '(the measure behind "early extension").',
    ),
    _info(
        "thrust",
        "thrust_rate_impact",
        "cm_s",
        "thrust rate at impact",
        "Rate toward the ball at impact.",
    ),
    _info("lift", "lift_top", "cm", "lift at the top", "Lift at the top."),
    _info("lift", "lift_low", "cm", "lowest lift", "The lowest lift from start to impact."),
    _info(
        "lift",
        "lift_low_after_top",
        "s",
        "lowest after the top by",
        "Time of the lowest lift minus time of the top; positive: lowest just after the top.",
    ),
    _info("lift", "lift_impact", "cm", "lift at impact", "Lift at impact."),
    _info("lift", "lift_rise", "cm", "rise to impact", "Lift at impact minus the lowest lift."),
    _info(
        "lift",
        "lift_rate_max",
        "cm_s",
        "fastest upward rate",
        "Largest upward rate in the downswing.",
    ),
    _info(
        "lift",
        "lift_rate_max_at",
        "pct",
        "fastest upward rate comes at",
        "Where in the downswing the largest upward rate is, in percent of the downswing.",
    ),
    _info(
        "lift",
        "lift_after",
        "cm",
        "lift lost after its peak",
        "Lift at the finish minus the largest lift from impact on.",
    ),
    _info(
        "path",
        "turn_order",
        "s",
        "drop ends after sway turns by",
        "Time of the lowest lift minus time of the farthest back; negative: the drop ends first.",
    ),
    _info(
        "path",
        "path_length",
        "cm",
        "length of the path",
        "Length of the point's path in space from start to impact.",
    ),
    _info("time", "backswing_time", "s", "backswing time", "Start to top."),
    _info("time", "downswing_time", "s", "downswing time", "Top to impact."),
    _info("time", "tempo", "ratio", "tempo", "Backswing time over downswing time."),
)

FEATURE_NAMES: Final[tuple[str, ...]] = tuple(info.name for info in CATALOGUE)
BY_NAME: Final[dict[str, FeatureInfo]] = {info.name: info for info in CATALOGUE}
