"""Sentences about one value read off the centiles by handicap."""

from norms.cohort.value_reading import ValueReading
from norms.records.centile_readings import CentilePlace, MedianHandicap
from norms.swing.catalogue import BY_NAME
from reports.phrases import phrase
from reports.quantities import handicap_words, number, percent_of, plural, quantity


def value_sentences(reading: ValueReading, *, unit: str) -> list[str]:
    """What the centiles say of the value, first whose median it is.

    Parameters
    ----------
    reading : ValueReading
    unit : {"in", "cm"}

    Returns
    -------
    list of str
    """
    shown = quantity(reading.value, BY_NAME[reading.feature].unit, unit)
    who = [reading.club]
    if "female" in reading.given:
        who.append("women" if reading.given["female"] else "men")
    if "age" in reading.given:
        who.append(f"age {reading.given['age']:.0f}")
    sentences = [
        f"{phrase(reading.feature).subject} {shown}, {', '.join(who)}; edition {reading.edition}, "
        f"{plural(reading.golfers, 'golfer')} with a handicap."
    ]
    if reading.medians:
        sure = percent_of(reading.confidence)
        sentences += [_median_words(one, sure) for one in reading.medians]
    else:
        sentences.append(_no_median_words(reading, unit))
    if reading.place is not None:
        sentences.append(_place_words(reading.place))
    sentences.append("A median is what golfers of a handicap do, not what makes the handicap.")
    return sentences


def _median_words(met: MedianHandicap, sure: str) -> str:
    low = ("at most " if met.open_low else "") + handicap_words(met.low)
    high = handicap_words(met.high) + (" or more" if met.open_high else "")
    at = handicap_words(met.handicap)
    return f"Half do more and half less at handicap {at} ({sure} interval {low} to {high})."


def _no_median_words(reading: ValueReading, unit: str) -> str:
    kind = BY_NAME[reading.feature].unit
    low, high = (quantity(x, kind, unit) for x in (reading.median_low, reading.median_high))
    ends = " to ".join(handicap_words(x) for x in (reading.handicap_low, reading.handicap_high))
    return (
        f"It is the median of no handicap that golfers support: from {ends} the medians lie "
        f"between {low} and {high}."
    )


def _place_words(place: CentilePlace) -> str:
    at = f"At handicap {handicap_words(place.handicap)}"
    if place.withheld is not None or place.percentile is None or place.z is None:
        return f"{at}: {place.withheld}"
    low, high = (number(x or 0.0, 0) for x in (place.percentile_low, place.percentile_high))
    return (
        f"{at}: more than {number(place.percentile, 0)} of 100 golfers "
        f"({percent_of(place.confidence)} interval {low} to {high}), "
        f"z {number(place.z, 2)} with standard error {number(place.z_error or 0.0, 2)}; "
        f"{plural(place.golfers, 'golfer')} near that handicap."
    )
