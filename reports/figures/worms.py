"""Worm plots: how far the golfers' scores lie from where the centiles say they should."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from norms.records.centiles import Centiles
from reports.figures.bands import signed_ticks
from reports.figures.grid import Grid
from reports.figures.svg import drawing, inline_svg
from reports.phrases import phrase
from reports.style import BAND_PAIRS, BAND_TINTS, MEDIAN, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WORM_STYLES: Final[tuple[Any, ...]] = ("-", (0, (5, 2)), (0, (1, 1.4)), (0, (5, 1.5, 1, 1.5)))
"""One for each quarter of handicap, from the best on: solid, dashed, dotted, dash-dotted."""
_REACH: Final = 1.0


def worm_figure(centiles: Sequence[Centiles], *, name: str, club: str) -> str:
    """A panel for each feature, in it a worm for each quarter of handicap.

    Parameters
    ----------
    centiles : sequence of Centiles
        Of one feature each.
    name : str
        Identifier, unique on the page.
    club : str

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    grid = Grid(panels=len(centiles), tall=58.0)
    with drawing(name):
        figure = grid.figure()
        titles = [phrase(one.names[0]).subject for one in centiles]
        for one, panel in zip(centiles, grid.fill(figure, titles), strict=True):
            _draw_worms(panel, one)
        return inline_svg(
            figure,
            name=name,
            title=f"Worm plots of the centiles over handicap, {club}",
            description="For each feature and quarter of handicap, the golfers' scores minus the "
            "normal scores they should have, with pointwise 95 % limits. The table below holds "
            "the tests.",
        )


def _draw_worms(panel: "Axes", centiles: Centiles) -> None:
    told = centiles.diagnostics
    panel.fill_between(
        told.worm_scores,
        -told.worm_half_width,
        told.worm_half_width,
        color=BAND_TINTS[BAND_PAIRS[0]],
        linewidth=0,
    )
    panel.axhline(0, color=RULE, linewidth=1)
    for worm, style in zip(told.worm[0], WORM_STYLES, strict=False):
        panel.plot(told.worm_scores, worm, color=MEDIAN, linewidth=1.1, linestyle=style)
    panel.set(xlim=(-2, 2), ylim=(-_REACH, _REACH))
    panel.set_xticks([-2, 0, 2], ["−2", "0", "2"])
    signed_ticks(panel, most=2, within=(-_REACH / 2, _REACH / 2))
