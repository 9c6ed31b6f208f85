"""A frozen edition after a golfer was erased: computed anew without them, or withdrawn.

It cannot simply stay as it was. The limits of its percentiles are order statistics, each of them
the exact mean of one golfer, and a mean over n golfers less the mean over the others is the
golfer who is gone.
"""

from dataclasses import replace

import numpy as np

from norms.cohort.bands import bands_of, withheld_reason
from norms.cohort.edition import MEASUREMENT_KINDS, amended
from norms.cohort.published_limits import published_bands
from norms.cohort.suppression import with_linked_suppression
from norms.records import Cohort, CohortNorms, Edition
from norms.statistics.one_thread import on_one_thread

GOLFER_ERASED = "withdrawn by the academy when a golfer was erased; build a new edition."
ANNEXES = "annexes"


@on_one_thread
def edition_without(edition: Edition, golfer: str) -> Edition:
    """An edition whose cells are computed from the means of its other golfers.

    Parameters
    ----------
    edition : Edition
        With its golfers.
    golfer : str

    Returns
    -------
    Edition
        Of the same name, with another hash. What stood beside the bands, but for measurement
        error and the labs' terms, is left out, because it cannot be computed from golfers' means
        alone; whoever has the swings puts it back. A cell that was withheld stays withheld, and
        one that has become too small is withheld.
    """
    stated = edition.parameters
    smallest_cell = int(str(stated["smallest_cell"]))
    cells = with_linked_suppression(
        [_cell_without(cell, golfer, smallest_cell) for cell in edition.cells], smallest_cell
    )
    return _amended(edition, cells)


def withdrawn_edition(edition: Edition, golfer: str) -> Edition:
    """An edition without any numbers, that says why; its golfers but the erased one stay."""
    cells = tuple(
        replace(
            cell, cohort=without(cell.cohort, golfer), bands=None, withheld=_withdrawn(cell, golfer)
        )
        for cell in edition.cells
    )
    return _amended(edition, cells)


def without(cohort: Cohort, golfer: str) -> Cohort:
    """A cohort without one of its golfers."""
    keep = np.array([code != golfer for code in cohort.golfers], dtype=bool)
    return cohort.of_golfers(keep)


def _withdrawn(cell: CohortNorms, golfer: str) -> str:
    golfers = len(without(cell.cohort, golfer).golfers)
    return f"{golfers} golfers; {GOLFER_ERASED}"


def _cell_without(cell: CohortNorms, golfer: str, smallest_cell: int) -> CohortNorms:
    if golfer not in cell.cohort.golfers:
        return cell
    cohort = without(cell.cohort, golfer)
    if cell.bands is None:
        return replace(cell, cohort=cohort)
    rules = (cell.bands.percents, cell.bands.confidence)
    withheld = withheld_reason(len(cohort.golfers), *rules, smallest_cell)
    bands = None
    if withheld is None:
        found = bands_of(cohort, *rules, smallest_cell=smallest_cell)
        bands = published_bands(found, cohort)
    return CohortNorms(cohort=cohort, bands=bands, withheld=withheld)


def _amended(edition: Edition, cells: tuple[CohortNorms, ...]) -> Edition:
    parameters = {key: value for key, value in edition.parameters.items() if key != ANNEXES}
    # Pooled over golfers they hold nobody's mean, and standards in force rest on them.
    kept = tuple(annex for annex in edition.annexes if annex.kind in MEASUREMENT_KINDS)
    return amended(edition, cells=cells, parameters=parameters, annexes=kept)
