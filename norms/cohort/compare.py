"""Two editions held against one another: what moved, and whether more than sampling error."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

import numpy as np

from norms.cohort.compare_cells import CellComparison, compare_cell
from norms.errors import CohortRefused
from norms.records import Edition
from norms.statistics.multiplicity import adjust_p_values

RELABELLINGS: Final = 1_999

RULE: Final = (
    "Each percentile of the second edition minus that of the first. Golfers, not swings, are "
    "dealt anew between the editions, and a golfer in both may exchange the two values; a "
    "percentile has moved when the share of golfers below the joint percentile differs by more "
    "than all but the stated share of relabellings show anywhere in that group, adjusted (Holm) "
    "for the number of groups."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionComparison:
    """Two editions, group by group.

    Attributes
    ----------
    first, second : str
    first_hash, second_hash : str
    same_numbers : bool
        Whether the hashes agree, so that nothing can have moved.
    only_first, only_second : tuple of str
        Keys of groups that one edition alone has.
    cells : tuple of CellComparison
    false_alarm_rate : float
        Chance of any finding at all when nothing moved.
    relabellings : int
    rule : str
    """

    first: str
    second: str
    first_hash: str
    second_hash: str
    same_numbers: bool
    only_first: tuple[str, ...]
    only_second: tuple[str, ...]
    cells: tuple[CellComparison, ...]
    false_alarm_rate: float
    relabellings: int
    rule: str = RULE


def compare_editions(
    first: Edition,
    second: Edition,
    rng: np.random.Generator,
    *,
    false_alarm_rate: float = 0.05,
    relabellings: int = RELABELLINGS,
) -> EditionComparison:
    """Say for every group that two editions share what moved.

    Parameters
    ----------
    first, second : Edition
        With their golfers.
    rng : numpy.random.Generator
    false_alarm_rate : float
        Chance of any finding in the whole comparison when nothing moved.
    relabellings : int

    Returns
    -------
    EditionComparison

    Raises
    ------
    CohortRefused
        If an edition came from elsewhere without its golfers.
    """
    for edition in (first, second):
        if any(cell.counts[0] and not cell.cohort.golfers for cell in edition.cells):
            raise CohortRefused(
                f"edition {edition.name} came without its golfers, so that chance cannot be told "
                "from change; hold your own golfers against it with adopt instead",
                code="no_golfers",
            )
    keys = [cell.cohort.definition.key for cell in first.cells]
    others = [cell.cohort.definition.key for cell in second.cells]
    pairs = [
        (one, other)
        for one in first.cells
        if (other := second.cell(one.cohort.definition.key)) is not None
    ]
    tested = [compare_cell(one, other, rng, relabellings) for one, other in pairs]
    return EditionComparison(
        first=first.name,
        second=second.name,
        first_hash=first.content_hash,
        second_hash=second.content_hash,
        same_numbers=first.content_hash == second.content_hash,
        only_first=tuple(key for key in keys if key not in others),
        only_second=tuple(key for key in others if key not in keys),
        cells=tuple(_judge(tested, false_alarm_rate)),
        false_alarm_rate=false_alarm_rate,
        relabellings=relabellings,
    )


def comparison_document(comparison: EditionComparison) -> dict[str, Any]:
    """A comparison as plain JSON values; it names no golfer."""
    return asdict(comparison)


def _judge(cells: Sequence[CellComparison], false_alarm_rate: float) -> list[CellComparison]:
    """Adjust the p values of each group for the number of groups, and say what moved."""
    if not cells:
        return []
    smallest = np.array([min((m.p_value for m in cell.moves), default=np.nan) for cell in cells])
    factors = adjust_p_values(smallest, "holm") / smallest
    judged = []
    for cell, factor in zip(cells, factors, strict=True):
        moves = []
        for move in cell.moves:
            p_value = min(1.0, move.p_value * float(factor))
            moves.append(replace(move, p_value=p_value, moved=p_value <= false_alarm_rate))
        judged.append(replace(cell, moves=tuple(moves)))
    return judged
