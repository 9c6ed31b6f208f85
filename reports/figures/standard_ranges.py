"""Ranges of a standard as pictures: on the phase axis over the norm, and as strips.

The norm is tinted, as everywhere; the target is drawn in ink, as brackets and boxes, so that the
two cannot be taken for one another in colour or in grey.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Final

from norms.records import Bands
from norms.records.standard import Requirement, Standard
from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES, AXIS_ENDS, EVENT_NODES, NODES
from reports.figures.bands import draw_bands, draw_events, name_phases, shown_curves, signed_ticks
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.quantities import check_unit, plural
from reports.standard_words import norm_words, subject, target_words
from reports.style import INK, MUTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

AT_EVENTS: Final[dict[str, tuple[str, int]]] = {
    f"{axis}_{event}": (axis, EVENT_NODES[event]) for axis in AXES for event in ("top", "impact")
}
"""Features that are a position at an event: they have a place on the phase axis."""

_WIDTH, _LEFT, _RIGHT = 400.0, 34.0, 10.0
_HEAD, _PANEL, _BETWEEN, _FOOT = 22.0, 110.0, 32.0, 36.0
_STEP = 2
_CAP = 5.0  # nodes; half the width of a bracket's ends
_STRIP_WIDTH, _STRIP_HEIGHT, _STRIP_MIDDLE = 160, 20, 10


def on_phase_axis(requirement: Requirement) -> tuple[str, int, int] | None:
    """Axis and nodes where a requirement is drawn; None for what has no place there."""
    asked = requirement.quantity
    if asked.axis is not None:
        return asked.axis, asked.first_node, asked.last_node
    place = AT_EVENTS.get(asked.feature or "")
    return (place[0], place[1], place[1]) if place else None


def standard_figure(
    standard: Standard, bands: Bands | None, *, unit: str, name: str = "ranges"
) -> str:
    """Three panels on one phase axis: the norm tinted, what is asked in ink.

    Parameters
    ----------
    standard : Standard
    bands : Bands or None
        Of the evidence.
    unit : {"in", "cm"}
    name : str, optional
        Identifier, unique on the page.

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    check_unit(unit)
    height = _HEAD + 3 * _PANEL + 2 * _BETWEEN + _FOOT
    with drawing(name):
        figure = new_figure(_WIDTH, height)
        for place in range(len(AXES)):
            top = _HEAD + place * (_PANEL + _BETWEEN)
            box = (
                _LEFT / _WIDTH,
                1 - (top + _PANEL) / height,
                (_WIDTH - _LEFT - _RIGHT) / _WIDTH,
                _PANEL / height,
            )
            draw_panel(figure, box, place, standard, bands, unit)
        return inline_svg(
            figure,
            name=name,
            title="What is asked, on the phases of the swing",
            description=_description(standard, bands, unit),
        )


def draw_panel(
    figure: "Figure",
    box: tuple[float, float, float, float],
    axis: int,
    standard: Standard,
    bands: Bands | None,
    unit: str,
) -> None:
    """Draw one axis into a figure, for a page or for a sheet of paper."""
    panel = figure.add_axes(box)
    draw_events(panel)
    if bands is not None:
        draw_bands(panel, shown_curves(bands, axis, unit), _STEP)
    panel.set_xlim(0, NODES - 1)
    placed = [
        (requirement, place)
        for requirement in standard.requirements
        if (place := on_phase_axis(requirement)) is not None and place[0] == AXES[axis]
    ]
    _make_room(panel, [requirement for requirement, _ in placed], unit)
    for requirement, (_, first, last) in placed:
        _draw_target(panel, requirement, first, last, unit)
    _name_panel(panel, AXES[axis], unit)
    name_phases(panel, last=axis == len(AXES) - 1, below=19)


def _make_room(panel: "Axes", requirements: Sequence[Requirement], unit: str) -> None:
    low, high = panel.get_ylim()
    for one in requirements:
        ends = [end / CM_PER_UNIT[unit] for end in (one.low, one.high) if end is not None]
        low, high = min(low, *ends), max(high, *ends)
    air = 0.12 * (high - low)
    panel.set_ylim(low - air, high + air)
    signed_ticks(panel, most=4, within=(low - air, high + air))


