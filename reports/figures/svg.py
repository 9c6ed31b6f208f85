"""One way to turn a figure into an inline picture: same input, same bytes."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from io import StringIO
from typing import TYPE_CHECKING, Any, Final

from reports.style import INK, MUTED, RULE, SANS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

UNITS_PER_INCH: Final = 72.0

_PATH: Final = re.compile(r' d="(M [^"]*)"')
_STEP: Final = re.compile(r"([MLz])(?: (\S+) (\S+))?")


@contextmanager
def drawing(salt: str) -> Iterator[None]:
    """Settings under which every figure is made and written.

    Text stays text, so that it can be read aloud, searched and set in the reader's own sans.

    Parameters
    ----------
    salt : str
        Word that makes identifiers of this picture its own on a page with several.
    """
    import matplotlib as mpl

    settings: Any = {
        "svg.hashsalt": f"picture {salt}",
        "svg.fonttype": "none",
        "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"],
        "font.size": 11.0,
        "text.color": INK,
        "axes.facecolor": "none",
        "axes.edgecolor": RULE,
        "axes.labelcolor": INK,
        "xtick.color": MUTED,
        "ytick.color": MUTED,
        "axes.spines.top": False,
        "axes.spines.right": False,
    }
    with mpl.rc_context(settings):
        yield


def new_figure(width: float, height: float) -> "Figure":
    """An empty figure of ``width`` by ``height`` picture units (one unit is one CSS pixel)."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width / UNITS_PER_INCH, height / UNITS_PER_INCH))
    figure.patch.set_visible(False)
    return figure


def inline_svg(figure: "Figure", *, name: str, title: str, description: str) -> str:
    """The figure as an ``<svg>`` element to stand in a page.

    Parameters
    ----------
    figure : Figure
    name : str
        Identifier, unique on its page.
    title, description : str
        Plain text; become ``<title>`` and ``<desc>``.

    Returns
    -------
    str
        No declaration, no metadata, no address of any kind.
    """
    buffer = StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.savefig(buffer, format="svg", metadata=nothing)
    text = buffer.getvalue()
    body = text[text.index(">", text.index("<svg")) + 1 : text.rindex("</svg>")]
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    # A style inside a picture would reach the whole page; its one rule is inherited instead.
    body = re.sub(r"<style.*?</style>", "", body, flags=re.DOTALL)
    body = re.sub(r'<g id="[^"]*"', "<g", body)
    body = body.replace("xlink:href", "href").replace(
        "font-family: 'DejaVu Sans', sans-serif; ", ""
    )
    body = _PATH.sub(_brief_path, body)
    body = re.sub(r"(\.\d\d)\d+", r"\1", body)
    body = re.sub(r' transform="rotate\(-0 [^)]*\)"', "", body)
    body = re.sub(r">\s+<", "><", body).replace("<g/>", "")
    width, height = figure.get_size_inches() * UNITS_PER_INCH
    return (
        f'<svg class="figure" viewBox="0 0 {width:.0f} {height:.0f}" role="img" '
        f'font-family="{SANS}" stroke-linejoin="round" stroke-linecap="butt" '
        f'aria-labelledby="{name}-title {name}-desc">'
        f'<title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(description)}</desc>{body}</svg>'
    )


def _brief_path(found: "re.Match[str]") -> str:
    """A path of straight lines by its steps, to a tenth of a picture unit; others as they are.

    Each step leads from where the last one, rounded, arrived, so that no error adds up.
    """
    text = found[1]
    if re.search("[CQ]", text):
        return found[0]
    here = [0, 0]
    pieces = []
    for command, *at in _STEP.findall(text):
        if command == "z":
            pieces.append("z")
            continue
        there = [round(10.0 * float(value)) for value in at]
        if command == "M":
            pieces.append("M" + _pair(there))
        else:
            pieces.append("l" + _pair([new - old for new, old in zip(there, here, strict=True)]))
        here = there
    return f' d="{"".join(pieces)}"'


def _pair(tenths: list[int]) -> str:
    """Two numbers as short as they go; a minus sign parts them as well as a space."""
    x, y = (
        f"{value / 10:g}".replace("0.", ".") if abs(value) < 10 else f"{value / 10:g}"
        for value in tenths
    )
    return x + ("" if y.startswith("-") else " ") + y
