"""Which labs' swings may enter norms: known labs, linked to the reference, sessions not held.

The reference lab of a club is the known lab with the most golfers. Another lab is admitted once
enough golfers were measured in both, because only they can tell a lab's effect from a difference
of golfers. A lab that is not admitted is no obstacle to placing its swings, with a warning.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.lab_effects import FEWEST_IN_BOTH
from norms.records import LabAdmission, SwingPool

NO_PROFILE: Final = "lab whose profile is not kept"
NOT_LINKED: Final = (
    f"lab not yet linked: fewer than {FEWEST_IN_BOTH} golfers of the club were also measured in "
    "the reference lab"
)
SESSION_HELD: Final = "session held back as out of control, not released by a person"

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Admission:
    """What of a pool may enter norms, and why the rest may not.

    Attributes
    ----------
    labs : tuple of LabAdmission
        By club and lab.
    reference : Mapping of str to str
        Reference lab by club.
    refused : Mapping of str to ndarray of bool, shape (s,)
        Rows of the pool that each rule keeps out, in the order the rules apply.
    """

    labs: tuple[LabAdmission, ...]
    reference: Mapping[str, str]
    refused: Mapping[str, Mask]

    @property
    def admitted(self) -> Mask:
        """Rows of the pool that may enter norms, shape (s,)."""
        return np.asarray(~np.logical_or.reduce(list(self.refused.values())))

    @property
    def left_out(self) -> dict[str, int]:
        """Swings lost by rule, each at the first that keeps it out; rules that cost none left."""
        lost, counts = np.full(self.admitted.shape, False), {}
        for rule, concerned in self.refused.items():
            count = int(np.count_nonzero(concerned & ~lost))
            lost |= concerned
            if count:
                counts[rule] = count
        return counts


def admit_labs(
    pool: SwingPool,
    known_labs: Collection[str],
    held: Collection[tuple[str, date]],
    *,
    counted: Mask | None = None,
) -> Admission:
    """Say which rows of a pool may enter norms as far as labs and sessions decide.

    Parameters
    ----------
    pool : SwingPool
    known_labs : collection of str
        Labs whose profile is kept.
    held : collection of (str, datetime.date)
        Sessions, a day in a lab, that are held back now.
    counted : ndarray of bool, shape (s,), optional
        Rows that may tell how labs are linked; by default all of them.
    """
    labs, clubs = np.array(pool.labs, dtype=str), np.array(pool.clubs, dtype=str)
    golfers = np.array(pool.golfers, dtype=str)
    known = np.isin(labs, sorted(known_labs))
    sessions = zip(pool.labs, pool.recorded_on, strict=True)
    out_of_control = np.array([session in held for session in sessions], dtype=bool)
    linked = np.full(labs.shape, True)
    reference: dict[str, str] = {}
    verdicts: list[LabAdmission] = []
    for club in np.unique(clubs).tolist():
        of_club = clubs == club
        usable = of_club & known & ~out_of_control
        if counted is not None:
            usable = usable & counted
        first = _most_golfers(golfers, labs, usable)
        if first is not None:
            reference[club] = first
        for verdict in _of_club(club, golfers, labs, of_club, usable, known_labs, first):
            verdicts.append(verdict)
            if not verdict.admitted:
                linked[of_club & (labs == verdict.lab)] = False
    refused = {NO_PROFILE: ~known, SESSION_HELD: out_of_control, NOT_LINKED: ~linked & known}
    return Admission(labs=tuple(verdicts), reference=reference, refused=refused)


def pool_rows(pool: SwingPool, kept: Mask) -> SwingPool:
    """The pool's rows where ``kept``, shape (s,), is true."""
    rows = np.flatnonzero(kept)
    columns = {
        name: tuple(getattr(pool, name)[row] for row in rows)
        for name in ("swings", "golfers", "clubs", "labs", "recorded_on")
    }
    shares = None if pool.filled_share is None else pool.filled_share[rows]
    return replace(
        pool,
        **columns,
        curves_cm=pool.curves_cm[rows],
        features=pool.features[rows],
        filled_share=shares,
    )


def _most_golfers(golfers: NDArray[np.str_], labs: NDArray[np.str_], usable: Mask) -> str | None:
    """Lab with the most golfers; of equals the first by name."""
    names = np.unique(labs[usable]).tolist()
    counts = {name: np.unique(golfers[usable & (labs == name)]).size for name in names}
    return max(names, key=lambda name: counts[name], default=None)


def _of_club(
    club: str,
    golfers: NDArray[np.str_],
    labs: NDArray[np.str_],
    of_club: Mask,
    usable: Mask,
    known_labs: Collection[str],
    reference: str | None,
) -> Iterator[LabAdmission]:
    in_reference = golfers[usable & (labs == reference)]
    for lab in np.unique(labs[of_club]).tolist():
        here = of_club & (labs == lab)
        both = np.intersect1d(golfers[usable & here], in_reference).size
        admitted, reason = True, "the reference lab: it has the most golfers of the club"
        if lab not in known_labs:
            admitted, reason = False, "its profile is not kept: collect with the lab's profile"
        elif lab != reference and both < FEWEST_IN_BOTH:
            admitted = False
            reason = (
                f"{'1 golfer was' if both == 1 else f'{both} golfers were'} also measured in "
                f"{reference}, {FEWEST_IN_BOTH} are needed: measure more golfers in both labs"
            )
        elif lab != reference:
            reason = f"linked to {reference} by {both} golfers measured in both"
        yield LabAdmission(
            lab=lab,
            club=club,
            golfers=int(np.unique(golfers[here]).size),
            swings=int(np.count_nonzero(here)),
            linked_golfers=int(both),
            admitted=admitted,
            reason=reason,
        )
