"""How far a cell's numbers can be trusted for their count: withheld, provisional, established."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, log
from typing import Any, Final, Literal

from norms.cohort.bands import PRIVACY_MINIMUM, golfers_needed
from norms.cohort.definitions import describe
from norms.records import CohortNorms, Edition
from norms.vocabulary import BAND_PERCENTS

Grade = Literal["withheld", "provisional", "established"]

RULE: Final = (
    "Withheld: fewer golfers than the smallest cell, or no percentile has an interval, or a "
    "smaller group could be found by subtracting this one from another. "
    "Established: every percentile has one and the outermost, p, has at least "
    "ln(2 / (1 - confidence)) / p golfers, rounded up: 120 for the 2.5th percentile at 90 %, 60 "
    "for the 5th. Provisional: between the two; a percentile without an interval is not shown."
)
"""The count is the least at which a two-sided distribution-free interval exists, 119 for the 2.5th
percentile, by the bound (1 - p)^n < exp(-n p), which errs upward and gives the usual 120."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sufficiency:
    """Grade of one cell and what the next one takes.

    Attributes
    ----------
    cohort_key, cohort_label : str
    kind : tuple of str
        Which golfers count, one phrase per rule.
    golfers, swings : int
    grade : {"withheld", "provisional", "established"}
    shown_percents : tuple of float
        Percentiles that this many golfers support.
    shown_from, established_from : int
        Golfers at which the cell stops being withheld, and from which it is established.
    more_to_show, more_to_establish : int
        Golfers still needed for each; 0 where reached.
    """

    cohort_key: str
    cohort_label: str
    kind: tuple[str, ...]
    golfers: int
    swings: int
    grade: Grade
    shown_percents: tuple[float, ...]
    shown_from: int
    established_from: int
    more_to_show: int
    more_to_establish: int

    @property
    def sentence(self) -> str:
        """Grade and need in one sentence."""
        have = f"{self.cohort_label}: {self.grade}, {_golfers(self.golfers)}"
        if self.grade == "established":
            return f"{have}."
        if self.grade == "withheld" and not self.more_to_show:
            return f"{have}; not shown, so that a smaller group cannot be found by subtraction."
        if self.grade == "withheld":
            have += f"; {self.more_to_show} more to show anything"
        return f"{have}; {self.more_to_establish} more to be established."


def established_from(
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> int:
    """Golfers from which a cell is established.

    Parameters
    ----------
    percents : sequence of float
        Percentiles of the edition, strictly between 0 and 100.
    confidence : float
    smallest_cell : int
    """
    outermost = min(min(p, 100.0 - p) for p in percents) / 100.0
    by_rule = ceil(log(2.0 / (1.0 - confidence)) / outermost - 1e-9)
    return max(smallest_cell, by_rule, *golfers_needed(percents, confidence).values())


def grade_of(
    golfers: int,
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> Grade:
    """Grade of a number of golfers, of a cell or of the golfers who have one feature.

    Parameters
    ----------
    golfers : int
    percents : sequence of float
    confidence : float
    smallest_cell : int
    """
    if golfers < min(golfers_needed(percents, confidence, smallest_cell).values()):
        return "withheld"
    enough = established_from(percents, confidence, smallest_cell)
    return "established" if golfers >= enough else "provisional"


def cell_sufficiency(cell: CohortNorms, edition: Edition) -> Sufficiency:
    """Grade of one cell under the rules of its edition."""
    stated: dict[str, Any] = dict(edition.parameters)
    percents = tuple(stated["percents"])
    confidence, smallest_cell = stated["confidence"], stated["smallest_cell"]
    golfers, swings = cell.counts
    definition = cell.cohort.definition
    needed = golfers_needed(percents, confidence, smallest_cell)
    shown_from = min(needed.values())
    enough = established_from(percents, confidence, smallest_cell)
    grade = grade_of(golfers, percents, confidence, smallest_cell)
    if cell.withheld is not None:  # large enough by itself, it may still shield a smaller one
        grade = "withheld"
    return Sufficiency(
        cohort_key=definition.key,
        cohort_label=definition.label,
        kind=describe(definition),
        golfers=golfers,
        swings=swings,
        grade=grade,
        shown_percents=tuple(p for p in percents if golfers >= needed[p] and grade != "withheld"),
        shown_from=shown_from,
        established_from=enough,
        more_to_show=max(0, shown_from - golfers),
        more_to_establish=max(0, enough - golfers),
    )


def edition_sufficiency(edition: Edition) -> tuple[Sufficiency, ...]:
    """Grade of every cell, in the order of the edition."""
    return tuple(cell_sufficiency(cell, edition) for cell in edition.cells)


def _golfers(count: int) -> str:
    return "1 golfer" if count == 1 else f"{count} golfers"
