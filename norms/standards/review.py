"""A review: golfers held against a standard, with everything a director asks about it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from norms.records.standard import GolferVerdict, QuantityErrors, Standard, State, Verdict
from norms.standards.drift import Drift
from norms.standards.progress import GolferProgress
from norms.standards.realism import Realism
from norms.standards.verdicts import WORDS, counts


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelVerdicts:
    """Golfers of one level by verdict."""

    label: str
    golfers: Mapping[Verdict, int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StandardReview:
    """Golfers held against one standard.

    Attributes
    ----------
    standard : Standard
    standard_hash : str
    state : {"in review", "approved", "retired"} or None
    held_on : datetime.date
        Last day whose swings count.
    verdicts : tuple of GolferVerdict
        By code.
    without_swings : tuple of str
        Golfers asked for of whom no swing counts.
    left_out : tuple of (str, int)
        Swings that were not used, by reason.
    levels : tuple of LevelVerdicts
        The golfers by their level on that day.
    errors : QuantityErrors
    realism : Realism
    drift : Drift
    reminders : tuple of str
    progress : tuple of GolferProgress
    last_review_on : datetime.date or None
    """

    standard: Standard
    standard_hash: str
    state: State | None
    held_on: date
    verdicts: tuple[GolferVerdict, ...]
    without_swings: tuple[str, ...]
    left_out: tuple[tuple[str, int], ...]
    levels: tuple[LevelVerdicts, ...]
    errors: QuantityErrors
    realism: Realism
    drift: Drift
    reminders: tuple[str, ...] = ()
    progress: tuple[GolferProgress, ...] = ()
    last_review_on: date | None = None

    @property
    def counts(self) -> Mapping[Verdict, int]:
        """Golfers by verdict."""
        return counts(self.verdicts)

    @property
    def part_counts(self) -> tuple[Mapping[Verdict, int], ...]:
        """Golfers by verdict on each part, in the order of the requirements."""
        return part_counts(self.standard, self.verdicts)

    @property
    def too_few(self) -> tuple[GolferVerdict, ...]:
        """Golfers of whom it cannot be told, with fewer swings than a review is planned with."""
        return tuple(
            one
            for one in self.verdicts
            if one.verdict == "cannot tell" and one.swings < self.standard.swings
        )

    @property
    def close(self) -> tuple[GolferVerdict, ...]:
        """Golfers with a mean outside, but none by more than can be told."""
        return tuple(one for one in self.verdicts if one.close)


def part_counts(
    standard: Standard, verdicts: Sequence[GolferVerdict]
) -> tuple[Mapping[Verdict, int], ...]:
    """Golfers by verdict on each part, in the order of the requirements."""
    told: list[dict[Verdict, int]] = [dict.fromkeys(WORDS, 0) for _ in standard.requirements]
    for one in verdicts:
        for place, part in enumerate(one.parts):
            told[place][part.verdict] += 1
    return tuple(told)


def level_verdicts(
    verdicts: Sequence[GolferVerdict], level_of: Mapping[str, str], labels: Sequence[str]
) -> tuple[LevelVerdicts, ...]:
    """Verdicts by level, in the order of the labels; levels without golfers are left out.

    Parameters
    ----------
    verdicts : sequence of GolferVerdict
    level_of : Mapping of str to str
        Label of each golfer's level.
    labels : sequence of str
    """
    found = []
    for label in labels:
        own = [one for one in verdicts if level_of.get(one.golfer) == label]
        if own:
            found.append(LevelVerdicts(label=label, golfers=counts(own)))
    return tuple(found)
