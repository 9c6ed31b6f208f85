"""What changed since the last review, and whether more than measurement error."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Literal

from norms.records.standard import GolferVerdict, PartVerdict, Requirement, Standard, Verdict
from norms.statistics.reliability import smallest_detectable_change

Movement = Literal["nearer", "farther", "moved inside", "no change that can be told"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartProgress:
    """One quantity of one golfer, then and now.

    Attributes
    ----------
    key : str
    change : float or None
        Now minus then.
    smallest_change : float or None
        Smallest detectable change between these two means.
    movement : str or None
        Nearer to the range or farther from it, moved inside it, or nothing that can be told.
    """

    key: str
    change: float | None
    smallest_change: float | None
    movement: Movement | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GolferProgress:
    """One golfer since the last review.

    Attributes
    ----------
    golfer : str
    then, now : {"met", "not yet", "cannot tell"}
        Verdicts of the two reviews.
    parts : tuple of PartProgress
        From the earlier mean to that of the swings since.
    """

    golfer: str
    then: Verdict
    now: Verdict
    parts: tuple[PartProgress, ...]


def progress(
    standard: Standard,
    earlier: Mapping[str, GolferVerdict],
    now: Sequence[GolferVerdict],
    since: Sequence[GolferVerdict],
    confidence: float,
) -> tuple[GolferProgress, ...]:
    """Golfers of an earlier review who have swung since, in the order of the later one.

    A change is taken between the earlier mean and that of the swings since, which share no swing:
    means that do would differ too little, and their errors would not be independent.

    Parameters
    ----------
    standard : Standard
    earlier : Mapping of str to GolferVerdict
        By golfer, of an earlier review against the same standard.
    now : sequence of GolferVerdict
        The later review.
    since : sequence of GolferVerdict
        By the swings after the earlier review alone.
    confidence : float
        Of the smallest detectable change.
    """
    asked = {one.quantity.key: one for one in standard.requirements}
    new = {one.golfer: one for one in since}
    told = []
    for verdict in now:
        before, after = earlier.get(verdict.golfer), new.get(verdict.golfer)
        if before is None or after is None:
            continue
        parts = {part.key: part for part in before.parts}
        told.append(
            GolferProgress(
                golfer=verdict.golfer,
                then=before.verdict,
                now=verdict.verdict,
                parts=tuple(
                    _part(asked[part.key], parts[part.key], part, confidence)
                    for part in after.parts
                    if part.key in parts
                ),
            )
        )
    return tuple(told)


def _part(
    requirement: Requirement, then: PartVerdict, now: PartVerdict, confidence: float
) -> PartProgress:
    if then.value is None or now.value is None or then.error is None or now.error is None:
        return PartProgress(key=now.key, change=None, smallest_change=None, movement=None)
    change = now.value - then.value
    # Two means of different errors: the root of their summed squares over root two takes the
    # place of the one error.
    least = float(smallest_detectable_change(hypot(then.error, now.error) / 2**0.5, confidence))
    return PartProgress(
        key=now.key,
        change=change,
        smallest_change=least,
        movement=_movement(requirement, then.value, now.value, least),
    )


def _movement(requirement: Requirement, then: float, now: float, least: float) -> Movement:
    if abs(now - then) <= least:
        return "no change that can be told"
    low, high = requirement.ends
    before, after = (max(low - value, value - high, 0.0) for value in (then, now))
    if before == after:
        return "moved inside"
    return "nearer" if after < before else "farther"