def _draw_target(panel: "Axes", one: Requirement, first: int, last: int, unit: str) -> None:
    """A bracket at an event, a box over a stretch; an open side ends in an arrow at the edge."""
    low, high = (None if end is None else end / CM_PER_UNIT[unit] for end in (one.low, one.high))
    floor, ceiling = panel.get_ylim()
    left, right = (first - _CAP, last + _CAP) if first == last else (first, last)
    for end in (low, high):
        if end is not None:
            panel.plot([left, right], [end, end], color=INK, linewidth=2.2, clip_on=False)
    bottom = floor if low is None else low
    top = ceiling if high is None else high
    sides = [(left + right) / 2] if first == last else [left, right]
    for x in sides:
        panel.plot([x, x], [bottom, top], color=INK, linewidth=1.4, clip_on=False)
    for end, marker, y in ((low, "v", floor), (high, "^", ceiling)):
        if end is None:
            panel.plot(
                [(left + right) / 2], [y], marker=marker, color=INK, markersize=6, clip_on=False
            )


def _name_panel(panel: "Axes", axis: str, unit: str) -> None:
    positive, negative = AXIS_ENDS[axis]
    panel.annotate(
        f"{axis.capitalize()}, {unit}",
        (0, 1),
        xytext=(-_LEFT + 2, 8),
        xycoords="axes fraction",
        textcoords="offset points",
        fontsize=12,
        weight="bold",
    )
    panel.annotate(
        f"↑ {positive}   ↓ {negative}",
        (1, 1),
        xytext=(0, 8),
        xycoords="axes fraction",
        textcoords="offset points",
        fontsize=9.5,
        ha="right",
        color=MUTED,
    )
    panel.tick_params(length=0, pad=4)
    panel.spines[["left", "bottom"]].set_visible(False)


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPlaces:
    """Where the parts of a strip stand, from 0 at its left end to 1; None where there is none."""

    norm_low: float | None
    norm_high: float | None
    median: float | None
    low: float | None
    high: float | None


def strip_places(requirement: Requirement) -> StripPlaces:
    """Norm and target of one requirement on a scale of their own, with air at both ends."""
    norm = requirement.norm
    known = [
        value
        for value in (norm.low, norm.high, norm.median, requirement.low, requirement.high)
        if value is not None
    ]
    least, most = min(known), max(known)
    span = (most - least) or 1.0

    def at(value: float | None) -> float | None:
        return None if value is None else 0.12 + 0.76 * (value - least) / span

    return StripPlaces(
        norm_low=at(norm.low),
        norm_high=at(norm.high),
        median=at(norm.median),
        low=at(requirement.low),
        high=at(requirement.high),
    )


def range_strip(requirement: Requirement, unit: str) -> str:
    """One requirement as a strip: the norm a tinted bar, its median a tick, the target in ink."""
    places = strip_places(requirement)

    def x(place: float | None, otherwise: float = 0.0) -> float:
        return _STRIP_WIDTH * (otherwise if place is None else place)

    parts = [f'<path class="strip-line" d="M0 {_STRIP_MIDDLE}H{_STRIP_WIDTH}"/>']
    if places.norm_low is not None and places.norm_high is not None:
        width = x(places.norm_high) - x(places.norm_low)
        parts.append(
            f'<rect class="strip-range" x="{x(places.norm_low):.1f}" y="4" width="{width:.1f}" '
            'height="12"/>'
        )
    if places.median is not None:
        parts.append(f'<path class="strip-median" d="M{x(places.median):.1f} 3V17"/>')
    left, right = x(places.low, 0.0), x(places.high, 1.0)
    ends = "".join(
        f"M{at:.1f} 2V18" for place, at in ((places.low, left), (places.high, right)) if place
    )
    parts.append(f'<path class="strip-target" d="M{left:.1f} {_STRIP_MIDDLE}H{right:.1f}{ends}"/>')
    name = f"strip-{requirement.quantity.key}".replace("@", "-")
    title = escape(f"{subject(requirement.quantity)}: {target_words(requirement, unit)}")
    described = escape(norm_words(requirement, unit))
    return (
        f'<svg class="strip" viewBox="0 0 {_STRIP_WIDTH} {_STRIP_HEIGHT}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc"><title id="{name}-title">{title}</title>'
        f'<desc id="{name}-desc">{described}</desc>{"".join(parts)}</svg>'
    )


def _description(standard: Standard, bands: Bands | None, unit: str) -> str:
    drawn = [
        f"{subject(one.quantity)} {target_words(one, unit)}"
        for one in standard.requirements
        if on_phase_axis(one) is not None
    ]
    group = (
        "Tinted bands and a dotted median show what "
        f"{plural(bands.golfers, 'golfer')} of the evidence do"
        if bands is not None
        else "No norm is drawn"
    )
    asked = "; ".join(drawn) or "nothing of what is asked has a place on the phase axis"
    return f"{group}; brackets and boxes in ink show what is asked: {asked}."
