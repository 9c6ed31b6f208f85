"""The membership that a cohort is weighed to, and which kinds of golfers weights can tell apart."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.coverage import MARGINS, in_order, who_fits
from norms.cohort.golfer_facts import golfer_facts
from norms.records import Cohort, Golfer, Level
from norms.records.weighting import AbsentKind

MEMBERSHIP: Final = (
    "The membership of a group is every golfer on the roster who belongs to it on the newest "
    "recorded day, or was recorded in it before: whether recorded or not, and whether or not they "
    "agreed that their swings enter norms. Consent decides whose swings count, not who is a member."
)

Kinds = NDArray[np.str_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Margin:
    """One way in which members differ, as far as the cohort can tell them apart.

    Attributes
    ----------
    name : {"level", "sex", "age"}
    kinds : tuple of tuple of str
        Categories, taken together with a neighbour where the cohort holds too few of one.
    members, cohort : ndarray of int
        Place in ``kinds`` of each member whom the weights speak for, and of each golfer of the
        cohort.
    """

    name: str
    kinds: tuple[tuple[str, ...], ...]
    members: NDArray[np.intp]
    cohort: NDArray[np.intp]

    def shares(self, of: NDArray[np.intp]) -> NDArray[np.float64]:
        """Share of each kind."""
        return np.bincount(of, minlength=len(self.kinds)) / of.size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Membership:
    """A cohort beside the members it is meant to speak for.

    Attributes
    ----------
    members : int
    reached : int
        Members of whose every kind the cohort holds somebody: those whom weights speak for.
    margins : tuple of Margin
        Those in which the cohort holds enough golfers of at least two kinds.
    not_weighed : tuple of str
        The other margins in which members differ.
    absent : tuple of AbsentKind
        Kinds of members of whom the cohort holds nobody.
    """

    members: int
    reached: int
    margins: tuple[Margin, ...]
    not_weighed: tuple[str, ...]
    absent: tuple[AbsentKind, ...]


def membership_of(
    cohort: Cohort,
    roster: Mapping[str, Golfer],
    levels: Sequence[Level],
    day: date,
    smallest_kind: int,
) -> Membership:
    """The members whom a cohort is meant to speak for, margin by margin.

    Parameters
    ----------
    cohort : Cohort
        Of at least one golfer.
    roster : Mapping of str to Golfer
        Holds every golfer of the cohort.
    levels : sequence of Level
    day : datetime.date
        Day on which levels and ages are compared.
    smallest_kind : int
        Fewest golfers of the cohort who stand for their kind alone; with fewer, the kind is taken
        together with the one before it in order, the first with the second.
    """
    fitting, _ = who_fits(roster, cohort.definition, levels, day)
    codes = sorted({*fitting, *cohort.golfers})
    facts = golfer_facts(roster, [(code, day) for code in codes], levels)
    values = dict(zip(MARGINS, (facts.levels, facts.sexes, facts.age_groups()), strict=True))
    inside = np.isin(np.array(codes, dtype=str), np.array(cohort.golfers, dtype=str))
    absent = tuple(
        AbsentKind(margin=margin, category=category)
        for margin in MARGINS
        for category in in_order(
            margin, set(values[margin].tolist()) - set(values[margin][inside].tolist()), levels
        )
    )
    reached = np.full(inside.shape, True)
    for one in absent:
        reached &= values[one.margin] != one.category
    margins = [
        _margin(name, values[name], inside, reached, levels, smallest_kind) for name in MARGINS
    ]
    return Membership(
        members=len(codes),
        reached=int(np.count_nonzero(reached)),
        margins=tuple(margin for margin in margins if len(margin.kinds) > 1),
        not_weighed=tuple(
            margin.name
            for margin in margins
            if len(margin.kinds) == 1 and np.unique(values[margin.name]).size > 1
        ),
        absent=absent,
    )


def _margin(
    name: str,
    values: Kinds,
    inside: NDArray[np.bool_],
    reached: NDArray[np.bool_],
    levels: Sequence[Level],
    smallest_kind: int,
) -> Margin:
    ordered = in_order(name, values[inside].tolist(), levels)
    counts = [int(np.count_nonzero(values[inside] == category)) for category in ordered]
    kinds = _together(ordered, counts, smallest_kind)
    place = {category: at for at, kind in enumerate(kinds) for category in kind}

    def places(who: NDArray[np.bool_]) -> NDArray[np.intp]:
        return np.array([place[value] for value in values[who].tolist()], dtype=np.intp)

    return Margin(name=name, kinds=kinds, members=places(reached), cohort=places(inside))


def _together(
    categories: Sequence[str], counts: Sequence[int], smallest: int
) -> tuple[tuple[str, ...], ...]:
    """Neighbours taken together until each holds enough, or all are one."""
    kinds: list[tuple[tuple[str, ...], int]] = [
        ((category,), count) for category, count in zip(categories, counts, strict=True)
    ]
    while len(kinds) > 1:
        small = next((at for at, (_, count) in enumerate(kinds) if count < smallest), None)
        if small is None:
            break
        first = max(small - 1, 0)
        (one, few), (other, more) = kinds[first], kinds[first + 1]
        kinds[first : first + 2] = [(one + other, few + more)]
    return tuple(kind for kind, _ in kinds)
