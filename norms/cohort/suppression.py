"""Which cells may be shown together, so that no small group is read off by subtraction.

A cell of few golfers is withheld by itself. That is not enough: where a club's golfers of all
levels are shown, and those of every level but one, the level that was withheld is the difference.
Then a further level is withheld, the smallest, so that only the sum of the two can be found.

What this does not protect: a golfer who knows the values of all others of a cell finds the last
one; and editions of different days can be subtracted where few golfers joined in between.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from norms.cohort.bands import PRIVACY_MINIMUM
from norms.records import CohortNorms

Golfers = frozenset[str]


def linked_cells(
    shown: Mapping[str, Golfers], smallest_cell: int = PRIVACY_MINIMUM
) -> tuple[str, ...]:
    """Cells to withhold, of those that are large enough by themselves, lest others be subtracted.

    Afterwards no shown cell, less any selection of shown cells that lie inside it, leaves from 1
    to ``smallest_cell`` - 1 golfers.

    Parameters
    ----------
    shown : Mapping of str to frozenset of str
        Golfers by cell, of cells whose numbers could be subtracted from one another: those of one
        club.
    smallest_cell : int
        Fewest golfers of whom any number is shown.

    Returns
    -------
    tuple of str
        In the order they were chosen: of the cells that take part in a subtraction, the smallest
        that lies inside another.
    """
    left = {key: golfers for key, golfers in shown.items() if golfers}
    withheld = []
    while (parts := _subtraction(left, smallest_cell)) is not None:
        chosen = min(parts, key=lambda key: (len(left[key]), key))
        withheld.append(chosen)
        del left[chosen]
    return tuple(withheld)


def _subtraction(shown: Mapping[str, Golfers], smallest_cell: int) -> tuple[str, ...] | None:
    """Cells whose union leaves too few golfers of a cell that holds them all, or None."""
    for whole, golfers in sorted(shown.items()):
        inside = sorted(
            (key for key, part in shown.items() if key != whole and part < golfers),
            key=lambda key: (-len(shown[key]), key),
        )
        parts = _leaving_few(golfers, [(key, shown[key]) for key in inside], smallest_cell)
        if parts is not None:
            return parts
    return None


def _leaving_few(
    rest: Golfers, parts: Sequence[tuple[str, Golfers]], smallest_cell: int
) -> tuple[str, ...] | None:
    """A selection of parts that leaves from 1 to ``smallest_cell`` - 1 of the rest, or None."""
    if 0 < len(rest) < smallest_cell:
        return ()
    # Not even all parts together come near: what they leave only grows with fewer of them.
    if not parts or len(rest - _union(parts)) >= smallest_cell:
        return None
    (key, part), others = parts[0], parts[1:]
    if part & rest:
        with_it = _leaving_few(rest - part, others, smallest_cell)
        if with_it is not None:
            return (key, *with_it)
    return _leaving_few(rest, others, smallest_cell)


def _union(parts: Iterable[tuple[str, Golfers]]) -> Golfers:
    return frozenset().union(*(part for _, part in parts))


def with_linked_suppression(
    cells: Sequence[CohortNorms], smallest_cell: int = PRIVACY_MINIMUM
) -> tuple[CohortNorms, ...]:
    """Cells of an edition, those withheld that would give a small group away by subtraction.

    Parameters
    ----------
    cells : sequence of CohortNorms
        With their golfers.
    smallest_cell : int

    Returns
    -------
    tuple of CohortNorms
        In the same order; a cell withheld here says so and keeps its golfers.
    """
    by_club: dict[str, dict[str, Golfers]] = {}
    for cell in cells:
        if cell.bands is not None:
            definition = cell.cohort.definition
            of_club = by_club.setdefault(definition.club, {})
            of_club[definition.key] = frozenset(cell.cohort.golfers)
    withheld = {key for shown in by_club.values() for key in linked_cells(shown, smallest_cell)}
    return tuple(
        replace(cell, bands=None, withheld=_reason(cell, smallest_cell))
        if cell.cohort.definition.key in withheld
        else cell
        for cell in cells
    )


def _reason(cell: CohortNorms, smallest_cell: int) -> str:
    golfers, _ = cell.counts
    return (
        f"{golfers} golfers, withheld so that a group of fewer than {smallest_cell} cannot be "
        "found by subtracting cells from one another."
    )
