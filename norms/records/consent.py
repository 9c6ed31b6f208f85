"""Consent: what a golfer, or a junior's guardian, agreed to, for which purpose, and when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

Purpose = Literal["coaching", "norms", "research"]
PURPOSES: Final[tuple[Purpose, ...]] = ("coaching", "norms", "research")
WITHOUT_A_WORD: Final[dict[str, bool]] = {"coaching": True, "norms": True, "research": False}
"""What holds for a golfer of whom no consent is recorded: whoever is on the roster is coached, the
roster's own column decides on norms, and research needs a yes."""

OF_AGE: Final = 18
"""Years; common law in most places. A year of birth alone makes a golfer a junior through the
whole calendar year of that birthday, which errs on the side of asking the guardian."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """One yes or no; a later one on the same purpose takes its place, none is overwritten.

    Attributes
    ----------
    golfer : str
    purpose : {"coaching", "norms", "research"}
    given : bool
        False: refused or withdrawn.
    decided_on : datetime.date
    guardian : bool
        Whether a guardian decided; their name is not kept.
    """

    golfer: str
    purpose: Purpose
    given: bool
    decided_on: date
    guardian: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsentStanding:
    """Where one golfer stands on one purpose.

    Attributes
    ----------
    golfer : str
    purpose : {"coaching", "norms", "research"}
    agreed : bool
        Whether the golfer's swings may serve the purpose.
    word : Consent or None
        The newest; None where none was ever read in.
    to_renew : bool
        Whether a guardian said that word for a golfer who is of age by now.
    """

    golfer: str
    purpose: Purpose
    agreed: bool
    word: Consent | None
    to_renew: bool


def is_junior(birth_year: int | None, day: date) -> bool:
    """Whether a golfer may still be under age on a day; unknown years of birth are not."""
    return birth_year is not None and day.year - birth_year <= OF_AGE


def newest(consents: Iterable[Consent], purpose: Purpose) -> Consent | None:
    """The word that counts on a purpose: the latest.

    Of several on one day the no, and of several yeses the guardian's.
    """
    mine = [one for one in consents if one.purpose == purpose]
    return max(mine, key=_rank, default=None)


def _rank(one: Consent) -> tuple[date, bool, bool]:
    return one.decided_on, not one.given, one.guardian


def agreed(consents: Iterable[Consent], purpose: Purpose, birth_year: int | None) -> bool:
    """Whether one golfer's consents allow a purpose.

    A junior's own yes does not count where a guardian has to give it.

    Parameters
    ----------
    consents : iterable of Consent
        Of one golfer, in any order.
    purpose : {"coaching", "norms", "research"}
    birth_year : int or None
    """
    word = newest(consents, purpose)
    if word is None:
        return WITHOUT_A_WORD[purpose]
    return word.given and (word.guardian or not is_junior(birth_year, word.decided_on))


def to_be_renewed(
    consents: Iterable[Consent], birth_year: int | None, today: date
) -> list[Consent]:
    """A guardian's yes for one golfer who is of age by now, and is to be asked in person."""
    known = list(consents)
    if birth_year is None or is_junior(birth_year, today):
        return []
    words = [newest(known, purpose) for purpose in PURPOSES]
    return [
        word
        for word in words
        if word and word.given and word.guardian and is_junior(birth_year, word.decided_on)
    ]
