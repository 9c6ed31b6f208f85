"""The golfers a swing is held against: themselves, or what an edition from elsewhere says of them.

Where the golfers are in the store, the placed golfer is left out and everything is computed from
the others. Where they stayed in another academy, what their edition publishes stands in for them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from norms.cohort.annex_contents import whole_curve_bands, withheld_findings
from norms.cohort.bands import bands_of, withheld_reason
from norms.cohort.published_limits import published_bands
from norms.cohort.simultaneous_bands import build_whole_curve_bands
from norms.errors import CohortRefused
from norms.records import (
    Bands,
    Cohort,
    CohortDefinition,
    CohortNorms,
    Edition,
    FloatArray,
    WholeCurveBands,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Peers:
    """Golfers of one cell without the placed one.

    Attributes
    ----------
    definition : CohortDefinition
    golfers : int
    left_out : bool
        Whether the placed golfer was one of them.
    cohort : Cohort or None
        The golfers themselves; None where they stayed in another academy.
    bands : Bands or None
    withheld : str or None
        Why there are no bands.
    whole_curve : WholeCurveBands, str or None
        Their band, or why there is none; None in an edition without annexes.
    mean_cm : ndarray, shape (3, 301), or None
        Of their mean curves.
    smallest_cell : int
        Fewest golfers of whom anything is shown.
    """

    definition: CohortDefinition
    golfers: int
    left_out: bool
    cohort: Cohort | None
    bands: Bands | None
    withheld: str | None
    whole_curve: WholeCurveBands | str | None
    mean_cm: FloatArray | None
    smallest_cell: int


def peers_of(cell: CohortNorms, edition: Edition, golfer: str) -> Peers:
    """The peers of a golfer in a cell of an edition."""
    stated: dict[str, Any] = dict(edition.parameters)
    if cell.elsewhere:
        return _elsewhere(cell, edition, stated["smallest_cell"])
    cohort = without(cell.cohort, golfer)
    n = len(cohort.golfers)
    rules = stated["percents"], stated["confidence"]
    smallest_cell = int(stated["smallest_cell"])
    withheld = withheld_reason(n, *rules, smallest_cell)
    if withheld is None and cell.bands is None:
        withheld = cell.withheld  # large enough, and still not to be shown
    bands = None
    if withheld is None:
        bands = published_bands(bands_of(cohort, *rules, smallest_cell=smallest_cell), cohort)
    return Peers(
        definition=cohort.definition,
        golfers=n,
        left_out=n < len(cell.cohort.golfers),
        cohort=cohort,
        bands=bands,
        withheld=withheld,
        whole_curve=_whole_curve(cohort, cell, stated, smallest_cell),
        mean_cm=cohort.curves_cm.mean(axis=0) if n else None,
        smallest_cell=smallest_cell,
    )


def _whole_curve(
    cohort: Cohort, cell: CohortNorms, stated: Mapping[str, Any], smallest_cell: int
) -> WholeCurveBands | str | None:
    """The band of golfers who are here, built by the rules of the edition's own."""
    n, annexes = len(cohort.golfers), stated.get("annexes")
    if not annexes or (cell.bands is None and n >= smallest_cell):
        return None
    if n < smallest_cell:
        return f"{n} peers; {smallest_cell} are needed to show anything of them"
    try:
        return build_whole_curve_bands(
            cohort, noise_cm=annexes["noise_cm"], level=annexes["whole_curve_level"]
        )
    except CohortRefused as refusal:
        return refusal.message


def _elsewhere(cell: CohortNorms, edition: Edition, smallest_cell: int) -> Peers:
    """Peers by the numbers of a cell that came without its golfers."""
    key = cell.cohort.definition.key
    band = whole_curve_bands(edition).get(key)
    return Peers(
        definition=cell.cohort.definition,
        golfers=cell.counts[0],
        left_out=False,
        cohort=None,
        bands=cell.bands,
        withheld=cell.withheld,
        whole_curve=band or withheld_findings(edition, "whole_curve").get(key),
        mean_cm=None if band is None else band.mean_cm,
        smallest_cell=smallest_cell,
    )


def without(cohort: Cohort, golfer: str) -> Cohort:
    """The cohort without one golfer; itself where the golfer is not in it."""
    keep = np.array([code != golfer for code in cohort.golfers], dtype=bool)
    return cohort if keep.all() else cohort.of_golfers(keep)
