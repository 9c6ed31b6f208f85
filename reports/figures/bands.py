"""The group: tinted percentile bands with a dotted median, and small multiples over levels."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from norms.records import Bands, CohortNorms
from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES, AXIS_ENDS, EVENT_NODES, NODES, PHASE_NAMES, PHASES
from reports.figures.svg import UNITS_PER_INCH, drawing, inline_svg, new_figure
from reports.quantities import check_unit, number, plural
from reports.style import BAND_PAIRS, BAND_TINTS, INK, MEDIAN_LINE, MUTED, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Curves = Mapping[float, NDArray[np.float64]]

_WIDTH, _HEAD, _FOOT = 400.0, 50.0, 20.0
_ROW_TITLE, _ROW, _GAP = 20.0, 70.0, 12.0
_LEFT, _BETWEEN, _PANEL = 26.0, 23.0, 109.0
_ROUND = 1e-9
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


def name_phases(panel: "Axes", *, last: bool, below: int = 20) -> None:
    """Event words under the last panel and, so many points below it, the phases between them."""
    nodes = list(EVENT_NODES.values())
    panel.set_xticks(nodes, list(EVENT_NODES) if last else [""] * len(nodes))
    if not last:
        return
    labels = panel.get_xticklabels()
    labels[0].set_horizontalalignment("left")
    labels[-1].set_horizontalalignment("right")
    for phase, node in zip(PHASES, nodes, strict=False):
        panel.annotate(
            PHASE_NAMES[phase],
            (node + 50, 0),
            xytext=(0, -below),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            ha="center",
            va="top",
            color=MUTED,
            style="italic",
        )


def signed_ticks(panel: "Axes", *, most: int, within: tuple[float, float]) -> None:
    """Some ``most`` round ticks between two values, labelled with a typographic minus."""
    from matplotlib.ticker import MaxNLocator

    locator = MaxNLocator(nbins=most, steps=[1, 2, 5, 10])
    low, high = within
    ticks = [float(tick) for tick in locator.tick_values(low, high) if low <= tick <= high]
    panel.set_yticks(ticks, [number(tick, _decimals(tick)) for tick in ticks])


def _decimals(tick: float) -> int:
    """Decimals that a round tick needs, two at most."""
    return next((d for d in (0, 1) if abs(tick - round(tick, d)) < _ROUND), 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class BandRow:
    """One row of small multiples.

    Attributes
    ----------
    words : str
        Stands above the row.
    curves : tuple of 3 Curves, or None
        By axis; ``None`` leaves the words alone.
    """

    words: str
    curves: tuple[Curves, ...] | None


def cells_figure(cells: Sequence[CohortNorms], *, name: str, club: str, unit: str) -> str:
    """Bands of several cells of one club, a row for each cell and a column for each axis.

    A withheld cell keeps its row and says that it is withheld.

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
    rows = [BandRow(words=_cell_words(cell), curves=_cell_curves(cell, unit)) for cell in cells]
    return rows_figure(rows, name=name, title=f"Sway, thrust and lift by level, {club}", unit=unit)


def rows_figure(rows: Sequence[BandRow], *, name: str, title: str, unit: str) -> str:
    """Bands of the three curves, a row for each group and a column for each axis.

    All rows share one scale for each axis, so that they can be compared by eye.

    Parameters
    ----------
    rows : sequence of BandRow
        Curves in the reader's unit.
    name : str
        Identifier, unique on the page.
    title : str
    unit : {"in", "cm"}

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    tops = _row_tops(rows)
    height = tops[-1] + _FOOT
    last = max((place for place, row in enumerate(rows) if row.curves), default=None)
    with drawing(name):
        figure = new_figure(_WIDTH, height)
        for axis, word in enumerate(AXES):
            panels = [
                _row_panel(figure, row.curves[axis], top, axis, named=place == last)
                for place, (row, top) in enumerate(zip(rows, tops, strict=False))
                if row.curves
            ]
            _share_limits(panels)
            _column_title(figure, axis, word, unit)
        for row, top in zip(rows, tops, strict=False):
            figure.text(
                _LEFT / _WIDTH, 1 - (top + 13) / height, row.words, fontsize=10.5, color=INK
            )
        return inline_svg(
            figure,
            name=name,
            title=title,
            description="; ".join(row.words for row in rows) + f". In {unit}.",
        )


def _row_tops(rows: Sequence[BandRow]) -> list[float]:
    """Where each row begins, in units from the top, and where the last ends."""
    tops = [_HEAD]
    for row in rows:
        tops.append(tops[-1] + _ROW_TITLE + (_ROW + _GAP if row.curves else 0.0))
    return tops


def _cell_curves(cell: CohortNorms, unit: str) -> tuple[Curves, ...] | None:
    bands = cell.bands
    if bands is None:
        return None
    return tuple(shown_curves(bands, axis, unit) for axis in range(len(AXES)))


def _cell_words(cell: CohortNorms) -> str:
    definition = cell.cohort.definition
    whose = definition.title or definition.name
    if whose is None:
        whose = definition.level.label if definition.level else "all levels"
    withheld = ", withheld" if cell.bands is None else ""
    return f"{whose}, {plural(cell.counts[0], 'golfer')}{withheld}"


def _column_title(figure: "Figure", axis: int, word: str, unit: str) -> None:
    height = figure.get_size_inches()[1] * UNITS_PER_INCH
    x = (_LEFT + axis * (_PANEL + _BETWEEN)) / _WIDTH
    positive, negative = AXIS_ENDS[word]
    title = f"{word.capitalize()}, {unit}"
    figure.text(x, 1 - 13 / height, title, fontsize=12, weight="bold")
    figure.text(x, 1 - 27 / height, f"↑ {positive}", fontsize=9.5, color=MUTED)
    figure.text(x, 1 - 39 / height, f"↓ {negative}", fontsize=9.5, color=MUTED)


def _row_panel(figure: "Figure", curves: Curves, top: float, axis: int, *, named: bool) -> "Axes":
    height = figure.get_size_inches()[1] * UNITS_PER_INCH
    left = _LEFT + axis * (_PANEL + _BETWEEN)
    bottom = top + _ROW_TITLE + _ROW
    panel = figure.add_axes((left / _WIDTH, 1 - bottom / height, _PANEL / _WIDTH, _ROW / height))
    draw_events(panel)
    draw_bands(panel, curves, _STEP)
    panel.set_xlim(0, NODES - 1)
    nodes = [EVENT_NODES["top"], EVENT_NODES["impact"]]
    panel.set_xticks(nodes, ["top", "impact"] if named else ["", ""])
    panel.tick_params(length=0, labelsize=9.5, pad=2)
    panel.spines[["left", "bottom"]].set_visible(False)
    return panel


def _share_limits(panels: Sequence["Axes"]) -> None:
    limits = [panel.get_ylim() for panel in panels]
    for panel in panels:
        shared = min(low for low, _ in limits), max(high for _, high in limits)
        panel.set_ylim(shared)
        signed_ticks(panel, most=4, within=shared)
