"""The sheet of a standard, to be pinned on the wall: as a page, and as a PDF."""

from io import BytesIO
from textwrap import wrap
from typing import TYPE_CHECKING, Final

from norms.records import Bands, CohortNorms
from norms.records.standard import Decision, Requirement, Standard
from norms.vocabulary import AXES
from reports.figures.standard_ranges import (
    draw_panel,
    range_strip,
    standard_figure,
    strip_places,
)
from reports.figures.svg import drawing
from reports.quantities import check_unit
from reports.render import picture, render
from reports.standard_words import for_whom, how_set, norm_words, ordered, should_sentence
from reports.standard_words import set_words as how_limits_were_set
from reports.style import BAND_PAIRS, BAND_TINTS, INK, MEDIAN, MUTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

_WIDTH, _HEIGHT, _MARGIN = 595.0, 842.0, 42.0  # points of A4
_BETWEEN = 24.0
_SMALL_PANEL, _LEAST_PANEL, _MOST_PANEL = 52.0, 66.0, 98.0
_CHARACTERS: Final = 114  # of 8.5 point text on a line
_STRIP = 92.0


def state_words(decision: Decision | None) -> str:
    """What must stand on the sheet of a standard that is not in force; empty for one that is."""
    if decision is None:
        return "A draft: not in force"
    return {
        "in review": "In review: not in force",
        "approved": "",
        "retired": "Retired: no longer in force",
    }[decision.state]


