"""Findings in words. Pure text: numbers come from the records, nothing is judged.

A reference describes a group. No sentence here says what a golfer ought to do.
"""

from typing import Final

from norms.records import FeaturePlace, Placement
from norms.records.golfer_place import SurePlace
from norms.swing.catalogue import BY_NAME
from reports.phrases import phrase
from reports.quantities import MINUS, digits, number, quantity, unit_words

AT_THIS_LEVEL: Final = "golfers at this level"
OF_ALL_LEVELS: Final = "golfers of all levels"

STANDING_CAUTIONS: Final[tuple[str, ...]] = (
    "The peers' range describes a group of golfers. It is not a target.",
    "With this many features some fall outside the peers' range in almost every golfer.",
    "That better players move in some way does not mean that moving so makes a player better: "
    "association is not cause.",
    "A change to the swing loads the back and the hips. With pain or after an injury, a licensed "
    "physician or physiotherapist comes first.",
    "With juniors, who are still growing, a qualified coach decides what is changed and how much "
    "is practised.",
)


def sentence_case(text: str) -> str:
    """Text with its first letter raised."""
    return text[:1].upper() + text[1:]


def whole_sentence(text: str) -> str:
    """Text with its first letter raised and a full stop at its end."""
    return sentence_case(text.rstrip(".")) + "."


def value_words(feature: str, value: float, unit: str, *, finer: int = 0) -> str:
    """A value with its sign in words, e.g. "2.0 in away from the target".

    Parameters
    ----------
    feature : str
        Name in the catalogue.
    value : float
        In the catalogue's unit.
    unit : {"in", "cm"}
        The reader's unit of length.
    finer : int, optional
        Decimals beyond the usual, where numbers that are close stand side by side.
    """
    text = quantity(value, BY_NAME[feature].unit, unit, finer=finer)
    words = phrase(feature)
    if not words.negative:
        return f"{text} {words.positive}".rstrip()
    if _rounds_to_nothing(text):
        return words.zero or text
    if text.startswith(MINUS):
        return f"{text.removeprefix(MINUS)} {words.negative}"
    return f"{text} {words.positive}"


def change_amount(feature: str, change: float, unit: str) -> str:
    """How much a value changed and which way, e.g. "0.5 in lower"."""
    text = quantity(change, BY_NAME[feature].unit, unit)
    if _rounds_to_nothing(text):
        return text
    return f"{text.removeprefix(MINUS)} {phrase(feature).way(upward=change > 0)}"


def range_words(feature: str, low: float, high: float, unit: str, *, finer: int = 0) -> str:
    """A range with its signs in words, e.g. "1.2 to 2.9 in away from the target"."""
    kind, words = BY_NAME[feature].unit, phrase(feature)
    if _two_sided(feature, low, high, unit):
        ends = [value_words(feature, end, unit, finer=finer) for end in (low, high)]
        return " to ".join(ends)
    ends, side = [digits(end, kind, unit, finer=finer) for end in (low, high)], words.positive
    if words.negative and ends[0].startswith(MINUS):
        ends, side = [end.removeprefix(MINUS) for end in reversed(ends)], words.negative
    span = f"{ends[0]} to {ends[1]} {unit_words(kind, unit)}".rstrip()
    return f"{span} {side}".rstrip()


def _rounds_to_nothing(text: str) -> bool:
    return not any(digit in text for digit in "123456789")


def _two_sided(feature: str, low: float, high: float, unit: str) -> bool:
    """Whether a range of a feature with words for its sign lies on both sides, as rounded."""
    kind = BY_NAME[feature].unit
    shown_high = digits(high, kind, unit)
    return (
        bool(phrase(feature).negative)
        and digits(low, kind, unit).startswith(MINUS)
        and not shown_high.startswith(MINUS)
        and not _rounds_to_nothing(shown_high)
    )


