"""How an association is spoken of: so much more of this goes with so much speed."""

from dataclasses import dataclass
from typing import Final, Literal

from norms.records.study_answer import Effect, FeatureModel, JointEffect
from norms.units import CM_PER_UNIT, MPS_PER_UNIT
from reports.quantities import number

SpeedUnit = Literal["mph", "mps"]
SPEED_WORDS: Final = {"mph": "mph", "mps": "m/s"}
PART_WORDS: Final = {"within": "within a golfer", "between": "between golfers"}

MORE: Final[dict[str, str]] = {
    "sway_top": "more sway toward the target at the top",
    "sway_back": "less sway away from the target where it is farthest back",
    "sway_turn_lead": "earlier turn of sway toward the target",
    "sway_impact": "more sway toward the target at impact",
    "sway_travel": "more forward travel",
    "sway_rate_max": "more forward rate at its fastest",
    "sway_rate_max_at": "later fastest forward rate",
    "sway_slowing": "more slowing before impact",
    "sway_drift": "more drift after impact",
    "sway_settle": "more settling back by the finish",
    "thrust_top": "more thrust toward the ball at the top",
    "thrust_back_max": "more thrust toward the ball in the backswing",
    "thrust_sit_back": "less sit back in the downswing",
    "thrust_impact": "more thrust toward the ball at impact",
    "thrust_late_rise": "more late move toward the ball",
    "thrust_rate_impact": "more thrust rate at impact",
    "lift_top": "more lift at the top",
    "lift_low": "less drop where lift is lowest",
    "lift_low_after_top": "later lowest lift",
    "lift_impact": "more lift at impact",
    "lift_rise": "more rise to impact",
    "lift_rate_max": "more upward rate at its fastest",
    "lift_rate_max_at": "later fastest upward rate",
    "lift_after": "less lift lost after its peak",
    "turn_order": "later end of the drop, as against the turn of sway",
    "path_length": "longer path of the pelvis to impact",
    "backswing_time": "longer backswing",
    "downswing_time": "longer downswing",
    "tempo": "more tempo (backswing over downswing)",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """How much more of a feature a sentence speaks of.

    Attributes
    ----------
    amount : float
        In the unit inside.
    words : str
        E.g. ``"1 in"``.
    """

    amount: float
    words: str


def step_of(unit: str, length: str) -> Step:
    """The step of a feature's unit, in the reader's unit of length.

    Parameters
    ----------
    unit : str
        As the catalogue has it, ``"share"`` for a pattern, or a word of another table.
    length : {"in", "cm"}
    """
    if unit == "cm":
        return Step(amount=CM_PER_UNIT[length], words=f"1 {length}")
    if unit == "cm_s":
        return Step(amount=10.0 * CM_PER_UNIT[length], words=f"10 {length}/s")
    steps = {
        "s": Step(amount=0.05, words="0.05 s"),
        "pct": Step(amount=10.0, words="10 points"),
        "ratio": Step(amount=0.1, words="0.1"),
        "share": Step(amount=1.0, words="all"),
    }
    return steps.get(unit, Step(amount=1.0, words=f"1 {unit}"))


def more_words(model: FeatureModel | JointEffect, length: str) -> str:
    """Step and direction, e.g. "1 in more forward travel"."""
    if model.unit == "share":
        return f"swinging in {model.label}"
    more = MORE.get(model.feature, f"more {model.label}")
    return f"{step_of(model.unit, length).words} {more}"


def signed_speed(value_mps: float, unit: SpeedUnit) -> str:
    """Speed with its sign and one decimal, or two below a tenth, without unit."""
    value = value_mps / MPS_PER_UNIT[unit]
    decimals = 1 if abs(value) >= 0.095 else 2
    text = number(value, decimals)
    return f"+{text}" if value > 0 and any(d in text for d in "123456789") else text


def speed_words(value_mps: float, unit: SpeedUnit) -> str:
    """Speed with one decimal and unit."""
    return f"{number(value_mps / MPS_PER_UNIT[unit], 1)} {SPEED_WORDS[unit]}"


def effect_numbers(effect: Effect, step: Step, unit: SpeedUnit) -> str | None:
    """E.g. "+0.6 mph, 95 % CI 0.2 to 1.0", or None where there is no effect to state."""
    if effect.slope is None or effect.low is None or effect.high is None:
        return None
    ends = [
        signed_speed(limit * step.amount, unit).removeprefix("+")
        for limit in (effect.low, effect.high)
    ]
    value = signed_speed(effect.slope * step.amount, unit)
    return f"{value} {SPEED_WORDS[unit]}, 95 % CI {ends[0]} to {ends[1]}"


def effect_sentence(
    model: FeatureModel, part: Literal["within", "between"], length: str, unit: SpeedUnit
) -> str:
    """One effect in words that a coach understands.

    E.g. "One inch more forward travel goes with +0.6 mph within a golfer, 95 % CI 0.2 to 1.0".
    """
    effect = model.effect(part)
    step = step_of(model.unit, length)
    numbers = effect_numbers(effect, step, unit)
    subject = _at_the_start(more_words(model, length))
    if numbers is None:
        return f"{subject}: nothing can be said {PART_WORDS[part]}, as it {effect.reason}."
    value, _, interval = numbers.partition(", ")
    return f"{subject} goes with {value} {PART_WORDS[part]}, {interval}."


def _at_the_start(words: str) -> str:
    for short, spelt in (("1 in ", "One inch "), ("1 cm ", "One centimetre ")):
        if words.startswith(short):
            return spelt + words.removeprefix(short)
    return words[:1].upper() + words[1:]


def reversal_sentence(model: FeatureModel) -> str:
    """That both parts point in opposite directions, and what follows."""
    faster, slower = ("within a golfer", "between golfers")
    if (model.within.slope or 0.0) < 0:
        faster, slower = slower, faster
    return (
        f"{model.label[:1].upper()}{model.label[1:]}: two opposite effects. More of it goes with "
        f"more speed {faster} and with less speed {slower}. No single number can stand for both."
    )


def p_words(p_value: float | None) -> str:
    """P value as a table shows it."""
    if p_value is None:
        return "–"
    return "< 0.001" if p_value < 0.001 else number(p_value, 3)
