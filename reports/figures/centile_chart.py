"""Centiles over handicap: small multiples of features, drawn only where golfers stand behind."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from norms.records.centile_readings import CentileChart
from norms.records.centiles import CentileSupport
from norms.swing.catalogue import BY_NAME
from norms.units import CM_PER_UNIT
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST
from reports.figures.bands import signed_ticks
from reports.figures.grid import Grid
from reports.figures.svg import drawing, inline_svg
from reports.phrases import phrase
from reports.quantities import check_unit, handicap_words, unit_words
from reports.style import BAND_PAIRS, BAND_TINTS, MEDIAN, MEDIAN_LINE, MUTED, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

CHART_HANDICAPS: Final = np.linspace(HANDICAP_LOWEST, HANDICAP_HIGHEST, 65)
"""From +10 to 54, a point for every stroke."""
_TICKS: Final = (-10.0, 0.0, 10.0, 20.0, 36.0, 54.0)
_INNER_TICKS: Final = _TICKS[1:-1]
"""In a narrow panel the ends would run into those of its neighbours."""
_HEAD, _COUNT_TOP, _COUNT_TALL = 86.0, 22.0, 40.0
_GAP_TINT: Final = "#f1ebde"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeatureChart:
    """The centiles of one feature, of all golfers or of one group of them.

    Attributes
    ----------
    chart : CentileChart
        Read at ``CHART_HANDICAPS``.
    group : str
        E.g. ``"women"``; empty where the centiles are of all.
    """

    chart: CentileChart
    group: str = ""

    @property
    def feature(self) -> str:
        """Name in the catalogue."""
        return self.chart.names[0]


def centile_charts(
    charts: Sequence[FeatureChart], support: CentileSupport, *, name: str, club: str, unit: str
) -> str:
    """Charts of several features under one count of golfers.

    Parameters
    ----------
    charts : sequence of FeatureChart
    support : CentileSupport
        Of the club's golfers; drawn above the charts.
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
    grid = Grid(panels=len(charts), head=_HEAD)
    with drawing(name):
        figure = grid.figure()
        grid.words(
            figure,
            f"Golfers within {support.window_strokes:g} strokes of each handicap; centiles need "
            f"{support.fewest_near}",
            top=12.0,
        )
        _draw_counts(grid.head_panel(figure, top=_COUNT_TOP, tall=_COUNT_TALL), support)
        titles = [_title(one, unit) for one in charts]
        for one, panel in zip(charts, grid.fill(figure, titles), strict=True):
            _draw_chart(panel, one, unit)
        return inline_svg(
            figure,
            name=name,
            title=f"Centiles of every feature over handicap, {club}",
            description=f"{len(charts)} charts, median and middle ranges from handicap "
            f"{handicap_words(HANDICAP_LOWEST)} to {HANDICAP_HIGHEST:.0f}; shaded where too few "
            "golfers stand behind a centile. Lengths in "
            f"{unit}. The numbers are in the table below.",
        )


def _title(one: FeatureChart, unit: str) -> str:
    words = unit_words(BY_NAME[one.feature].unit, unit)
    subject = phrase(one.feature).subject + (f", {one.group}" if one.group else "")
    return f"{subject}, {words}" if words else subject


def _draw_counts(panel: "Axes", support: CentileSupport) -> None:
    panel.fill_between(
        support.handicaps, support.golfers, step="mid", color=BAND_TINTS[BAND_PAIRS[-1]]
    )
    panel.axhline(support.fewest_near, color=MEDIAN, linewidth=1, linestyle=(0, (4, 2)))
    panel.set(xlim=(HANDICAP_LOWEST, HANDICAP_HIGHEST), ylim=(0, None))
    _name_handicaps(panel, _TICKS)
    most = int(support.golfers.max())
    panel.set_yticks(sorted({support.fewest_near, most}))


def _draw_chart(panel: "Axes", one: FeatureChart, unit: str) -> None:
    chart = one.chart
    scale = CM_PER_UNIT[unit] if BY_NAME[one.feature].unit in ("cm", "cm_s") else 1.0
    values = {p: chart.value[0, row] / scale for row, p in enumerate(chart.percents)}
    _shade_gaps(panel, np.isnan(values[50.0]), chart.handicaps)
    for low, high in BAND_PAIRS:
        tint = BAND_TINTS[low, high]
        panel.fill_between(chart.handicaps, values[low], values[high], color=tint, linewidth=0)
    (line,) = panel.plot(chart.handicaps, values[50.0])
    line.set(**MEDIAN_LINE)
    shown = np.concatenate(list(values.values()))
    shown = shown[np.isfinite(shown)]
    panel.set_xlim(HANDICAP_LOWEST, HANDICAP_HIGHEST)
    _name_handicaps(panel, _INNER_TICKS)
    if shown.size:
        signed_ticks(panel, most=4, within=(float(shown.min()), float(shown.max())))
    else:
        panel.set_yticks([])
    if shown.size and shown.min() < 0 < shown.max():
        panel.axhline(0, color=RULE, linewidth=1, zorder=0.5)


def _shade_gaps(panel: "Axes", empty: NDArray[np.bool_], handicaps: NDArray[np.float64]) -> None:
    edges = np.diff(np.concatenate([[False], empty, [False]]).astype(int))
    for start, end in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
        last = min(int(end), len(handicaps) - 1)
        panel.axvspan(
            handicaps[max(int(start) - 1, 0)],
            handicaps[last],
            color=_GAP_TINT,
            linewidth=0,
            zorder=0.2,
        )


def _name_handicaps(panel: "Axes", ticks: Sequence[float]) -> None:
    words = [f"+{-tick:.0f}" if tick < 0 else f"{tick:.0f}" for tick in ticks]
    panel.set_xticks(ticks, words)
    panel.tick_params(axis="x", labelcolor=MUTED)
