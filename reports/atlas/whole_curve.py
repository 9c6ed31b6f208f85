"""Whole-curve bands beside the pointwise ones, labelled as what they are."""

from collections.abc import Sequence

from norms.cohort.annex_contents import whole_curve_bands, withheld_findings
from norms.records import CohortNorms, Edition, WholeCurveBands
from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES
from reports.figures.whole_curve import whole_curve_figure, widest_pair
from reports.quantities import middle_share, number, percent_of
from reports.render import picture
from reports.sentences import sentence_case

_DECIMALS = 2
"""Of a factor, and of the floor in the reader's unit."""


def whole_curve_section(
    edition: Edition, cells: Sequence[CohortNorms], unit: str
) -> dict[str, object] | None:
    """Figures of the clubs' golfers of every level, and a row for every group.

    Parameters
    ----------
    edition : Edition
    cells : sequence of CohortNorms
        In the order of the page.
    unit : {"in", "cm"}

    Returns
    -------
    dict or None
        None for an edition without annexes.
    """
    found = whole_curve_bands(edition)
    reasons = withheld_findings(edition, "whole_curve")
    if not found and not reasons:
        return None
    return {
        "figures": [
            _figure(cell, found[cell.cohort.definition.key], order, unit)
            for order, cell in enumerate(cells)
            if _is_whole_club(cell) and cell.cohort.definition.key in found and cell.bands
        ],
        "rows": [_row(cell, found, reasons) for cell in cells],
        "words": _words(next(iter(found.values()), None), unit),
    }


def _is_whole_club(cell: CohortNorms) -> bool:
    definition = cell.cohort.definition
    return definition.level is None and definition.name is None


def _figure(cell: CohortNorms, bands: WholeCurveBands, order: int, unit: str) -> dict[str, object]:
    assert cell.bands is not None  # asked before
    label = sentence_case(cell.cohort.definition.label)
    pair = widest_pair(cell.bands)
    return {
        "title": label,
        "svg": picture(
            whole_curve_figure(bands, cell.bands, name=f"whole-{order}", group=label, unit=unit)
        ),
        "pointwise": middle_share(pair) if pair else None,
        "swatch": f"{pair[1] - pair[0]:.0f}" if pair else None,
        "level": percent_of(bands.level),
    }


def _row(
    cell: CohortNorms, found: dict[str, WholeCurveBands], reasons: dict[str, str]
) -> dict[str, object]:
    key = cell.cohort.definition.key
    label = sentence_case(cell.cohort.definition.label)
    bands = found.get(key)
    if bands is None:
        return {"label": label, "why": reasons.get(key, "not asked")}
    return {
        "label": label,
        "why": None,
        "golfers": f"{bands.golfers:,}",
        "factors": [number(float(factor), _DECIMALS) for factor in bands.axis_factors],
        "joint": number(bands.joint_factor, _DECIMALS),
        "share": f"{percent_of(bands.share_low)} to {percent_of(bands.share_high)}",
    }


def _words(bands: WholeCurveBands | None, unit: str) -> list[str]:
    if bands is None:
        return []
    floor = number(bands.floor_cm / CM_PER_UNIT[unit], _DECIMALS)
    return [
        f"A pointwise band holds its share of golfers at each instant; most golfers leave it "
        f"somewhere. A whole-curve band holds the whole curve, from start to finish, of "
        f"{percent_of(bands.level)} of new golfers; the joint one holds {', '.join(AXES[:-1])} "
        f"and {AXES[-1]} together.",
        "Each reaches a factor times the golfers’ standard deviation to either side of their mean.",
        f"Every curve is zero at address by definition, so the spread vanishes there. It is not "
        f"taken to be smaller than {floor} {unit}, the labs’ noise.",
        f"The bands are of {bands.band_of}.",
    ]
