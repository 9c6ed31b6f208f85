"""A strip for one feature: the peers' range a bar, their median a tick, the swing a dot."""

from html import escape

from norms.records import FeaturePlace
from reports.phrases import phrase
from reports.sentences import outside_range, range_words, value_words

_WIDTH, _HEIGHT, _MIDDLE = 120, 18, 9
_LOW, _HIGH = 36, 84  # every strip's bar stands at the same place, so that dots can be compared
_EDGE = 8


def place_strip(place: FeaturePlace, unit: str) -> str | None:
    """An ``<svg>`` element, or None where the value or the peers' range is missing.

    A value too far out for the strip is drawn as an arrowhead at its edge.
    """
    low, high, median = place.peers_low, place.peers_high, place.peers_median
    if place.value is None or low is None or high is None or median is None or not high > low:
        return None

    def x_of(value: float) -> float:
        return _LOW + (value - low) / (high - low) * (_HIGH - _LOW)

    name = f"strip-{place.feature}"
    x = x_of(place.value)
    side = "outside" if outside_range(place) else "inside"
    title = f"{phrase(place.feature).subject}: {side} the peers' range"
    description = (
        f"{value_words(place.feature, place.value, unit)}; "
        f"peers {range_words(place.feature, low, high, unit)}, "
        f"median {value_words(place.feature, median, unit)}."
    )
    return (
        f'<svg class="strip" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc">'
        f'<title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(description)}</desc>'
        f'<path class="strip-line" d="M0 {_MIDDLE}H{_WIDTH}"/>'
        f'<rect class="strip-range" x="{_LOW}" y="4" width="{_HIGH - _LOW}" height="10"/>'
        f'<path class="strip-median" d="M{x_of(median):.1f} 2V16"/>{_mark(x)}</svg>'
    )


def _mark(x: float) -> str:
    if x < _EDGE:
        return f'<path class="strip-swing" d="M1 {_MIDDLE}l8 -5v10z"/>'
    if x > _WIDTH - _EDGE:
        return f'<path class="strip-swing" d="M{_WIDTH - 1} {_MIDDLE}l-8 -5v10z"/>'
    return f'<circle class="strip-swing" cx="{x:.1f}" cy="{_MIDDLE}" r="4.5"/>'
