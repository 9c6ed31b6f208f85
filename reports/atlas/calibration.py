"""How the methods behave on invented golfers of whom the truth is known."""

import csv
from functools import cache
from importlib.resources import files
from typing import Final

from reports.quantities import DASH

TITLES: Final[dict[str, tuple[str, str]]] = {
    # kind in calibration.csv: title of the table, what was asked
    "percentile_interval": (
        "Intervals of percentiles",
        "Share of 90 % intervals that hold the true percentile; the lowest over the percentiles "
        "that are shown. Wanted: at least 88 %.",
    ),
    "weighted_interval": (
        "Intervals of percentiles under weights",
        "The same where a tenth of the golfers weigh 3 or 8 times as much and differ from the "
        "others. Wanted: at least 88 %.",
    ),
    "whole_curve": (
        "Whole-curve bands",
        "Share of new golfers whose three whole curves the joint 90 % band holds. "
        "Wanted: 88 to 92 %.",
    ),
    "pointwise": (
        "Pointwise bands, for comparison",
        "Share of new golfers whose three whole curves lie inside the pointwise middle 90 %. "
        "It promises nothing about whole curves.",
    ),
    "centile": (
        "Centiles by handicap",
        "Largest distance between p and the share of new golfers below the p-th centile, in "
        "points. Wanted: at most 2 overall, 4 in each third of handicap.",
    ),
    "partition": (
        "The permutation test of curves",
        "How often a test at 5 % says “differ” of groups that do not. Wanted: 4 to 6 %.",
    ),
}


@cache
def calibration_tables() -> tuple[dict[str, object], ...]:
    """The essential figures of the simulations, a table for each promise."""
    text = files("reports").joinpath("calibration.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    return tuple(
        {"title": title, "words": words, **_pivoted([row for row in rows if row["kind"] == kind])}
        for kind, (title, words) in TITLES.items()
    )


def _pivoted(rows: list[dict[str, str]]) -> dict[str, object]:
    """A row for each case, a column for each number of golfers."""
    numbers = list(dict.fromkeys(row["golfers"] for row in rows))
    cases: dict[str, dict[str, str]] = {}
    for row in rows:
        cases.setdefault(row["case"], {})[row["golfers"]] = row["measured"]
    return {
        "golfers": numbers,
        "rows": [
            {"case": case, "measured": [measured.get(number, DASH) for number in numbers]}
            for case, measured in cases.items()
        ],
    }
