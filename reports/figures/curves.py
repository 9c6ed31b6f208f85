"""The placement figure: a swing's three curves on the bands of its peers."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from norms.records import Placement
from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES, AXIS_ENDS, EVENT_NODES, NODES
from reports.figures.bands import (
    Curves,
    draw_bands,
    draw_events,
    name_phases,
    shown_curves,
    signed_ticks,
)
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.quantities import check_unit, plural
from reports.sentences import value_words
from reports.style import GOLFER, GOLFER_LINE, MEDIAN, MUTED, PAPER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH, _LEFT, _RIGHT = 400.0, 34.0, 62.0
_HEAD, _BETWEEN, _FOOT, _PANELS = 24.0, 34.0, 38.0, 420.0
_STEP = 2  # every second node is drawn; 2 divides 100, so every event keeps its node
_SMALLEST_SHARE = 0.35  # of the tallest panel's span, so that no panel becomes a sliver
_AIR = 17.0  # above and below the curves of a panel, for the words at the ends of its axis
_LABEL_GAP = 13.0
_TALL = 150.0


def placement_figure(
    placement: Placement, this: str = "this swing", *, unit: str, name: str = "curves"
) -> str:
    """Three panels on one phase axis: the peers' bands and the swing's curves.

    One length is equally tall in all panels. A withheld placement shows the swing alone.

    Parameters
    ----------
    placement : Placement
    this : str, optional
        Words for what is placed: one swing, or the mean of several.
    unit : {"in", "cm"}
    name : str, optional
        Identifier, unique on the page.

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    check_unit(unit)
    swing = placement.swing.curve.values_cm / CM_PER_UNIT[unit]
    groups: list[Curves] = [
        shown_curves(placement.bands, axis, unit) if placement.bands else {} for axis in range(3)
    ]
    extents, scale = _equal_scale([_extent(swing[axis], groups[axis]) for axis in range(3)])
    height = _HEAD + _PANELS + 2 * _BETWEEN + _FOOT
    with drawing(name):
        figure = new_figure(_WIDTH, height)
        top = _HEAD
        for axis, word in enumerate(AXES):
            low, high = extents[axis]
            tall = (high - low) * scale + 2 * _AIR
            panel = figure.add_axes(
                (
                    _LEFT / _WIDTH,
                    1 - (top + tall) / height,
                    (_WIDTH - _LEFT - _RIGHT) / _WIDTH,
                    tall / height,
                )
            )
            panel.set(xlim=(0, NODES - 1), ylim=(low - _AIR / scale, high + _AIR / scale))
            draw_events(panel)
            draw_bands(panel, groups[axis], _STEP)
            _draw_swing(panel, swing[axis])
            _name_panel(panel, word, unit)
            signed_ticks(panel, most=6 if tall > _TALL else 4, within=extents[axis])
            _name_lines(panel, this, swing[axis], groups[axis].get(50.0), scale)
            name_phases(panel, last=axis == 2)
            top += tall + _BETWEEN
        return inline_svg(
            figure,
            name=name,
            title=f"Sway, thrust and lift of {this} on the bands of the peers",
            description=_description(placement, this, unit),
        )


def _extent(curve: NDArray[np.float64], group: Curves) -> tuple[float, float]:
    values = np.concatenate([curve, *group.values(), [0.0]])
    return float(values.min()), float(values.max())


def _equal_scale(
    extents: list[tuple[float, float]],
) -> tuple[list[tuple[float, float]], float]:
    """Extents widened to a shared least span, and picture units in one unit of length."""
    least = _SMALLEST_SHARE * max(high - low for low, high in extents) or 1.0
    widened = []
    for low, high in extents:
        missing = max(0.0, least - (high - low)) / 2
        widened.append((low - missing, high + missing))
    room = _PANELS - 2 * _AIR * len(extents)
    return widened, room / sum(high - low for low, high in widened)


def _draw_swing(panel: "Axes", curve: NDArray[np.float64]) -> None:
    from matplotlib.patheffects import Normal, Stroke

    (line,) = panel.plot(np.arange(0, NODES, _STEP), curve[::_STEP])
    line.set(**GOLFER_LINE)
    # A rim of paper keeps the line legible on the darkest tint and in grey.
    line.set_path_effects([Stroke(linewidth=4.6, foreground=PAPER), Normal()])


def _name_panel(panel: "Axes", axis: str, unit: str) -> None:
    positive, negative = AXIS_ENDS[axis]
    panel.annotate(
        f"{axis.capitalize()}, {unit}",
        (0, 1),
        xytext=(-_LEFT + 2, 9),
        xycoords="axes fraction",
        textcoords="offset points",
        fontsize=13,
        weight="bold",
    )
    for words, y, shift, anchor in (
        (f"↑ {positive}", 1, -2, "top"),
        (f"↓ {negative}", 0, 3, "bottom"),
    ):
        panel.annotate(
            words,
            (0, y),
            xytext=(4, shift),
            xycoords="axes fraction",
            textcoords="offset points",
            va=anchor,
            color=MUTED,
        )
    panel.tick_params(length=0, pad=4)
    panel.spines[["left", "bottom"]].set_visible(False)


def _name_lines(
    panel: "Axes",
    this: str,
    curve: NDArray[np.float64],
    median: NDArray[np.float64] | None,
    scale: float,
) -> None:
    """Name both lines at their right ends, moved apart where they would overlap."""
    names = [(this.removesuffix(" swings"), GOLFER, float(curve[-1]), "bold")]
    if median is not None:
        names.append(("median", MEDIAN, float(median[-1]), "normal"))
    shifts = [0.0, 0.0]
    if median is not None and abs(curve[-1] - median[-1]) * scale < _LABEL_GAP:
        apart = (_LABEL_GAP - abs(float(curve[-1] - median[-1])) * scale) / 2
        shifts = [apart, -apart] if curve[-1] >= median[-1] else [-apart, apart]
    for (words, colour, y, weight), shift in zip(names, shifts, strict=False):
        panel.annotate(
            words,
            (NODES - 1, y),
            xytext=(5, shift),
            textcoords="offset points",
            va="center",
            color=colour,
            weight=weight,
            annotation_clip=False,
        )


def _description(placement: Placement, this: str, unit: str) -> str:
    """What the picture shows, for a reader who hears the page."""
    said = []
    for axis, feature in enumerate(("sway_impact", "thrust_impact", "lift_impact")):
        node = EVENT_NODES["impact"]
        value = value_words(feature, float(placement.swing.curve.values_cm[axis, node]), unit)
        words = f"{AXES[axis]} at impact {value}"
        if placement.bands is not None and 50.0 in placement.bands.shown_percents():
            row = placement.bands.percents.index(50.0)
            median = float(placement.bands.curve_cm[row, axis, node])
            words += f", peers' median {value_words(feature, median, unit)}"
        said.append(words)
    group = (
        "No peers are drawn"
        if placement.bands is None
        else f"Tinted bands and a dotted median show {plural(placement.peers, 'golfer')}"
    )
    return f"{group}; a solid line shows {this} from start to finish. {'; '.join(said)}."
