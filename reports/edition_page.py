"""The edition page, the atlas of a cohort: which groups carry norms, what they are, how made."""

from collections.abc import Mapping, Sequence

from norms.records import Bands, CohortDefinition, CohortNorms, Edition
from norms.swing.catalogue import BY_NAME
from reports.atlas.calibration import calibration_tables
from reports.atlas.golfers import (
    attrition_section,
    flags_section,
    grades,
    sufficiency_section,
)
from reports.atlas.handicap import handicap_section
from reports.atlas.membership import membership_section
from reports.atlas.methods import methods, parameter_rows
from reports.atlas.partitions import partition_section
from reports.atlas.whole_curve import whole_curve_section
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


def edition_page(edition: Edition, *, unit: str = "in", methods_href: str | None = None) -> str:
    """Everything an edition holds, as a self-contained HTML page.

    Golfers' means stay out of it. Codes stand only in the lists of who was left out by a person's
    decision and of who stands out, which an edition from elsewhere does not have: the page of an
    academy's own edition is for the academy.

    Parameters
    ----------
    edition : Edition
    unit : {"in", "cm"}
        The reader's unit of length.
    methods_href : str, optional
        Relative address of the methods page, where it lies beside this one.

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
        grid=_grid(cells, clubs, grades(edition)),
        figures=[_club_figure(cells, club, order, unit) for order, club in enumerate(clubs)],
        tables=[_cell_table(cell, unit) for cell in cells],
        sufficiency=sufficiency_section(edition, cells),
        whole_curve=whole_curve_section(edition, cells, unit),
        handicap=handicap_section(edition, unit),
        partitions=partition_section(edition, unit),
        attrition=edition.attrition,
        lost=attrition_section(edition, cells),
        membership=membership_section(edition, cells, unit),
        flags=flags_section(edition, cells, unit),
        calibration=calibration_tables() if edition.annexes else (),
        parameters=parameter_rows(edition.parameters),
        methods=methods(edition),
        methods_href=methods_href,
        cautions=STANDING_CAUTIONS,
    )


def sorted_cells(edition: Edition) -> list[CohortNorms]:
    """Cells by club, then from the best handicap on, all levels after them, named cohorts last."""
    return sorted(
        edition.cells,
        key=lambda cell: (cell.cohort.definition.club, _order(cell.cohort.definition)),
    )


def group_words(definition: CohortDefinition) -> str:
    """Words of a level, of all of them, or of a named cohort."""
    if definition.name is not None:
        return definition.title or definition.name
    return definition.level.label if definition.level else "all levels"


def shown_words(cell: CohortNorms) -> str:
    """What a cell shows, e.g. "percentiles 10 to 90", or why it is withheld."""
    if cell.bands is None:
        return f"withheld: {cell.withheld or 'no reason stated'}"
    shown = cell.bands.shown_percents()
    return f"percentiles {shown[0]:g} to {shown[-1]:g}" if len(shown) > 1 else "the median alone"


def _order(definition: CohortDefinition) -> tuple[int, float, str]:
    level = definition.level
    if definition.name is not None:
        return (4, 0.0, definition.name)
    if level is None:
        return (3, 0.0, "")
    kinds = {"handicap": 0, "none": 1, "professional": 2}
    above = float("-inf") if level.above is None else level.above
    return (kinds.get(level.kind, 2), above, level.key)


def edition_golfers(edition: Edition) -> int:
    """Golfers of an edition, each counted once however many cells they are in.

    Where the golfers stayed behind, in an edition from elsewhere, the largest group is counted.
    """
    codes = {code for cell in edition.cells for code in cell.cohort.golfers}
    return len(codes) or max((cell.counts[0] for cell in edition.cells), default=0)


def edition_swings(edition: Edition) -> int:
    """Swings of an edition; a swing is in one cell of its level and in one of all levels."""
    own = [cell for cell in edition.cells if cell.cohort.definition.name is None]
    whole = [cell for cell in own if cell.cohort.definition.level is None]
    return sum(cell.counts[1] for cell in whole or own or edition.cells)


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


def _grid(
    cells: Sequence[CohortNorms], clubs: Sequence[str], graded: Mapping[str, str]
) -> list[dict[str, object]]:
    rows: dict[str, dict[str, dict[str, object]]] = {}
    for cell in sorted(cells, key=lambda cell: _order(cell.cohort.definition)):
        definition = cell.cohort.definition
        golfers, swings = cell.counts
        grade = graded.get(definition.key)
        rows.setdefault(group_words(definition), {})[definition.club] = {
            "golfers": plural(golfers, "golfer"),
            "swings": plural(swings, "swing"),
            "shown": shown_words(cell) + (f", {grade}" if grade and cell.bands else ""),
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
