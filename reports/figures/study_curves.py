"""Where along the swing a curve, or its rate, goes with speed: coefficients with a joint band."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from norms.records.study_answer import AlongSwing
from norms.units import MPS_PER_UNIT
from norms.vocabulary import AXES, EVENT_NODES, NODES
from reports.figures.bands import draw_events, signed_ticks
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.study_words import PART_WORDS, SPEED_WORDS, SpeedUnit
from reports.style import BAND_TINTS, GOLFER, INK, MEDIAN, MUTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH, _LEFT, _BETWEEN, _RIGHT = 560.0, 36.0, 30.0, 8.0
_HEAD, _ROW, _GAP, _FOOT = 40.0, 92.0, 26.0, 24.0
_STEP = 2
_LINES = {"within": (GOLFER, "-"), "between": (MEDIAN, (0, (4.0, 1.4)))}
_SHORT = {"start": "start", "top": "top", "impact": "impact", "finish": "finish"}


def along_figure(
    answers: Sequence[AlongSwing], *, speed_unit: SpeedUnit, level: float, name: str
) -> str:
    """Sway, thrust and lift in rows, within and between in columns.

    The line is the speed that goes with one standard deviation of the curve at that node; the
    tint is its joint band; the bar at the bottom of a panel marks where the permutation test,
    adjusted for all nodes, finds an association.

    Parameters
    ----------
    answers : sequence of AlongSwing
        Of one kind: within and between.
    speed_unit : {"mph", "mps"}
    level : float
    name : str
        Identifier, unique on the page.

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    height = _HEAD + 3 * _ROW + 2 * _GAP + _FOOT
    wide = (_WIDTH - _LEFT - _BETWEEN - _RIGHT) / 2
    with drawing(name):
        figure = new_figure(_WIDTH, height)
        for column, answer in enumerate(answers):
            left = _LEFT + column * (wide + _BETWEEN)
            figure.text(
                left / _WIDTH,
                1 - 13 / height,
                PART_WORDS[answer.part],
                fontsize=11.5,
                weight="bold",
                color=INK,
            )
            for axis in range(3):
                top = _HEAD + axis * (_ROW + _GAP)
                panel = figure.add_axes(
                    (left / _WIDTH, 1 - (top + _ROW) / height, wide / _WIDTH, _ROW / height)
                )
                _draw(panel, answer, axis, speed_unit, level)
                panel.set_title(
                    f"{AXES[axis].capitalize()}, {SPEED_WORDS[speed_unit]} per SD",
                    fontsize=10,
                    loc="left",
                    pad=4,
                )
                names = list(_SHORT.values()) if axis == 2 else [""] * 4
                panel.set_xticks(list(EVENT_NODES.values()), names, fontsize=9)
        return inline_svg(
            figure,
            name=name,
            title=f"Where along the swing {answers[0].kind} go with speed",
            description=" ".join(_said(answer, level) for answer in answers),
        )


def _draw(panel: "Axes", answer: AlongSwing, axis: int, unit: SpeedUnit, level: float) -> None:
    nodes = np.arange(0, NODES, _STEP)
    scale = answer.spread[axis] / MPS_PER_UNIT[unit]
    value, low, high = (
        (limit[axis] * scale)[::_STEP] for limit in (answer.value, answer.low, answer.high)
    )
    draw_events(panel)
    panel.fill_between(nodes, low, high, color=BAND_TINTS[5.0, 95.0], linewidth=0)
    colour, style = _LINES[answer.part]
    panel.plot(nodes, value, color=colour, linestyle=style, linewidth=1.8)
    ends = np.array([np.nanmin(low, initial=0.0), np.nanmax(high, initial=0.0)])
    room = 0.12 * float(ends[1] - ends[0]) or 1.0
    for first, last in answer.stretches(axis, level):
        panel.plot([first, last], [ends[0] - room] * 2, color=INK, linewidth=3.0)
    panel.set(xlim=(0, NODES - 1), ylim=(ends[0] - 1.8 * room, ends[1] + room))
    signed_ticks(panel, most=4, within=(float(ends[0]), float(ends[1])))
    panel.spines[["left", "bottom"]].set_visible(False)
    panel.tick_params(length=0, labelsize=9, labelcolor=MUTED)


def _said(answer: AlongSwing, level: float) -> str:
    found = [
        f"{axis} from node {first} to {last}"
        for a, axis in enumerate(AXES)
        for first, last in answer.stretches(a, level)
    ]
    words = ", ".join(found) if found else "nowhere"
    return f"{PART_WORDS[answer.part].capitalize()} an association is found: {words}."
