"""Who agreed to what, as plain rows and sentences for a terminal."""

from collections.abc import Sequence
from itertools import groupby

from norms.records.consent import PURPOSES, ConsentStanding

Rows = list[list[str]]


def consents_table(standings: Sequence[ConsentStanding]) -> Rows:
    """Every golfer's standing on each purpose, and whether they are to be asked anew.

    Parameters
    ----------
    standings : sequence of ConsentStanding
        By golfer and, within one, in the order of ``PURPOSES``.
    """
    rows: Rows = [["golfer", *PURPOSES, "ask anew"]]
    for golfer, own in groupby(standings, lambda one: one.golfer):
        told = list(own)
        due = [one.purpose for one in told if one.to_renew]
        rows.append([golfer, *map(_words, told), ", ".join(due)])
    return rows


def renewal_sentences(standings: Sequence[ConsentStanding]) -> list[str]:
    """Whom to ask anew, because a guardian answered for them and they are of age by now."""
    due = [one for one in standings if one.to_renew]
    return [
        f"{one.golfer} is of age: a guardian agreed to {one.purpose} on {one.word.decided_on}, "
        "ask the golfer."
        for one in due
        if one.word is not None
    ]


def standing_sentences(
    standings: Sequence[ConsentStanding],
    no_birth_year: Sequence[str],
    health_without_consent: Sequence[str],
) -> list[str]:
    """Whose guardian to ask, whose year of birth is missing, whose note on health may not stay.

    Parameters
    ----------
    standings : sequence of ConsentStanding
    no_birth_year : sequence of str
        Golfers who are taken to be of age.
    health_without_consent : sequence of str
        Golfers of whom a note on health is kept without consent to that.
    """
    said = []
    waiting = [one.golfer for one in standings if one.waits_for_guardian and one.purpose == "norms"]
    if waiting:
        said.append(
            "Under age, and no guardian's word on norms is recorded, so that they are left out: "
            f"{', '.join(waiting)}."
        )
    if no_birth_year:
        said.append(
            f"Without a year of birth, and taken to be of age: {', '.join(no_birth_year)}; ask, "
            "and read the roster in again."
        )
    if health_without_consent:
        said.append(
            "A note on health is kept without consent to that, and not used: "
            f"{', '.join(health_without_consent)}; ask, or take the note out."
        )
    return said


def _words(one: ConsentStanding) -> str:
    said = "yes" if one.agreed else "no"
    if one.word is None:
        return f"{said}, nothing read in"
    if one.word.given and not one.agreed:
        return f"no, though a yes was read in of {one.word.decided_on}"
    by = " by a guardian" if one.word.guardian else ""
    return f"{said}, {one.word.decided_on}{by}"
