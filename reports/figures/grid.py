"""Small multiples on one grid: where each panel stands, and its title above it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING, Final

from reports.figures.svg import UNITS_PER_INCH, new_figure
from reports.style import INK, MUTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLUMNS: Final = 3
_WIDTH, _LEFT, _BETWEEN, _PANEL = 400.0, 26.0, 23.0, 109.0
_TITLE, _LINE, _LETTERS = 30.0, 11.5, 21
_FOOT = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Rows of three panels.

    Attributes
    ----------
    panels : int
    tall : float
        Height of a panel in picture units.
    head : float
        Room above the first row.
    """

    panels: int
    tall: float = 66.0
    head: float = 0.0

    @property
    def rows(self) -> int:
        """Rows needed."""
        return -(-self.panels // COLUMNS)

    @property
    def height(self) -> float:
        """Height of the picture."""
        return self.head + self.rows * (_TITLE + self.tall + _FOOT)

    def figure(self) -> "Figure":
        """An empty figure of the right size."""
        return new_figure(_WIDTH, self.height)

    def fill(self, figure: "Figure", titles: Sequence[str]) -> Iterator["Axes"]:
        """Panels in reading order, each under its title."""
        for place, title in enumerate(titles):
            row, column = divmod(place, COLUMNS)
            left = _LEFT + column * (_PANEL + _BETWEEN)
            top = self.head + row * (_TITLE + self.tall + _FOOT)
            lines = wrap(title, _LETTERS)[:2]
            for line, words in enumerate(reversed(lines)):
                figure.text(
                    (left - 8) / _WIDTH,
                    1 - (top + _TITLE - 5 - line * _LINE) / self.height,
                    words,
                    fontsize=9.5,
                    color=INK,
                )
            bottom = top + _TITLE + self.tall
            panel = figure.add_axes(
                (
                    left / _WIDTH,
                    1 - bottom / self.height,
                    _PANEL / _WIDTH,
                    self.tall / self.height,
                )
            )
            panel.tick_params(length=0, labelsize=8.5, pad=2, colors=MUTED)
            panel.spines[["left", "bottom"]].set_visible(False)
            yield panel

    def head_panel(self, figure: "Figure", *, top: float, tall: float) -> "Axes":
        """A panel over the whole width, in the room above the first row."""
        wide = COLUMNS * _PANEL + (COLUMNS - 1) * _BETWEEN
        panel = figure.add_axes(
            (
                _LEFT / _WIDTH,
                1 - (top + tall) / self.height,
                wide / _WIDTH,
                tall / self.height,
            )
        )
        panel.tick_params(length=0, labelsize=8.5, pad=2, colors=MUTED)
        panel.spines[["left", "bottom"]].set_visible(False)
        return panel

    def words(self, figure: "Figure", text: str, *, top: float) -> None:
        """A line of words in the room above the first row."""
        height = figure.get_size_inches()[1] * UNITS_PER_INCH
        figure.text((_LEFT - 8) / _WIDTH, 1 - top / height, text, fontsize=9.5, color=INK)
