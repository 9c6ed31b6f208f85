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


def _words(one: ConsentStanding) -> str:
    said = "yes" if one.agreed else "no"
    if one.word is None:
        return f"{said}, nothing read in"
    if one.word.given and not one.agreed:
        return f"no, though a yes was read in of {one.word.decided_on}"
    by = " by a guardian" if one.word.guardian else ""
    return f"{said}, {one.word.decided_on}{by}"
