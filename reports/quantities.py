"""Numbers as a reader sees them: converted, rounded, with their unit and a typographic minus."""

from typing import Final

from norms.swing.catalogue import FeatureUnit
from norms.units import LENGTH_UNITS_SHOWN, cm_to
from norms.vocabulary import EVENT_NODES, NODES_PER_PHASE, PHASE_NAMES, PHASES

MINUS: Final = "−"
DASH: Final = "–"

_DECIMALS: Final[dict[str, int]] = {"cm": 1, "cm_s": 0, "s": 2, "pct": 0, "ratio": 2}


def check_unit(unit: str) -> None:
    """Refuse a unit of length that pages do not show.

    Raises
    ------
    ValueError
        If ``unit`` is neither "in" nor "cm".
    """
    if unit not in LENGTH_UNITS_SHOWN:
        raise ValueError(f"unit: {unit!r} where one of {LENGTH_UNITS_SHOWN} is needed")


def number(value: float, decimals: int) -> str:
    """Rounded text with a typographic minus; what rounds to zero carries no sign."""
    digits = f"{abs(value):.{decimals}f}"
    return digits if value >= 0 or not digits.strip("0.") else MINUS + digits


def unit_words(kind: FeatureUnit, unit: str) -> str:
    """Words of a unit as shown: "in", "in/s", "s", "%" or nothing for a ratio."""
    return {"cm": unit, "cm_s": f"{unit}/s", "s": "s", "pct": "%", "ratio": ""}[kind]


def digits(value: float, kind: FeatureUnit, unit: str, *, finer: int = 0) -> str:
    """The number alone, in the reader's unit.

    Parameters
    ----------
    value : float
        In the catalogue's unit ``kind``.
    kind : {"cm", "cm_s", "s", "pct", "ratio"}
    unit : {"in", "cm"}
        The reader's unit of length.
    finer : int, optional
        Decimals beyond the usual, where numbers that are close stand side by side.
    """
    shown = cm_to(value, unit) if kind in ("cm", "cm_s") else value
    return number(shown, _DECIMALS[kind] + finer)


def quantity(value: float, kind: FeatureUnit, unit: str, *, finer: int = 0) -> str:
    """Number and unit, e.g. "4.1 in"."""
    return f"{digits(value, kind, unit, finer=finer)} {unit_words(kind, unit)}".rstrip()


def percent_of(share: float) -> str:
    """A share between 0 and 1 as a whole percent."""
    return f"{number(100.0 * share, 0)} %"


def middle_share(percents: tuple[float, float]) -> str:
    """Words for the range between two percentiles: (10, 90) is "middle 80 %"."""
    low, high = percents
    return f"middle {high - low:.0f} %"


def handicap_words(index: float | None) -> str:
    """Handicap as golfers write it: −2.4 in the store is "+2.4"."""
    if index is None:
        return "none"
    return f"+{-index:.1f}" if index < 0 else f"{index:.1f}"


def plural(count: int, word: str) -> str:
    """Count and noun, e.g. "1 golfer", "2 golfers"."""
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"


def node_words(node: int) -> str:
    """Where in the swing a phase node is, e.g. "at the top", "at 80 % of the backswing"."""
    for event, at in EVENT_NODES.items():
        if node == at:
            return f"at {event}" if event == "impact" else f"at the {event}"
    phase, percent = divmod(node, NODES_PER_PHASE - 1)
    return f"at {percent} % of the {PHASE_NAMES[PHASES[phase]]}"
