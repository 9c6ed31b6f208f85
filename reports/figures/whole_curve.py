"""A whole-curve band beside the pointwise one: the same golfers, two different promises."""

from typing import TYPE_CHECKING

import numpy as np

from norms.records import Bands, WholeCurveBands
from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES, AXIS_ENDS, EVENT_NODES, NODES
from reports.figures.bands import draw_events, signed_ticks
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.quantities import check_unit, percent_of
from reports.style import BAND_PAIRS, BAND_TINTS, MEDIAN, MUTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH, _LEFT, _RIGHT = 400.0, 34.0, 14.0
_TITLE, _TALL, _FOOT = 22.0, 104.0, 22.0
_STEP = 2  # every second node is drawn; 2 divides 100, so every event keeps its node

JOINT_LINE = {"color": MEDIAN, "linewidth": 1.4, "linestyle": "-"}
AXIS_LINE = {"color": MEDIAN, "linewidth": 1.1, "linestyle": (0, (5.0, 2.0))}


def whole_curve_figure(
    bands: WholeCurveBands, pointwise: Bands, *, name: str, group: str, unit: str
) -> str:
    """Three panels: the pointwise tint, the axis's own band dashed, the joint band as lines.

    Parameters
    ----------
    bands : WholeCurveBands
    pointwise : Bands
        Of the same golfers.
    name : str
        Identifier, unique on the page.
    group : str
        Whose bands they are.
    unit : {"in", "cm"}

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    check_unit(unit)
    height = 3 * (_TITLE + _TALL) + _FOOT
    with drawing(name):
        figure = new_figure(_WIDTH, height)
        for axis, word in enumerate(AXES):
            top = axis * (_TITLE + _TALL) + _TITLE
            panel = figure.add_axes(
                (
                    _LEFT / _WIDTH,
                    1 - (top + _TALL) / height,
                    (_WIDTH - _LEFT - _RIGHT) / _WIDTH,
                    (_TALL - 8) / height,
                )
            )
            _draw(panel, bands, pointwise, axis, unit)
            positive, negative = AXIS_ENDS[word]
            figure.text(
                8 / _WIDTH,
                1 - (top - 2) / height,
                f"{word.capitalize()}, {unit}",
                fontsize=11,
                weight="bold",
            )
            figure.text(
                104 / _WIDTH,
                1 - (top - 2) / height,
                f"↑ {positive}   ↓ {negative}",
                fontsize=9.5,
                color=MUTED,
            )
            named = axis == len(AXES) - 1
            events = list(EVENT_NODES.items())
            panel.set_xticks(
                [node for _, node in events], [event if named else "" for event, _ in events]
            )
        return inline_svg(
            figure,
            name=name,
            title=f"Whole-curve and pointwise bands, {group}",
            description=f"Band for {percent_of(bands.level)} of golfers' whole curves, jointly "
            f"over three curves and for each curve alone, around the pointwise range of "
            f"{bands.golfers} golfers. In {unit}.",
        )


def _draw(panel: "Axes", bands: WholeCurveBands, pointwise: Bands, axis: int, unit: str) -> None:
    scale = CM_PER_UNIT[unit]
    nodes = np.arange(0, NODES, _STEP)
    draw_events(panel)
    pair = widest_pair(pointwise)
    if pair is not None:
        low, high = (
            pointwise.curve_cm[pointwise.percents.index(percent), axis, ::_STEP] / scale
            for percent in pair
        )
        panel.fill_between(nodes, low, high, color=BAND_TINTS[pair], linewidth=0)
    joint = [limit[axis, ::_STEP] / scale for limit in bands.joint_limits_cm()]
    own = [limit[::_STEP] / scale for limit in bands.axis_limits_cm(AXES[axis])]
    for limit in own:
        (line,) = panel.plot(nodes, limit)
        line.set(**AXIS_LINE)
    for limit in joint:
        (line,) = panel.plot(nodes, limit)
        line.set(**JOINT_LINE)
    panel.set_xlim(0, NODES - 1)
    within = float(joint[0].min()), float(joint[1].max())
    signed_ticks(panel, most=4, within=within)
    panel.tick_params(length=0, labelsize=9.5, pad=2)
    panel.spines[["left", "bottom"]].set_visible(False)


def widest_pair(bands: Bands) -> tuple[float, float] | None:
    """The widest pair of percentiles that the bands show."""
    shown = set(bands.shown_percents())
    return next((pair for pair in BAND_PAIRS if set(pair) <= shown), None)
