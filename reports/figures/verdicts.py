"""Golfers by verdict, part by part: bars told apart by tint and outline, no signal colours."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Final

from norms.records.standard import Verdict

ORDER: Final[tuple[Verdict, ...]] = ("met", "cannot tell", "not yet")
_WIDTH, _ROW, _WORDS, _BAR = 560.0, 38.0, 18.0, 13.0
_INSET = 1.0  # so that the outline of a bar is not cut off
_BARS = _WIDTH - 2 * _INSET


def verdict_bars(
    rows: Sequence[tuple[str, Mapping[Verdict, int]]], *, name: str, title: str
) -> str:
    """Stacked bars, one for each row, all of one length for all of its golfers.

    Parameters
    ----------
    rows : sequence of (str, Mapping of verdict to int)
        Words and counts.
    name : str
        Identifier, unique on the page.
    title : str

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    height = _ROW * len(rows)
    drawn, told = [], []
    for place, (words, counts) in enumerate(rows):
        top = place * _ROW
        drawn.append(f'<text x="0" y="{top + 13:.0f}" class="bar-words">{escape(words)}</text>')
        drawn += _bar(counts, top + _WORDS)
        told.append(f"{words}: " + ", ".join(f"{counts[one]} {one}" for one in ORDER))
    return (
        f'<svg class="figure bars" viewBox="0 0 {_WIDTH:.0f} {height:.0f}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc"><title id="{name}-title">{escape(title)}'
        f'</title><desc id="{name}-desc">{escape("; ".join(told))}.</desc>{"".join(drawn)}</svg>'
    )


def _bar(counts: Mapping[Verdict, int], top: float) -> list[str]:
    total = sum(counts.values())
    parts, left = [], _INSET
    for verdict in ORDER:
        width = _BARS * counts[verdict] / total if total else 0.0
        if width:
            kind = verdict.replace(" ", "-")
            parts.append(
                f'<rect class="bar-{kind}" x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" '
                f'height="{_BAR:.0f}"/>'
            )
        if width > 18.0:
            middle = left + width / 2
            parts.append(
                f'<text class="bar-count bar-count-{verdict.replace(" ", "-")}" '
                f'x="{middle:.1f}" y="{top + 10.5:.1f}">{counts[verdict]}</text>'
            )
        left += width
    return parts
