"""Simulations of reliability, of studies, and of comparing and adopting editions, in short."""

import csv
from collections import defaultdict
from collections.abc import Iterable
from functools import cache
from importlib.resources import files

from reports.quantities import number

NAMES = {
    "icc within session": "Interval of the ICC, same day",
    "icc between sessions": "Interval of the ICC, other day",
    "sem within session": "Interval of the SEM, same day",
    "sem between sessions": "Interval of the SEM, other day",
    "lab shift": "Interval of a lab’s shift",
    "lab scale": "Interval of a lab’s scale",
    "sessions held in control": "Sessions in control that are held back",
}
"""Rows of the reliability table in words; a run length is not a share and is left out."""


@cache
def simulation_tables() -> tuple[dict[str, object], ...]:
    """Tables of a few rows: title, words, headings and rows."""
    return (_reliability(), _budget(), _placing(), _decisions(), _studies(), _tied(), _editions())


def _reliability() -> dict[str, object]:
    measured, nominal = defaultdict(list), {}
    for row in _rows("reliability.csv"):
        measured[row["quantity"]].append(float(row["measured"]))
        nominal[row["quantity"]] = float(row["nominal"])
    return {
        "title": "Reliability and labs",
        "words": "Share of intervals that hold the truth, and of sessions in control that are "
        "held back; the range over designs with few and many golfers and days.",
        "headings": ("Quantity", "Wanted", "Lowest", "Highest"),
        "rows": [
            (words, *_percents([nominal[name], min(measured[name]), max(measured[name])]))
            for name, words in NAMES.items()
        ],
    }


def _budget() -> dict[str, object]:
    measured: dict[tuple[str, str], list[float]] = defaultdict(list)
    for row in _rows("noise_budget.csv"):
        measured[row["case"], row["golfers"]].append(float(row["covered_pct"]) / 100.0)
    return {
        "title": "The noise budget, for golfers of any shape",
        "words": "Share of 95 % intervals of SEM and ICC, same day and other day, that hold the "
        "truth, where golfers have 1 to 4 days and 1 to 10 swings a day. Wanted: 92 to 97 %; each "
        "figure is uncertain by half a point.",
        "headings": ("Golfers are", "Golfers", "Lowest", "Highest"),
        "rows": [
            (case, golfers, *_percents([min(shares), max(shares)]))
            for (case, golfers), shares in measured.items()
        ],
    }


def _decisions() -> dict[str, object]:
    return {
        "title": "Partitions as a whole",
        "words": "How often curves, means or spreads are said to differ beyond chance, at 5 % for "
        "all together, of 15 and 60 golfers who do not differ in what is asked: the means alone "
        "where the spreads do.",
        "headings": ("Groups", "Measured", "Uncertain by"),
        "rows": [
            (
                row["case"],
                *_percents(float(row[name]) / 100.0 for name in ("own_pct", "standard_error_pct")),
            )
            for row in _rows("partition_decisions.csv")
        ],
    }


def _tied() -> dict[str, object]:
    return {
        "title": "Ball speed studies where swings are tied together",
        "words": "How often a 95 % interval of the effect within golfers holds it, where swings "
        "of a day are alike in feature and speed, or golfers have slopes of their own: by the "
        "model’s own errors, which know of neither, and robust by golfer, as this project does it.",
        "headings": ("Tied by", "Golfers", "The model’s own", "Robust by golfer"),
        "rows": [
            (
                row["swings_tied_by"],
                row["golfers"],
                *_percents(
                    float(row[name]) / 100.0 for name in ("model_covered_pct", "robust_covered_pct")
                ),
            )
            for row in _rows("study_tied.csv")
        ],
    }


def _placing() -> dict[str, object]:
    held = [
        float(row["coverage"])
        for name in ("sure_places.csv", "sure_places_skewed.csv")
        for row in _rows(name)
    ]
    flagged = [float(row["single case"]) for row in _rows("single_case.csv")]
    real = {row["first session"]: float(row["share told real"]) for row in _rows("real_change.csv")}
    lines = [
        ("A golfer’s true place lies in its interval", 0.9, held),
        ("A golfer like the others is flagged, 5 to 20 peers", 0.05, flagged),
        ("A golfer who has not changed is told of a change", 0.05, [real["all"]]),
        ("The same after an extreme first session", 0.05, [real["extreme"]]),
        (
            "The same by the smallest detectable change alone, for comparison",
            0.05,
            [real["extreme by the smallest detectable change alone"]],
        ),
    ]
    return {
        "title": "Placing a golfer, and telling a change",
        "words": "Golfers of many and few swings, among many and few peers, of normal and skewed "
        "values.",
        "headings": ("What happens", "Wanted", "Lowest", "Highest"),
        "rows": [
            (words, *_percents([wanted, min(shares), max(shares)]))
            for words, wanted, shares in lines
        ],
    }


def _studies() -> dict[str, object]:
    return {
        "title": "Ball speed studies",
        "words": "How often an effect is found that is not there, by a test at 5 %: with golfers’ "
        "swings pooled as if they were all different people, and as this project does it; and how "
        "often a 95 % interval holds the effect.",
        "headings": (
            "Golfers", "Pooled, false", "Within golfers, false", "Between golfers, false",
            "Within, held", "Between, held",
        ),
        "rows": [
            (
                row["golfers"],
                *_percents(
                    float(row[name]) / 100.0
                    for name in (
                        "pooled_false_pct", "within_false_pct", "between_false_pct",
                        "within_covered_pct", "between_covered_pct",
                    )
                ),
            )
            for row in _rows("study_effects.csv")
            if row["golfer_sd"] == "3.0"
        ],
    }  # fmt: skip


def _editions() -> dict[str, object]:
    rows = [
        ("Two editions of equal truth, the second of " + row["golfers of the second season"],
         *_percents([0.05, float(row["false_alarm_rate"])]))
        for row in _rows("compare_false_alarms.csv")
    ]  # fmt: skip
    rows += [
        (
            f"Adopting an edition of {row['golfers_there']} golfers on {row['golfers_here']}: "
            f"{row['truth']}",
            *_percents([float(row["stated"]), float(row["refused"])]),
        )
        for row in _rows("adopt_error_rates.csv")
    ]
    return {
        "title": "Comparing and adopting editions",
        "words": "How often two editions are told apart, or another academy’s edition is refused.",
        "headings": ("Case", "Stated", "Measured"),
        "rows": rows,
    }


def _rows(name: str) -> list[dict[str, str]]:
    text = files("reports").joinpath("results", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def _percents(shares: Iterable[float]) -> list[str]:
    return [f"{number(100.0 * share, 1)} %" for share in shares]
