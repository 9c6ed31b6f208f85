"""What a placement says beside its bands: the whole curve, and golfers of the same handicap."""

from norms.records import Excursion, Placement
from norms.records.centile_readings import CentilePlace
from norms.units import CM_PER_UNIT
from reports.phrases import brief, phrase
from reports.quantities import (
    DASH,
    handicap_words,
    node_words,
    number,
    percent_of,
    plural,
)
from reports.sentences import sentence_case, value_words, whole_sentence


def whole_curve_sentences(placement: Placement, unit: str) -> list[str]:
    """Where the three curves leave the peers' whole-curve band, and for how long.

    Parameters
    ----------
    placement : Placement
    unit : {"in", "cm"}

    Returns
    -------
    list of str
        Empty where the placement says nothing of it.
    """
    place = placement.whole_curve
    if place is None:
        return []
    if place.bands is None or place.outside_s is None:
        return [f"No whole-curve band: {place.withheld}."]
    band = f"the band for {percent_of(place.level)} of peers’ whole curves"
    if not place.excursions:
        said = [f"Taken together from start to finish, the three curves stay inside {band}."]
    else:
        said = [
            f"Taken together, the three curves are outside {band} for "
            f"{number(1000.0 * place.outside_s, 0)} ms in all.",
            *(_excursion_words(one, unit) for one in place.excursions),
        ]
    return [*said, whole_sentence(sentence_case(place.caution))] if place.caution else said


def _excursion_words(one: Excursion, unit: str) -> str:
    side = "above" if one.beyond_cm > 0 else "below"
    beyond = number(abs(one.beyond_cm) / CM_PER_UNIT[unit], 1)
    stretch = node_words(one.first_node)
    if one.last_node != one.first_node:
        stretch = f"from {_bare(one.first_node)} to {_bare(one.last_node)}"
    return (
        f"{one.axis.capitalize()} lies {side} it {stretch}, {number(1000.0 * one.seconds, 0)} ms, "
        f"by up to {beyond} {unit} {node_words(one.worst_node)}."
    )


def _bare(node: int) -> str:
    return node_words(node).removeprefix("at ")


def handicap_table(placement: Placement, unit: str) -> dict[str, object] | None:
    """Every feature among golfers of the same handicap; None where there is no such place."""
    places = placement.by_handicap
    if not places:
        return None
    shown = [place for place in places if place.z is not None]
    return {
        "title": f"Among golfers of handicap {handicap_words(places[0].handicap)}",
        "confidence": percent_of(places[0].confidence),
        "holds": "few swings and few golfers"
        if any(place.value_error is not None for place in shown)
        else "few golfers",
        "rows": [
            {
                "subject": phrase(place.name).subject,
                "value": brief(value_words(place.name, place.value, unit)),
                "near": plural(place.golfers, "golfer"),
                "z": _z_words(place),
                "percentile": _percentile_words(
                    place.percentile, place.percentile_low, place.percentile_high
                ),
            }
            for place in shown
        ],
        "withheld": sorted({whole_sentence(p.withheld) for p in places if p.withheld}),
    }


def _z_words(place: CentilePlace) -> str:
    if place.z is None or place.z_error is None:
        return DASH
    return f"{number(place.z, 1)} ± {number(place.z_error, 1)}"


def at_handicap(placement: Placement, feature: str) -> str:
    """Percentile of a feature at the golfer's own handicap with its interval; "" where none."""
    for place in placement.by_handicap:
        if place.name == feature and place.percentile is not None:
            return _percentile_words(place.percentile, place.percentile_low, place.percentile_high)
    return ""


def _percentile_words(value: float | None, low: float | None, high: float | None) -> str:
    if value is None or low is None or high is None:
        return DASH
    return f"{number(value, 0)} ({number(low, 0)} to {number(high, 0)})"
