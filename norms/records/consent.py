"""Consent: what a golfer, or a junior's guardian, agreed to, for which purpose, and when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

Purpose = Literal["coaching", "norms", "research", "shown", "health"]
PURPOSES: Final[tuple[Purpose, ...]] = ("coaching", "norms", "research", "shown", "health")
"""``shown``: to be named, by code, on another golfer's page. ``health``: that what concerns the
golfer's health, an injury above all, is written down and read by who may read it."""
WITHOUT_A_WORD: Final[dict[str, bool]] = {
    "coaching": True,
    "norms": True,
    "research": False,
    "shown": False,
    "health": False,
}
"""What holds for a golfer of age of whom no consent is recorded: whoever is on the roster is
coached, the roster's own column decides on norms, and everything else needs a yes. For a golfer
under age nothing holds: a roster is no guardian's word."""

OF_AGE: Final = 18
"""Years; common law in most places. A year of birth alone makes a golfer a junior through the
whole calendar year of that birthday, which errs on the side of asking the guardian."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """One yes or no; a later one on the same purpose takes its place, none is overwritten.

    Attributes
    ----------
    golfer : str
    purpose : {"coaching", "norms", "research", "shown", "health"}
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
    purpose : {"coaching", "norms", "research", "shown", "health"}
    agreed : bool
        Whether the golfer's swings may serve the purpose.
    word : Consent or None
        The newest; None where none was ever read in.
    to_renew : bool
        Whether a guardian said that word for a golfer who is of age by now.
    waits_for_guardian : bool
        Whether the golfer is under age, and it is a guardian's word that is missing.
    """

    golfer: str
    purpose: Purpose
    agreed: bool
    word: Consent | None
    to_renew: bool
    waits_for_guardian: bool = False


def is_junior(birth_year: int | None, day: date) -> bool:
    """Whether a golfer may still be under age on a day.

    Without a year of birth a golfer is taken to be of age; who is, is listed with the consents, so
    that the year can be asked for.
    """
    return birth_year is not None and day.year - birth_year <= OF_AGE


def newest(consents: Iterable[Consent], purpose: Purpose) -> Consent | None:
    """The word that counts on a purpose: the latest.

    Of several on one day the no, and of several yeses the guardian's.
    """
    mine = [one for one in consents if one.purpose == purpose]
    return max(mine, key=_rank, default=None)


def _rank(one: Consent) -> tuple[date, bool, bool]:
    return one.decided_on, not one.given, one.guardian


def agreed(
    consents: Iterable[Consent], purpose: Purpose, birth_year: int | None, today: date
) -> bool:
    """Whether one golfer's consents allow a purpose.

    A junior's own yes does not count where a guardian has to give it, and without a guardian's
    word nothing is allowed while the golfer is under age.

    Parameters
    ----------
    consents : iterable of Consent
        Of one golfer, in any order.
    purpose : {"coaching", "norms", "research", "shown", "health"}
    birth_year : int or None
    today : datetime.date
        Day of the use.
    """
    word = newest(consents, purpose)
    if word is None:
        return WITHOUT_A_WORD[purpose] and not is_junior(birth_year, today)
    return word.given and not _lacks_guardian(word, birth_year)


def needs_guardian(
    consents: Iterable[Consent], purpose: Purpose, birth_year: int | None, today: date
) -> bool:
    """Whether it is a guardian's word that is missing, and not one that said no."""
    word = newest(consents, purpose)
    if word is None:
        return is_junior(birth_year, today)
    return word.given and _lacks_guardian(word, birth_year)


def _lacks_guardian(word: Consent, birth_year: int | None) -> bool:
    return not word.guardian and is_junior(birth_year, word.decided_on)


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
