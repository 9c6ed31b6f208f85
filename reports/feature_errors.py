"""The error of each feature on invented swings of known truth, by rate, noise and filter."""

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

from norms.swing.catalogue import BY_NAME, FEATURE_NAMES, FeatureUnit
from norms.units import cm_to
from reports.phrases import phrase
from reports.quantities import number, percent_of, unit_words

TABLE: Final = "feature_errors.csv"
FIRST_TABLE: Final = ("240", "12 Hz")
"""Rate and filter of the table that is shown open."""
FILTERS: Final = {
    "12 Hz": "cutoff 12 Hz",
    "residual": "cutoff chosen from the capture’s residuals",
}
_DECIMALS: Final[dict[tuple[str, str], int]] = {
    ("cm", "in"): 3, ("cm", "cm"): 2, ("cm_s", "in"): 2, ("cm_s", "cm"): 1,
    ("s", "in"): 3, ("s", "cm"): 3, ("pct", "in"): 1, ("pct", "cm"): 1,
    ("ratio", "in"): 3, ("ratio", "cm"): 3,
}  # fmt: skip
"""Finer than features are shown: an error is the last digit of what it is the error of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureError:
    """Error of one feature at one rate, noise and filter.

    Attributes
    ----------
    rate_hz, noise_mm, filtering, feature : str
        As the simulation names them; noise is the sd on each coordinate of every marker.
    rmse : float
        Root of the mean squared error, in the catalogue's unit.
    within_2_stated : float
        Share of swings whose error lies within two of the uncertainties that they state.
    swings : int
    """

    rate_hz: str
    noise_mm: str
    filtering: str
    feature: str
    rmse: float
    within_2_stated: float
    swings: int


@cache
def feature_errors() -> tuple[FeatureError, ...]:
    """Every row of the simulation whose result is shipped with the package."""
    text = files("reports").joinpath(TABLE).read_text(encoding="utf-8")
    return tuple(
        FeatureError(
            rate_hz=row["rate_hz"],
            noise_mm=row["noise_mm"],
            filtering=row["filter"],
            feature=row["feature"],
            rmse=float(row["rmse"]),
            within_2_stated=float(row["within_2_stated"]),
            swings=int(row["swings"]),
        )
        for row in csv.DictReader(text.splitlines())
    )


def error_of(feature: str, rate_hz: str, noise_mm: str, filtering: str) -> FeatureError:
    """One row.

    Raises
    ------
    KeyError
        If the simulation has no such row.
    """
    for row in feature_errors():
        if (row.feature, row.rate_hz, row.noise_mm, row.filtering) == (
            feature, rate_hz, noise_mm, filtering,
        ):  # fmt: skip
            return row
    raise KeyError((feature, rate_hz, noise_mm, filtering))


def error_tables(unit: str) -> list[dict[str, object]]:
    """A table for each rate and filter: a row for each feature, a column for each noise."""
    cells = {(r.rate_hz, r.filtering, r.feature, r.noise_mm): r for r in feature_errors()}
    noises = list(dict.fromkeys(r.noise_mm for r in feature_errors()))
    cases = sorted(
        dict.fromkeys((r.rate_hz, r.filtering) for r in feature_errors()),
        key=lambda case: (case != FIRST_TABLE, list(FILTERS).index(case[1]), float(case[0])),
    )
    return [
        {
            "title": f"{rate_hz} Hz, {FILTERS[filtering]}",
            "open": (rate_hz, filtering) == FIRST_TABLE,
            "noises": [f"{noise} mm" for noise in noises],
            "rows": [
                _row([cells[rate_hz, filtering, feature, noise] for noise in noises], unit)
                for feature in FEATURE_NAMES
            ],
        }
        for rate_hz, filtering in cases
    ]


def error_words(error: float, kind: FeatureUnit, unit: str) -> str:
    """An error alone, in the reader's unit; what rounds to nothing says below what it lies."""
    shown = cm_to(error, unit) if kind in ("cm", "cm_s") else error
    decimals = _DECIMALS[kind, unit]
    smallest = 10.0**-decimals
    if 0 < shown < smallest / 2:
        return f"< {number(smallest, decimals)}"
    return number(shown, decimals)


def lead_words(unit: str) -> str:
    """What the table says of one feature at one lab, as a sentence."""
    one = error_of("sway_travel", *_case("1"))
    worse = error_of("sway_travel", *_case("5"))
    small, large = (f"{error_words(e.rmse, 'cm', unit)} {unit}" for e in (one, worse))
    return (
        f"At {FIRST_TABLE[0]} Hz, with markers that scatter by 1 mm, forward travel is off by "
        f"{small} (root mean square); with 5 mm, by {large}."
    )


def coverage_words() -> str:
    """How often an error lies within two stated uncertainties, over all rows."""
    return (
        f"Over all features, rates, noises and filters, {percent_of(_mean_within())} of errors lie "
        "within two of the standard uncertainties that the swings state themselves; 95 % would be "
        "wanted of a normal error."
    )


def _mean_within() -> float:
    rows = feature_errors()
    return sum(r.within_2_stated * r.swings for r in rows) / sum(r.swings for r in rows)


def _case(noise_mm: str) -> tuple[str, str, str]:
    return FIRST_TABLE[0], noise_mm, FIRST_TABLE[1]


def _row(errors: Iterable[FeatureError], unit: str) -> dict[str, object]:
    by_noise = list(errors)
    info = BY_NAME[by_noise[0].feature]
    return {
        "subject": phrase(info.name).subject,
        "unit": unit_words(info.unit, unit),
        "cells": [error_words(error.rmse, info.unit, unit) for error in by_noise],
        "within": percent_of(min(error.within_2_stated for error in by_noise)),
    }
