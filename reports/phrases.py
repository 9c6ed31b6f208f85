"""How each feature is spoken of: its subject, the direction of its sign, and its comparatives."""

import re
from dataclasses import dataclass
from typing import Final

from norms.swing.catalogue import BY_NAME

_THING = re.compile(r" (?:from )?the (?:target|ball)\b|(?<=above|below) address\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """Words around the number of one feature.

    Attributes
    ----------
    subject : str
        Begins the sentence, e.g. ``"Forward travel"``.
    positive, negative : str
        What follows the number by its sign, e.g. ``"toward the target"``. Where both are empty
        the sign, if any, is printed.
    zero : str
        Stands for the number where it rounds to nothing, e.g. ``"at the top"``.
    more, less : str
        Comparatives for a larger and a smaller value, e.g. ``"later"`` and ``"earlier"``.
    directed : bool
        True where the comparative follows the direction: of two values away from the target the
        smaller is "farther away from the target".
    """

    subject: str
    positive: str = ""
    negative: str = ""
    zero: str = ""
    more: str = "more"
    less: str = "less"
    directed: bool = False

    def comparative(self, value: float, *, upward: bool) -> str:
        """Words for lying above (``upward``) or below other values of the same feature."""
        if not self.directed:
            return self.more if upward else self.less
        toward = value > 0 or (value == 0 and upward)
        degree = self.more if upward == toward else self.less
        return f"{degree} {self.positive if toward else self.negative}"

    def way(self, *, upward: bool) -> str:
        """Words for the way in which a value changed, e.g. "lower", "toward the target"."""
        if self.directed:
            return self.positive if upward else self.negative
        return self.more if upward else self.less


def _way(subject: str, thing: str) -> Phrase:
    return Phrase(
        subject=subject,
        positive=f"toward the {thing}",
        negative=f"away from the {thing}",
        more="farther",
        less="less far",
        directed=True,
    )


def _height(subject: str, reference: str = "address") -> Phrase:
    return Phrase(
        subject=subject,
        positive=f"above {reference}",
        negative=f"below {reference}",
        more="higher",
        less="lower",
    )


def _moment(
    subject: str, positive: str, negative: str = "", zero: str = "", *, lead: bool = False
) -> Phrase:
    more, less = ("earlier", "later") if lead else ("later", "earlier")
    return Phrase(
        subject=subject, positive=positive, negative=negative, zero=zero, more=more, less=less
    )


def _rate(subject: str) -> Phrase:
    return Phrase(subject=subject, more="faster", less="slower")


def _length(subject: str) -> Phrase:
    return Phrase(subject=subject, more="longer", less="shorter")


PHRASES: Final[dict[str, Phrase]] = {
    "sway_top": _way("Sway at the top", "target"),
    "sway_back": _way("Farthest back", "target"),
    "sway_turn_lead": _moment(
        "Sway turns toward the target", "before the top", "after the top", "at the top", lead=True
    ),
    "sway_impact": _way("Sway at impact", "target"),
    "sway_travel": Phrase(subject="Forward travel"),
    "sway_rate_max": _rate("Fastest forward rate"),
    "sway_rate_max_at": _moment("Fastest forward rate comes", "into the downswing"),
    "sway_slowing": Phrase(subject="Slowing before impact"),
    "sway_drift": Phrase(subject="Drift after impact"),
    "sway_settle": Phrase(subject="Settling back by the finish"),
    "thrust_top": _way("Thrust at the top", "ball"),
    "thrust_back_max": _way("Most thrust in the backswing", "ball"),
    "thrust_sit_back": _way("Sit back in the downswing", "ball"),
    "thrust_impact": _way("Thrust at impact", "ball"),
    "thrust_late_rise": Phrase(subject="Late move toward the ball"),
    "thrust_rate_impact": Phrase(
        subject="Thrust rate at impact",
        positive="toward the ball",
        negative="away from the ball",
        more="faster",
        less="less fast",
        directed=True,
    ),
    "lift_top": _height("Lift at the top"),
    "lift_low": _height("Lowest lift"),
    "lift_low_after_top": _moment(
        "Lowest lift comes", "after the top", "before the top", "at the top"
    ),
    "lift_impact": _height("Lift at impact"),
    "lift_rise": Phrase(subject="Rise to impact"),
    "lift_rate_max": _rate("Fastest upward rate"),
    "lift_rate_max_at": _moment("Fastest upward rate comes", "into the downswing"),
    "lift_after": _height("Lift at the finish", "its peak"),
    "turn_order": _moment(
        "The drop ends", "after sway turns", "before sway turns", "as sway turns"
    ),
    "path_length": _length("Path of the pelvis to impact"),
    "backswing_time": _length("Backswing"),
    "downswing_time": _length("Downswing"),
    "tempo": Phrase(subject="Tempo", more="higher", less="lower"),
}


def phrase(feature: str) -> Phrase:
    """Words of a feature; one that has none of its own is spoken of by its catalogue label."""
    if feature in PHRASES:
        return PHRASES[feature]
    label = BY_NAME[feature].label
    return Phrase(subject=label[:1].upper() + label[1:])


def brief(text: str) -> str:
    """Words without target, ball and address, for a table whose heading names the axis."""
    return _THING.sub("", text)
