"""The edition page: which groups carry norms, what they are, and how they were made."""

from collections.abc import Mapping, Sequence
from typing import Final

from norms.records import Bands, CohortNorms, Edition, Level
from norms.swing.catalogue import BY_NAME
from reports.figures.bands import cells_figure
from reports.phrases import phrase
from reports.quantities import (
    DASH,
    check_unit,
    digits,
    middle_share,
    percent_of,
    plural,
    unit_words,
)
from reports.render import picture, render
from reports.sentences import STANDING_CAUTIONS, sentence_case
from reports.style import BAND_PAIRS

REFERENCES: Final[tuple[str, ...]] = (
    "Percentiles between ranked golfers: Hyndman and Fan (1996), The American Statistician 50, "
    "type 6.",
    "Intervals of percentiles from order statistics, as in CLSI guideline EP28-A3c.",
    "Interval of a placed golfer’s percentile: Wilson (1927), Journal of the American Statistical "
    "Association 22.",
    "Hip joint centres: Harrington and others (2007), Journal of Biomechanics 40, unless a swing "
    "says otherwise.",
    "Low-pass filter run forward and backward: Winter, Biomechanics and Motor Control of Human "
    "Movement.",
)


def edition_page(edition: Edition, *, unit: str = "in") -> str:
    """Everything an edition holds, as a self-contained HTML page.

    Golfers' codes and means stay out of it.

    Parameters
    ----------
    edition : Edition
    unit : {"in", "cm"}
        The reader's unit of length.

    Returns
    -------
    str
        The same bytes for the same edition.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    cells = sorted_cells(edition)
    clubs = list(dict.fromkeys(cell.cohort.definition.club for cell in cells))
    return render(
        "edition.html",
        title=f"Edition “{edition.name}”",
        lead=_lead(edition),
        facts=_facts(edition),
        clubs=[sentence_case(club) for club in clubs],
        grid=_grid(cells, clubs),
        figures=[_club_figure(cells, club, order, unit) for order, club in enumerate(clubs)],
        tables=[_cell_table(cell, unit) for cell in cells],
        attrition=edition.attrition,
        parameters=_parameters(edition.parameters),
        references=REFERENCES,
        cautions=STANDING_CAUTIONS,
    )


def sorted_cells(edition: Edition) -> list[CohortNorms]:
    """Cells by club, then from the best handicap on, those of all levels last."""
    return sorted(
        edition.cells,
        key=lambda cell: (cell.cohort.definition.club, _level_order(cell.cohort.definition.level)),
    )


def level_words(level: Level | None) -> str:
    """Words of a level, or of all of them."""
    return level.label if level else "all levels"


def shown_words(cell: CohortNorms) -> str:
    """What a cell shows, e.g. "percentiles 10 to 90", or why it is withheld."""
    if cell.bands is None:
        return f"withheld: {cell.withheld or 'no reason stated'}"
    shown = cell.bands.shown_percents()
    return f"percentiles {shown[0]:g} to {shown[-1]:g}" if len(shown) > 1 else "the median alone"


def _level_order(level: Level | None) -> tuple[int, float, str]:
    if level is None:
        return (3, 0.0, "")
    kinds = {"handicap": 0, "none": 1, "professional": 2}
    above = float("-inf") if level.above is None else level.above
    return (kinds.get(level.kind, 2), above, level.key)


def edition_golfers(edition: Edition) -> int:
    """Golfers of an edition, each counted once however many cells they are in."""
    return len({code for cell in edition.cells for code in cell.cohort.golfers})


def edition_swings(edition: Edition) -> int:
    """Swings of an edition; a swing is in one cell of its level and in one of all levels."""
    whole = [cell for cell in edition.cells if cell.cohort.definition.level is None]
    counted = whole or edition.cells
    return sum(int(cell.cohort.swing_counts.sum()) for cell in counted)


def _lead(edition: Edition) -> str:
    withheld = sum(cell.bands is None for cell in edition.cells)
    groups = plural(len(edition.cells), "group")
    rest = f"; {withheld} withheld, with too few golfers" if withheld else ""
    return f"Of {groups}, {len(edition.cells) - withheld} carry norms{rest}."


def _facts(edition: Edition) -> str:
    return (
        f"{plural(edition_golfers(edition), 'golfer')}, "
        f"{plural(edition_swings(edition), 'swing')}. Every golfer of a group counts once, with "
        f"the mean of their swings. Fingerprint {edition.content_hash[:12]}."
    )


def _grid(cells: Sequence[CohortNorms], clubs: Sequence[str]) -> list[dict[str, object]]:
    rows: dict[str, dict[str, dict[str, object]]] = {}
    for cell in sorted(cells, key=lambda cell: _level_order(cell.cohort.definition.level)):
        definition = cell.cohort.definition
        rows.setdefault(level_words(definition.level), {})[definition.club] = {
            "golfers": plural(len(cell.cohort.golfers), "golfer"),
            "swings": plural(int(cell.cohort.swing_counts.sum()), "swing"),
            "shown": shown_words(cell),
            "withheld": cell.bands is None,
        }
    return [
        {"level": level, "cells": [by_club.get(club) for club in clubs]}
        for level, by_club in rows.items()
    ]


def _club_figure(
    cells: Sequence[CohortNorms], club: str, order: int, unit: str
) -> dict[str, object]:
    own = [cell for cell in cells if cell.cohort.definition.club == club]
    shown = {p for cell in own if cell.bands for p in cell.bands.shown_percents()}
    return {
        "club": sentence_case(club),
        "svg": picture(cells_figure(own, name=f"club-{order}", club=club, unit=unit)),
        "key": [f"{high - low:.0f}" for low, high in reversed(BAND_PAIRS) if {low, high} <= shown],
    }


def _cell_table(cell: CohortNorms, unit: str) -> dict[str, object]:
    bands = cell.bands
    title = f"{sentence_case(cell.cohort.definition.label)}: " + (
        f"{plural(bands.golfers, 'golfer')}, {plural(bands.swings, 'swing')}"
        if bands
        else shown_words(cell)
    )
    rows = (
        [_feature_row(bands, column, unit) for column in range(len(bands.feature_names))]
        if bands
        else []
    )
    confidence = percent_of(bands.confidence) if bands else ""
    return {"title": title, "rows": rows, "confidence": confidence}


def _feature_row(bands: Bands, column: int, unit: str) -> dict[str, str]:
    info = BY_NAME[bands.feature_names[column]]
    shown = {
        percent
        for row, percent in enumerate(bands.percents)
        if bands.feature[row, column] == bands.feature[row, column]
    }
    pair = next((pair for pair in BAND_PAIRS if set(pair) <= shown), None)

    def limit(percent: float) -> str:
        if percent not in shown:
            return DASH
        row = bands.percents.index(percent)
        value, low, high = (
            digits(float(values[row, column]), info.unit, unit)
            for values in (bands.feature, bands.feature_low, bands.feature_high)
        )
        return f"{value} ({low} to {high})"

    return {
        "subject": phrase(info.name).subject,
        "unit": unit_words(info.unit, unit),
        "golfers": f"{int(bands.feature_golfers[column]):,}",
        "share": middle_share(pair) if pair else DASH,
        "low": limit(pair[0]) if pair else DASH,
        "median": limit(50.0),
        "high": limit(pair[1]) if pair else DASH,
    }


def _parameters(parameters: Mapping[str, object]) -> list[tuple[str, str]]:
    return [
        (sentence_case(name.replace("_", " ")), _parameter_words(value))
        for name, value in parameters.items()
    ]


def _parameter_words(value: object) -> str:
    if isinstance(value, Mapping):
        return str(value["label"]) if "label" in value else ", ".join(map(str, value.values()))
    if isinstance(value, (list, tuple)):
        separator = "; " if any(isinstance(item, Mapping) for item in value) else ", "
        return separator.join(_parameter_words(item) for item in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
