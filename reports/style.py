"""The look: ink on warm paper, one blue-grey family for the group, one burnt orange for a golfer.

Colours are chosen so that text reaches a contrast of 4.5 : 1 on the paper (WCAG 2, level AA) and
so that the tints stay apart when printed in grey. Whatever differs in colour also differs in line
style or in form.
"""

from typing import Final

PAPER: Final = "#fbf8f1"
INK: Final = "#1f1d1a"
MUTED: Final = "#5b564e"
RULE: Final = "#d9d2c4"
GOLFER: Final = "#a8420c"
MEDIAN: Final = "#2c4760"

BAND_PAIRS: Final[tuple[tuple[float, float], ...]] = ((5.0, 95.0), (10.0, 90.0), (25.0, 75.0))
"""Lower and upper percentile of each tinted band, widest first."""
BAND_TINTS: Final[dict[tuple[float, float], str]] = {
    (5.0, 95.0): "#dae1e6",
    (10.0, 90.0): "#bfcbd4",
    (25.0, 75.0): "#9eb0be",
}

SERIF: Final = "'Iowan Old Style', 'Palatino Linotype', Palatino, Charter, Georgia, serif"
SANS: Final = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"

GOLFER_LINE: Final[dict[str, object]] = {"color": GOLFER, "linewidth": 2.2, "linestyle": "-"}
MEDIAN_LINE: Final[dict[str, object]] = {
    "color": MEDIAN,
    "linewidth": 1.5,
    "linestyle": (0, (1.0, 1.3)),
}


def css_variables() -> str:
    """The colours and typefaces as CSS custom properties, for the head of every page."""
    tints = {f"band-{high - low:.0f}": tint for (low, high), tint in BAND_TINTS.items()}
    names = {
        "paper": PAPER,
        "ink": INK,
        "muted": MUTED,
        "rule": RULE,
        "golfer": GOLFER,
        "median": MEDIAN,
        **tints,
        "serif": SERIF,
        "sans": SANS,
    }
    return ":root{" + ";".join(f"--{name}:{value}" for name, value in names.items()) + "}"
