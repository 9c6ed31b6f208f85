"""What an edition knows of single golfers' shapes: evidence that stays in the academy.

An annex goes out with an edition, and no column of it may be a golfer. So what is told of each
golfer (which pattern, how unusual) stands in the edition's evidence by code, and in the annex only
the rising values that a newcomer is ranked among. What the patterns have in common with an earlier
edition is evidence, too: two editions of the same golfers are the same, whatever came before.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.levels import ALL_LEVELS
from norms.records import Cohort, Edition
from norms.records.patterns import Patterns, Typicality

FloatArray = NDArray[np.float64]

OWN_SHAPES: Final = "own_shapes"
"""Key of this evidence in an edition."""

_IN_ANNEX: Final = {
    "memberships": ("patterns", "memberships"),
    "strangeness": ("patterns", "strangeness"),
    "typicality": ("typicality", "overall_cm"),
}

ByGolfer = dict[str, list[float]]


class OwnShapes:
    """Collects what is told of single golfers while annexes are made."""

    def __init__(self) -> None:
        self._said: dict[str, dict[str, Any]] = {
            "memberships": {},
            "strangeness": {},
            "typicality": {},
            "history": {},
        }

    def without_golfers(self, cohort: Cohort, patterns: Patterns) -> Patterns:
        """The patterns as they may go out; what is the golfers' own is kept here.

        Parameters
        ----------
        cohort : Cohort
            In whose order the golfers of the patterns stand.
        patterns : Patterns
        """
        club = patterns.club
        self._said["memberships"][club] = _by_golfer(cohort, patterns.memberships)
        self._said["strangeness"][club] = _by_golfer(cohort, patterns.strangeness.T)
        self._said["history"][club] = {
            "matched": patterns.matched,
            "changes": list(patterns.changes),
        }
        return replace(
            patterns,
            memberships=patterns.memberships[:0],
            strangeness=np.sort(patterns.strangeness, axis=1),
            matched=None,
            changes=(),
        )

    def without_golfer_columns(self, cohort: Cohort, typicality: Typicality) -> Typicality:
        """As `without_golfers`, of how unusual each golfer is."""
        key = typicality.cohort_key
        self._said["typicality"][key] = _by_golfer(cohort, typicality.overall_cm.T)
        return replace(typicality, overall_cm=np.sort(typicality.overall_cm, axis=1))

    def evidence(self) -> dict[str, Any]:
        """JSON values for the edition's evidence."""
        return self._said


def memberships_of(edition: Edition, club: str) -> Mapping[str, Sequence[float]]:
    """Membership of each golfer of a club in its patterns; empty where they are elsewhere."""
    return _own(edition, "memberships", club)


def strangeness_of(edition: Edition, club: str, golfer: str) -> Sequence[float] | None:
    """Of one golfer, minus the log density when seen by so many swings; None for a newcomer."""
    return _own(edition, "strangeness", club).get(golfer)


def typicality_of(edition: Edition, key: str, golfer: str) -> Sequence[float] | None:
    """Of one golfer of a cell, the overall deviation when seen by so many swings; or None."""
    return _own(edition, "typicality", key).get(golfer)


def with_history(edition: Edition, patterns: Patterns) -> Patterns:
    """The patterns with the edition they were matched to and what differs from it."""
    said: Any = edition.evidence.get(OWN_SHAPES, {})
    history: Mapping[str, Any] | None = said.get("history", {}).get(patterns.club)
    if history is None:
        return patterns
    return replace(patterns, matched=history["matched"], changes=tuple(history["changes"]))


def without_own(values: FloatArray, own: float | None) -> FloatArray:
    """Values of all golfers without the golfer's own, where it is among them."""
    mine = np.flatnonzero(values == own) if own is not None else np.empty(0, np.intp)
    return np.delete(values, mine[:1])


def _own(edition: Edition, kind: str, subject: str) -> ByGolfer:
    if OWN_SHAPES not in edition.evidence:
        return _from_annex(edition, kind, subject)
    said: Any = edition.evidence[OWN_SHAPES]
    found: ByGolfer = said[kind].get(subject, {})
    return found


def _from_annex(edition: Edition, kind: str, subject: str) -> ByGolfer:
    """The same of an edition from before, whose annexes stand in the order of the golfers."""
    of_kind, name = _IN_ANNEX[kind]
    cell = edition.cell(subject if of_kind == "typicality" else f"{subject}/{ALL_LEVELS}")
    arrays = [
        annex.arrays[name]
        for annex in edition.annexes
        if (annex.kind, annex.subject) == (of_kind, subject) and name in annex.arrays
    ]
    if cell is None or not cell.cohort.golfers or not arrays:
        return {}
    rows = arrays[0] if kind == "memberships" else arrays[0].T
    return _by_golfer(cell.cohort, rows)


def _by_golfer(cohort: Cohort, rows: FloatArray) -> ByGolfer:
    return {code: row.tolist() for code, row in zip(cohort.golfers, rows, strict=True)}
