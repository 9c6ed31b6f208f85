"""A lab's control chart: each session's farthest feature against the limits."""

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from norms.cohort.lab_control import FEWEST_GOLFERS
from norms.records import LabControl
from norms.records.lab_quality import REPEATED_GOLFERS
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.style import BAND_TINTS, GOLFER, INK, MEDIAN, MUTED, PAPER, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH, _HEIGHT = 640.0, 300.0
_MOST_LABELS: Final = 8


def control_chart(control: LabControl, *, name: str) -> str | None:
    """Shift and spread of every session, as an ``<svg>`` element.

    Parameters
    ----------
    control : LabControl
    name : str
        Identifier, unique on its page.

    Returns
    -------
    str or None
        None where no session can be judged.

    Notes
    -----
    A session stands at its farthest feature, with that feature's sign. Where more than half of a
    chart's sessions lie beyond a limit the picture still shows them all.
    """
    panels = [
        (words, _farthest(scores))
        for words, scores in (("shift", control.shift), ("spread", control.spread))
        if np.isfinite(scores).any()
    ]
    if not panels:
        return None
    with drawing(name):
        figure = new_figure(_WIDTH, _HEIGHT * (0.32 + 0.34 * len(panels)))
        for place, (words, points) in enumerate(panels, start=1):
            axes = figure.add_subplot(len(panels), 1, place)
            _draw(axes, control, points, words, last=place == len(panels))
        figure.subplots_adjust(left=0.1, right=0.98, top=0.93, bottom=0.16, hspace=0.45)
        return inline_svg(
            figure,
            name=name,
            title=f"Control chart of {control.lab}, {control.club}",
            description=_description(control),
        )


def _farthest(scores: np.ndarray) -> np.ndarray:
    """The score farthest from zero of each session, shape (m,); NaN without any."""
    size = np.where(np.isfinite(scores), np.abs(scores), -1.0)
    farthest = scores[np.arange(len(scores)), size.argmax(axis=1)]
    return np.asarray(farthest)


def _draw(axes: "Axes", control: LabControl, points: np.ndarray, words: str, *, last: bool) -> None:
    days: Any = list(control.sessions)
    seen = np.isfinite(points)
    beyond = seen & (np.abs(np.nan_to_num(points)) > control.limit)
    held = beyond & control.out
    judged = control.repeated_golfers >= (
        FEWEST_GOLFERS if control.basis == REPEATED_GOLFERS else 1
    )
    axes.axhspan(-control.limit, control.limit, color=BAND_TINTS[(5.0, 95.0)], linewidth=0)
    axes.axhline(0.0, color=MEDIAN, linewidth=1.0, linestyle=(0, (1.0, 1.3)))
    for chosen, fill in ((seen & ~held & ~judged, PAPER), (seen & ~held & judged, MEDIAN)):
        shown = [day for day, keep in zip(days, chosen, strict=True) if keep]
        axes.plot(
            shown,
            points[chosen],
            linestyle="",
            marker="o",
            markersize=3.4,
            markeredgecolor=MEDIAN,
            markerfacecolor=fill,
            markeredgewidth=0.7,
        )
    out = [day for day, keep in zip(days, held, strict=True) if keep]
    axes.plot(out, points[held], linestyle="", marker="D", markersize=7.0, color=GOLFER)
    if len(out) <= _MOST_LABELS:
        for day, value in zip(out, points[held], strict=True):
            axes.annotate(
                day.isoformat(),
                (day, value),
                xytext=(7, 0),
                textcoords="offset points",
                va="center",
                fontsize=9.5,
                color=INK,
            )
    reach = max(control.limit * 1.35, float(np.nanmax(np.abs(points))) * 1.12)
    axes.set_ylim(-reach, reach)
    ticks = [-control.limit, 0.0, control.limit]
    axes.set_yticks(ticks, [f"−{control.limit:.1f}", "0", f"+{control.limit:.1f}"])
    axes.set_title(f"{words} of each session", loc="left", fontsize=11.0, color=INK)
    axes.spines["left"].set_color(RULE)
    axes.tick_params(labelsize=9.5, length=3.0, color=RULE)
    if last:
        axes.set_xlabel("day of the session", color=MUTED)
    else:
        axes.tick_params(labelbottom=False)
    _month_ticks(axes)


def _month_ticks(axes: "Axes") -> None:
    import matplotlib.dates

    dates: Any = matplotlib.dates  # its classes carry no types
    locator = dates.AutoDateLocator(minticks=3, maxticks=8)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(dates.ConciseDateFormatter(locator))


def _description(control: LabControl) -> str:
    judged = int(np.count_nonzero(control.repeated_golfers))
    out = [day.isoformat() for day, off in zip(control.sessions, control.out, strict=True) if off]
    return (
        f"{len(control.sessions)} sessions, {judged} of them with something measured again. "
        f"Limit {control.limit:.1f} either way. Out of control: {', '.join(out) or 'none'}."
    )
