"""The group: tinted percentile bands with a dotted median, and small multiples over levels."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from norms.records import Bands, CohortNorms
from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES, AXIS_ENDS, EVENT_NODES, NODES
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.quantities import check_unit, number, plural
from reports.style import BAND_PAIRS, BAND_TINTS, INK, MEDIAN_LINE, MUTED, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Curves = Mapping[float, NDArray[np.float64]]

_WIDTH, _HEAD, _ROW, _GAP, _FOOT = 400.0, 40.0, 70.0, 26.0, 22.0
_LEFT, _BETWEEN, _PANEL = 26.0, 14.0, 115.0
_STEP = 5  # every fifth node is drawn; 5 divides 100, so every event keeps its node


def shown_curves(bands: Bands, axis: int, unit: str) -> Curves:
    """Percentile curves of one axis that may be drawn, in the reader's unit, by percentile."""
    shown = bands.shown_percents()
    return {
        percent: bands.curve_cm[row, axis] / CM_PER_UNIT[unit]
        for row, percent in enumerate(bands.percents)
        if percent in shown
    }


def draw_bands(panel: "Axes", curves: Curves, step: int) -> None:
    """Draw tints from the widest in, then the median; only pairs of which both limits exist."""
    nodes = np.arange(0, NODES, step)
    for low, high in BAND_PAIRS:
        if low in curves and high in curves:
            tint = BAND_TINTS[low, high]
            panel.fill_between(
                nodes, curves[low][::step], curves[high][::step], color=tint, linewidth=0
            )
    if 50.0 in curves:
        (line,) = panel.plot(nodes, curves[50.0][::step])
        line.set(**MEDIAN_LINE)


def draw_events(panel: "Axes") -> None:
    """Thin lines at the top, at impact and at zero, under everything else."""
    for event in ("top", "impact"):
        panel.axvline(EVENT_NODES[event], color=RULE, linewidth=1, zorder=0.5)
    panel.axhline(0, color=RULE, linewidth=1, zorder=0.5)


def signed_ticks(panel: "Axes", *, most: int) -> None:
    """At most ``most`` + 1 round ticks on the vertical axis, with a typographic minus."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    locator = MaxNLocator(nbins=most, steps=[1, 2, 5, 10])
    panel.yaxis.set_major_locator(locator)

    def text(value: float, _position: int | None = None) -> str:
        return number(value, 0 if float(value).is_integer() else 1)

    panel.yaxis.set_major_formatter(FuncFormatter(text))


def cells_figure(cells: Sequence[CohortNorms], *, name: str, club: str, unit: str) -> str:
    """Bands of several cells of one club, a row for each cell and a column for each axis.

    All rows share one scale for each axis, so that levels can be compared by eye. A withheld cell
    keeps its row and says that it is withheld.

    Parameters
    ----------
    cells : sequence of CohortNorms
        In the order wanted.
    name : str
        Identifier, unique on the page.
    club : str
    unit : {"in", "cm"}

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    check_unit(unit)
    height = _HEAD + len(cells) * (_ROW + _GAP) + _FOOT
    with drawing(name):
        figure = new_figure(_WIDTH, height)
        for axis, word in enumerate(AXES):
            panels = [
                _cell_panel(figure, cell, row, axis, height=height, unit=unit)
                for row, cell in enumerate(cells)
            ]
            _share_limits([panel for panel in panels if panel is not None])
            x = (_LEFT + axis * (_PANEL + _BETWEEN)) / _WIDTH
            figure.text(x, 1 - 13 / height, word.capitalize(), fontsize=12, weight="bold")
            figure.text(
                x, 1 - 26 / height, f"up the page: {AXIS_ENDS[word][0]}", fontsize=9, color=MUTED
            )
        for row, cell in enumerate(cells):
            _row_title(figure, cell, row, height)
        return inline_svg(
            figure,
            name=name,
            title=f"Sway, thrust and lift by level, {club}",
            description="; ".join(_cell_words(cell) for cell in cells) + f". In {unit}.",
        )


def _cell_label(cell: CohortNorms) -> str:
    level = cell.cohort.definition.level
    return level.label if level else "all levels"


def _cell_words(cell: CohortNorms) -> str:
    golfers = plural(len(cell.cohort.golfers), "golfer")
    return f"{_cell_label(cell)}, {golfers}{', withheld' if cell.bands is None else ''}"


def _row_title(figure: "Figure", cell: CohortNorms, row: int, height: float) -> None:
    y = 1 - (_HEAD + row * (_ROW + _GAP) + 12) / height
    figure.text(_LEFT / _WIDTH, y, _cell_words(cell), fontsize=10.5, color=INK)


def _cell_panel(
    figure: "Figure", cell: CohortNorms, row: int, axis: int, *, height: float, unit: str
) -> "Axes | None":
    if cell.bands is None:
        return None
    top = _HEAD + row * (_ROW + _GAP) + _GAP - 8
    left = _LEFT + axis * (_PANEL + _BETWEEN)
    panel = figure.add_axes(
        (left / _WIDTH, 1 - (top + _ROW) / height, _PANEL / _WIDTH, _ROW / height)
    )
    draw_events(panel)
    draw_bands(panel, shown_curves(cell.bands, axis, unit), _STEP)
    panel.set_xlim(0, NODES - 1)
    panel.set_xticks([100, 200], ["top", "impact"], fontsize=9)
    panel.tick_params(length=0, labelsize=9, pad=2)
    signed_ticks(panel, most=3)
    panel.spines[["left", "bottom"]].set_visible(False)
    return panel


def _share_limits(panels: Sequence["Axes"]) -> None:
    limits = [panel.get_ylim() for panel in panels]
    for panel in panels:
        panel.set_ylim(min(low for low, _ in limits), max(high for _, high in limits))
