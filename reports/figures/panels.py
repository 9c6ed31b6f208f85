"""Three panels of curves side by side, drawn as plain SVG: a sheet must not wait for a library."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES, AXIS_ENDS, EVENT_NODES, NODES
from reports.quantities import check_unit, number

FloatArray = NDArray[np.float64]

_PANEL, _GAP, _LEFT, _TOP, _TALL, _FOOT = 216.0, 34.0, 26.0, 30.0, 168.0, 34.0
_STEP: Final = 4  # every fourth node is drawn; 4 divides 100, so every event keeps its node
_WIDTH: Final = _LEFT + 3 * _PANEL + 2 * _GAP + 6
_HEIGHT: Final = _TOP + _TALL + _FOOT
_TICKS: Final = 6
_STEPS: Final = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelBand:
    """A band of curves, in cm, shape (3, 301) each; drawn under every line."""

    low_cm: FloatArray
    high_cm: FloatArray
    look: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelLine:
    """A line, in cm, shape (3, 301)."""

    curve_cm: FloatArray
    look: str


def curve_panels(
    bands: Sequence[PanelBand],
    lines: Sequence[PanelLine],
    *,
    unit: str,
    name: str,
    title: str,
    description: str,
) -> str:
    """Sway, thrust and lift side by side on one scale.

    Parameters
    ----------
    bands : sequence of PanelBand
        Widest first.
    lines : sequence of PanelLine
        The last one on top.
    unit : {"in", "cm"}
    name : str
        Identifier, unique on its page.
    title, description : str

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    check_unit(unit)
    scale = CM_PER_UNIT[unit]
    low, high = _extent(bands, lines, scale)

    def y_of(value: float | FloatArray) -> FloatArray:
        return np.asarray(_TOP + (high - np.asarray(value)) / (high - low) * _TALL)

    parts = [
        f'<svg class="panels" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc"><title id="{name}-title">{escape(title)}'
        f'</title><desc id="{name}-desc">{escape(description)}</desc>'
    ]
    ticks = _ticks(low, high)
    for place, axis in enumerate(AXES):
        left = _LEFT + place * (_PANEL + _GAP)
        x = left + np.arange(0, NODES, _STEP) / (NODES - 1) * _PANEL
        parts.append(_frame(axis, left, unit, [(tick, float(y_of(tick))) for tick in ticks]))
        for band in bands:
            edges = [y_of(curve[place, ::_STEP] / scale) for curve in (band.low_cm, band.high_cm)]
            if np.isfinite(edges).all():
                around = [
                    *zip(x, edges[1], strict=True),
                    *zip(x[::-1], edges[0][::-1], strict=True),
                ]
                parts.append(f'<path class="{band.look}" d="{_path(around)}Z"/>')
        for line in lines:
            points = list(zip(x, y_of(line.curve_cm[place, ::_STEP] / scale), strict=True))
            parts.append(f'<path class="rim" d="{_path(points)}"/>')
            parts.append(f'<path class="{line.look}" d="{_path(points)}"/>')
    return "".join(parts) + "</svg>"


def _extent(
    bands: Sequence[PanelBand], lines: Sequence[PanelLine], scale: float
) -> tuple[float, float]:
    curves = [line.curve_cm for line in lines]
    curves += [edge for band in bands for edge in (band.low_cm, band.high_cm)]
    known = np.concatenate([curve[np.isfinite(curve)] for curve in curves]) / scale
    low, high = min(0.0, float(known.min())), max(0.0, float(known.max()))
    air = 0.06 * max(high - low, 0.1)
    return low - air, high + air


def _ticks(low: float, high: float) -> list[float]:
    step = next((one for one in _STEPS if (high - low) / one <= _TICKS), _STEPS[-1])
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    return [step * place for place in range(first, last + 1)]


def _frame(axis: str, left: float, unit: str, ticks: list[tuple[float, float]]) -> str:
    """Title, ends of the axis in words, ticks, and a line at each event."""
    upper, lower = AXIS_ENDS[axis]
    right, foot = left + _PANEL, _TOP + _TALL
    parts = [
        f'<text class="name" x="{left:g}" y="12">{axis.capitalize()}, {unit}</text>',
        f'<text class="end" x="{right:g}" y="12" text-anchor="end">↑ {upper}</text>',
        f'<text class="end" x="{right:g}" y="{foot + 30:g}" text-anchor="end">↓ {lower}</text>',
    ]
    for event, node in EVENT_NODES.items():
        x = left + node / (NODES - 1) * _PANEL
        anchor = {0: "start", NODES - 1: "end"}.get(node, "middle")
        parts.append(f'<path class="event" d="M{x:.1f} {_TOP:g}V{foot:g}"/>')
        parts.append(
            f'<text class="tick" x="{x:.1f}" y="{foot + 13:g}" text-anchor="{anchor}">'
            f"{event}</text>"
        )
    for value, y in ticks:
        look = "zero" if value == 0 else "grid"
        decimals = 0 if float(value).is_integer() else 1
        parts.append(f'<path class="{look}" d="M{left:g} {y:.1f}H{right:g}"/>')
        parts.append(
            f'<text class="tick" x="{left - 4:g}" y="{y + 3.5:.1f}" text-anchor="end">'
            f"{number(value, decimals)}</text>"
        )
    return "".join(parts)


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
