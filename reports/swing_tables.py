"""Rows about single swings for a terminal: events, corrections, ways to find the hips."""

from collections.abc import Sequence

from norms.records import EventCorrection, Swing
from norms.swing.catalogue import BY_NAME
from norms.swing.compare_hip_methods import HipMethodComparison
from norms.swing.farthest import farthest_places
from norms.vocabulary import AXES, EVENTS
from reports.quantities import DASH, node_words, number, quantity
from reports.tables import Rows

FEATURES_COMPARED = ("sway_travel", "thrust_late_rise", "lift_rise")


def events_table(swing: Swing) -> Rows:
    """Events with their seconds, uncertainty, confidence and method."""
    rows: Rows = [["event", "second", "within", "found by", ""]]
    for event in EVENTS:
        mark = swing.events.mark(event)
        within = f"± {number(mark.uncertainty_s, 3)}" if mark.uncertainty_s else DASH
        stand_in = "stand-in" if mark.stand_in else ""
        rows.append([event, number(mark.time_s, 3), within, mark.method, stand_in])
    return rows


def farthest_table(swing: Swing, *, unit: str) -> Rows:
    """Where each curve is farthest from address, in the order of time."""
    rows: Rows = [["curve", "farthest", "from address", "second", "in the swing"]]
    for place in farthest_places(swing):
        value = quantity(place.value_cm, "cm", unit)
        where = node_words(round(place.node))
        rows.append([place.axis, place.toward, value, number(place.time_s, 3), where])
    return rows


def corrections_table(corrections: Sequence[EventCorrection]) -> Rows:
    """Corrections in the order they were made; the last of an event counts."""
    return [
        ["corrected", "to second", "by", "because"],
        *([c.event, number(c.time_s, 3), c.person, c.reason] for c in corrections),
    ]


def hip_methods_table(comparison: HipMethodComparison, *, unit: str) -> Rows:
    """How far each other method lies from the profile's own: curves at most, and three features."""
    names = [f"{axis}, at most" for axis in AXES] + [
        BY_NAME[name].label for name in FEATURES_COMPARED
    ]
    rows: Rows = [["method", *names]]
    for difference in comparison.differences:
        curves = [quantity(float(v), "cm", unit) for v in difference.largest_cm]
        features = [
            quantity(difference.features[name], "cm", unit) if name in difference.features else DASH
            for name in FEATURES_COMPARED
        ]
        rows.append([difference.method, *curves, *features])
    return rows


def hips_lead(comparison: HipMethodComparison) -> list[str]:
    """What the table of methods compares with what, in a sentence."""
    return [
        f"How far the swing moves by other methods than {comparison.own.pelvis_method}, "
        "which its profile names:"
    ]


def hips_not_possible(comparison: HipMethodComparison) -> list[str]:
    """A sentence for each reason why methods could not be tried, with their names."""
    reasons = dict.fromkeys(comparison.refused.values())
    return [
        f"Not possible here: {', '.join(m for m, r in comparison.refused.items() if r == reason)}; "
        f"{reason}."
        for reason in reasons
    ]
