"""Two standards side by side: what is asked differently, and whose verdict flips."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from norms.cohort.definitions import describe
from norms.records.standard import GolferVerdict, Requirement, Standard, Verdict
from norms.standards.validate import range_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A fact of the whole standard that two of them say differently, each in words."""

    subject: str
    first: str
    second: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RequirementChange:
    """One quantity of which two standards ask differently; None where one asks nothing of it."""

    first: Requirement | None
    second: Requirement | None

    @property
    def asked(self) -> Requirement:
        """Whichever of the two there is, for the name of its quantity."""
        one = self.first or self.second
        assert one is not None, "a change is of a quantity that one of the standards asks for"
        return one


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """A golfer judged differently; None where a standard does not concern the golfer."""

    golfer: str
    first: Verdict | None
    second: Verdict | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardComparison:
    """What changes from one standard to another.

    Attributes
    ----------
    first, second : str
    first_hash, second_hash : str
    changes : tuple of Change
        Of the standard as a whole.
    requirements : tuple of RequirementChange
    flips : tuple of Flip
        By golfer.
    judged : int
        Golfers whom either concerns.
    """

    first: str
    second: str
    first_hash: str
    second_hash: str
    changes: tuple[Change, ...]
    requirements: tuple[RequirementChange, ...]
    flips: tuple[Flip, ...]
    judged: int

    @property
    def flip_counts(self) -> list[tuple[tuple[Verdict | None, Verdict | None], int]]:
        """Golfers by what their verdict was and becomes, the most frequent first."""
        return Counter((flip.first, flip.second) for flip in self.flips).most_common()


def what_changed(first: Standard, second: Standard) -> tuple[Change, ...]:
    """What two standards say differently as wholes; prose is left out."""
    facts = [_facts(standard) for standard in (first, second)]
    return tuple(
        Change(subject=subject, first=facts[0][subject], second=facts[1][subject])
        for subject in facts[0]
        if facts[0][subject] != facts[1][subject]
    )


def changed_requirements(first: Standard, second: Standard) -> tuple[RequirementChange, ...]:
    """What two standards ask differently, quantity by quantity: limits, or priority."""
    asked = [
        {one.quantity.key: one for one in standard.requirements} for standard in (first, second)
    ]
    changes = [
        RequirementChange(first=asked[0].get(key), second=asked[1].get(key))
        for key in dict.fromkeys([*asked[0], *asked[1]])
    ]
    return tuple(one for one in changes if _said(one.first) != _said(one.second))


def whose_verdict_flips(
    first: Sequence[GolferVerdict], second: Sequence[GolferVerdict]
) -> tuple[Flip, ...]:
    """Golfers whom two standards judge differently, by code."""
    told = [{one.golfer: one.verdict for one in verdicts} for verdicts in (first, second)]
    return tuple(
        Flip(golfer=golfer, first=told[0].get(golfer), second=told[1].get(golfer))
        for golfer in sorted({*told[0], *told[1]})
        if told[0].get(golfer) != told[1].get(golfer)
    )


def _facts(standard: Standard) -> dict[str, str]:
    plan = f"{standard.swings} swings on {standard.days} days, of {standard.window_days} days"
    return {
        "edition": f"{standard.edition} ({standard.edition_hash[:12]})",
        "evidence": standard.evidence,
        "for whom": ", ".join(describe(standard.golfers)[1:]),
        "measured by": plan,
        "wrong at most": f"{100 * standard.wrong_rate:g} %",
        "review on": standard.review_on.isoformat(),
    }


def _said(requirement: Requirement | None) -> tuple[str, int] | None:
    """Limits as a file would state them, and priority: less than that is no other request."""
    return None if requirement is None else (range_text(requirement), requirement.priority)