def standard_sheet(
    standard: Standard,
    evidence: CohortNorms | None,
    decision: Decision | None = None,
    *,
    unit: str = "in",
) -> str:
    """The sheet as a self-contained HTML page.

    Parameters
    ----------
    standard : Standard
    evidence : CohortNorms or None
        The edition's cell that the standard rests on; its bands are drawn behind the ranges.
    decision : Decision or None
        The last one; None for a draft.
    unit : {"in", "cm"}
        The reader's unit of length.

    Returns
    -------
    str
        The same bytes for the same standard.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    bands = evidence.bands if evidence else None
    return render(
        "standard_sheet.html",
        title=standard.title,
        whom=for_whom(standard),
        state=state_words(decision),
        rationale=standard.rationale,
        figure=picture(standard_figure(standard, bands, unit=unit)),
        shares=_shares(bands),
        rows=[_row(one, unit) for one in ordered(standard)],
        cautions=standard.cautions,
        how=how_set(standard, decision),
    )


def standard_pdf(
    standard: Standard,
    evidence: CohortNorms | None,
    decision: Decision | None = None,
    *,
    unit: str = "in",
) -> bytes:
    """The sheet as a PDF in A4; what does not fit on the first page stands on the next.

    Parameters
    ----------
    standard : Standard
    evidence : CohortNorms or None
    decision : Decision or None
    unit : {"in", "cm"}

    Returns
    -------
    bytes
        The same for the same standard.
    """
    check_unit(unit)
    bands = evidence.bands if evidence else None
    written = b""
    for panel in (_panel_height(len(standard.requirements)), _SMALL_PANEL):
        written, pages = _written(standard, bands, decision, unit, panel)
        if pages == 1:  # a sheet for a wall is one page, if smaller pictures can make it so
            break
    return written


def _written(
    standard: Standard, bands: Bands | None, decision: Decision | None, unit: str, panel: float
) -> tuple[bytes, int]:
    """The document with pictures of this height, and its number of pages."""
    from matplotlib.backends.backend_pdf import PdfPages

    buffer = BytesIO()
    nothing = {"CreationDate": None, "Creator": "norms", "Producer": None}
    with (
        drawing("sheet"),
        PdfPages(buffer, metadata={**nothing, "Title": standard.title}) as pages,
    ):
        paper = _Paper(pages)
        paper.write(standard.title, size=20, weight="bold")
        paper.write(for_whom(standard), colour=MUTED)
        if state_words(decision):
            paper.write(state_words(decision), weight="bold")
        paper.write(standard.rationale, size=10.5)
        _draw_axes(paper, standard, bands, unit, panel)
        for one in ordered(standard):
            _write_requirement(paper, one, unit)
        paper.heading("Cautions")
        for caution in standard.cautions:
            paper.write(f"•  {caution}")
        paper.heading("How it was set")
        for sentence in how_set(standard, decision):
            paper.write(sentence, size=7.5, colour=MUTED)
        paper.end()
        count = pages.get_pagecount()
    return buffer.getvalue(), count


class _Paper:
    """Pages of A4 that are written from the top down."""

    def __init__(self, pages: "PdfPages") -> None:
        self._pages = pages
        self.figure: Figure | None = None
        self.y = 0.0
        self._turn()

    def _turn(self) -> None:
        from matplotlib.figure import Figure

        self.end()
        self.figure = Figure(figsize=(_WIDTH / 72.0, _HEIGHT / 72.0))
        self.y = _MARGIN

    def end(self) -> None:
        """Put the page that is being written into the document."""
        if self.figure is not None:
            self._pages.savefig(self.figure)  # type: ignore[no-untyped-call]

    def room(self, height: float) -> "Figure":
        """The page with room for this many points, a new one where the last is full."""
        if self.y + height > _HEIGHT - _MARGIN:
            self._turn()
        if self.figure is None:
            raise RuntimeError("no page is open")
        return self.figure

    def heading(self, words: str) -> None:
        """A heading, with room for a line below it."""
        self.room(40.0)
        self.y += 6.0
        self.write(words, size=10.5, weight="bold")

    def write(
        self,
        words: str,
        *,
        size: float = 8.5,
        weight: str = "normal",
        colour: str = INK,
        indent: float = 0.0,
        width: float = _WIDTH - 2 * _MARGIN,
    ) -> None:
        """A paragraph, broken where the line is full."""
        full = _CHARACTERS * (8.5 / size) * width / (_WIDTH - 2 * _MARGIN)
        step = 1.35 * size
        for line in wrap(words, max(10, int(full if weight == "normal" else 0.9 * full))):
            figure = self.room(step)
            figure.text(
                (_MARGIN + indent) / _WIDTH,
                1 - (self.y + size) / _HEIGHT,
                line,
                fontsize=size,
                weight=weight,
                color=colour,
                parse_math=False,
            )
            self.y += step
        self.y += 0.3 * size


def _draw_axes(
    paper: _Paper, standard: Standard, bands: Bands | None, unit: str, panel: float
) -> None:
    paper.y += 18.0
    figure = paper.room(3 * (panel + _BETWEEN))
    for place in range(len(AXES)):
        left, wide = _MARGIN + 32.0, _WIDTH - 2 * _MARGIN - 32.0
        box = (
            left / _WIDTH,
            1 - (paper.y + panel) / _HEIGHT,
            wide / _WIDTH,
            panel / _HEIGHT,
        )
        draw_panel(figure, box, place, standard, bands, unit)
        paper.y += panel + _BETWEEN
    paper.y += 10.0
    shares = _shares(bands)
    tints = f"; tints: the middle {' %, '.join(shares)} % of golfers; dots: their median"
    paper.write(f"In ink: what is asked{tints if shares else ''}.", size=7.5, colour=MUTED)


def _panel_height(requirements: int) -> float:
    """Taller pictures where there is less to write."""
    return min(_MOST_PANEL, max(_LEAST_PANEL, 126.0 - 12.0 * requirements))


def _write_requirement(paper: _Paper, one: Requirement, unit: str) -> None:
    """Sentence and norm on the left, the strip on the right."""
    figure = paper.room(36.0)
    top = paper.y
    _draw_strip(figure, one, top)
    width = _WIDTH - 2 * _MARGIN - _STRIP - 12.0
    paper.write(should_sentence(one, unit), weight="bold", width=width)
    paper.write(
        f"{norm_words(one, unit)}. Set by {how_limits_were_set(one)}.",
        size=7.5,
        colour=MUTED,
        width=width,
    )
    paper.y = max(paper.y, top + 24.0)


def _draw_strip(figure: "Figure", one: Requirement, top: float) -> None:
    box = (
        (_WIDTH - _MARGIN - _STRIP) / _WIDTH,
        1 - (top + 16.0) / _HEIGHT,
        _STRIP / _WIDTH,
        14.0 / _HEIGHT,
    )
    axes: Axes = figure.add_axes(box)
    axes.set(xlim=(0, 1), ylim=(0, 1))
    axes.axis("off")
    places = strip_places(one)
    if places.norm_low is not None and places.norm_high is not None:
        tint = BAND_TINTS[25.0, 75.0]
        axes.axvspan(places.norm_low, places.norm_high, 0.2, 0.8, color=tint, linewidth=0)
    if places.median is not None:
        axes.axvline(places.median, 0.1, 0.9, color=MEDIAN, linewidth=1.6)
    left = 0.0 if places.low is None else places.low
    right = 1.0 if places.high is None else places.high
    axes.plot([left, right], [0.5, 0.5], color=INK, linewidth=1.8, clip_on=False)
    for end in (places.low, places.high):
        if end is not None:
            axes.axvline(end, 0.1, 0.9, color=INK, linewidth=1.8)


def _shares(bands: Bands | None) -> list[str]:
    shown = bands.shown_percents() if bands else ()
    return [f"{high - low:.0f}" for low, high in reversed(BAND_PAIRS) if {low, high} <= set(shown)]


def _row(one: Requirement, unit: str) -> dict[str, object]:
    return {
        "priority": one.priority,
        "sentence": should_sentence(one, unit),
        "strip": picture(range_strip(one, unit)),
        "norm": norm_words(one, unit),
        "set_by": how_limits_were_set(one),
    }