def count_words(place: FeaturePlace, group: str | None = None) -> str:
    """Where a value falls, as a count, e.g. "more than 17 of 20 golfers at this level".

    The count named is the larger side: the peers with a smaller value, or those with a larger
    one. Equal values are told apart. Among golfers of another academy nobody can be counted, and
    the percentile stands instead, e.g. "at the 62nd percentile of 20 golfers at this level".

    Raises
    ------
    ValueError
        If the place has no value or no percentile: there is then nothing to count.
    """
    if place.value is None or place.about is None:
        raise ValueError(f"{place.feature}: no place to put in words")
    if place.below is None or place.equal is None:
        return _read_words(place, place.value, place.about, f" {group}" if group else "")
    above = place.peers - place.below - place.equal
    who = f" {group}" if group else ""
    if place.equal == place.peers:
        return f"the same as all {place.peers}{who}"
    if place.below == above:
        return f"in the middle of {place.peers}{who}, {place.below} on either side"
    upward = place.below > above
    count = place.below if upward else above
    comparative = phrase(place.feature).comparative(place.value, upward=upward)
    share = f"all {place.peers}" if count == place.peers else f"{count} of {place.peers}"
    same = f", the same as {place.equal}" if place.equal else ""
    return f"{comparative} than {share}{who}{same}"


def _read_words(place: FeaturePlace, value: float, about: float, who: str) -> str:
    """A place read off published percentiles; beyond them only the side and the outermost one."""
    point = f"the {ordinal(about)} percentile of {place.peers}{who}"
    if place.beyond is None:
        return f"at {point}"
    comparative = phrase(place.feature).comparative(value, upward=place.beyond.side == "above")
    return f"{comparative} than {point}"


def ordinal(value: float) -> str:
    """A rounded number as a rank, e.g. "62nd"."""
    rank = round(value)
    ending = {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th")
    return f"{rank}{'th' if rank % 100 in (11, 12, 13) else ending}"


def peers_summary(place: FeaturePlace, unit: str) -> str | None:
    """Range and median in few words, e.g. "0.6 to 1.3 in toward the ball, median 1.0"."""
    low, median, high = place.peers_low, place.peers_median, place.peers_high
    if median is None:
        return None
    if place.range_percents is None or low is None or high is None:
        return f"median {value_words(place.feature, median, unit)}"
    if _two_sided(place.feature, low, high, unit):
        middle = value_words(place.feature, median, unit)
    else:
        middle = digits(median, BY_NAME[place.feature].unit, unit)
        middle = middle.removeprefix(MINUS) if phrase(place.feature).negative else middle
    return f"{range_words(place.feature, low, high, unit)}, median {middle}"


def percentile_words(sure: SurePlace) -> str | None:
    """Percentile with its whole interval, or what it lies beyond; None where there is neither.

    E.g. "85 (70 to 94)", "below 5 (0 to 12)".
    """
    about = sure.percentile if sure.beyond is None else sure.beyond.percent
    if about is None or sure.low is None or sure.high is None:
        return None
    side = f"{sure.beyond.side} " if sure.beyond else ""
    return f"{side}{number(about, 0)} ({number(sure.low, 0)} to {number(sure.high, 0)})"


def outside_range(place: FeaturePlace) -> bool:
    """Whether the value lies beyond the peers' shown range; False where no range is shown."""
    if place.value is None or place.peers_low is None or place.peers_high is None:
        return False
    return not place.peers_low <= place.value <= place.peers_high


def group_words(placement: Placement) -> str:
    """Words for the peers of a placement."""
    if "/" not in placement.cohort_key:  # the key of a named cohort is its name
        return f"golfers of “{placement.cohort_label}”"
    return OF_ALL_LEVELS if placement.cohort_key.endswith("/all") else AT_THIS_LEVEL


def withheld_sentence(placement: Placement) -> str:
    """Why no place among peers is given; empty where one is."""
    if placement.withheld is None:
        return ""
    return f"No place among peers is given: {placement.withheld.rstrip('.')}."
