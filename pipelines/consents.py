"""Consent by golfer and purpose: read from a table, asked before use, and due for renewal."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Final

from norms.errors import StoreRefused
from norms.records import Edition, Golfer
from norms.records.consent import (
    PURPOSES,
    Consent,
    ConsentStanding,
    Purpose,
    agreed,
    is_junior,
    needs_guardian,
    newest,
    to_be_renewed,
)
from pipelines.import_tables import (
    one_word_of,
    read_code,
    read_day,
    read_truth,
    refuse_before_birth,
)
from pipelines.store import Store
from pipelines.text_tables import Column, TextTable, read_text_table, refuse_faults

CONSENT_COLUMNS: Final = (
    Column(name="golfer", read=read_code),
    Column(name="purpose", read=one_word_of(PURPOSES)),
    Column(name="given", read=read_truth),
    Column(name="date", read=read_day),
    Column(name="guardian", read=read_truth, needed=False, filled=False),
)

MEASURED: Final[tuple[Purpose, ...]] = ("coaching", "norms", "research")
"""A capture is read in for one of these."""


def import_consents(store: Store, table: Path, *, who: str, today: date | None = None) -> int:
    """Read consents into a store; a later word on a purpose takes the place of an earlier one.

    A withdrawal is a row with ``given`` false: from then on the golfer enters no new edition.
    Editions that are frozen keep their numbers; only an erasure takes a golfer out of them.

    Parameters
    ----------
    store : Store
        Open for writing, its roster filled.
    table : Path
        CSV with columns golfer, purpose (coaching, norms, research, shown, health), given, date,
        and where a guardian decided, guardian. Names have no place in it.
    who : str
        Role of who reads it in.
    today : datetime.date, optional

    Returns
    -------
    int
        Consents read.

    Raises
    ------
    TableRefused
        Naming file, line, column, value and what is allowed, for every fault.
    """
    read = read_text_table(table, CONSENT_COLUMNS)
    read.refuse_repeats("golfer", "purpose", "date")
    golfers = store.golfers()
    _refuse_unusable(read, golfers, today or date.today())
    refuse_before_birth(read, {code: golfer.birth_year for code, golfer in golfers.items()})
    refuse_faults([read])
    consents = [
        Consent(
            golfer=row.values["golfer"],
            purpose=row.values["purpose"],
            given=row.values["given"],
            decided_on=row.values["date"],
            guardian=bool(row.values.get("guardian")),
        )
        for row in read.rows
    ]
    given = sum(one.given for one in consents)
    said: dict[str, object] = {"given": given, "refused": len(consents) - given}
    with store.act("consents", who=who, details=said):
        store.consents.add(consents)
    return len(consents)


def _refuse_unusable(read: TextTable, golfers: Mapping[str, Golfer], today: date) -> None:
    for row in read.rows:
        code, day = row.values.get("golfer"), row.values.get("date")
        if code is not None and code not in golfers:
            allowed = "is not on the roster of the store; read the roster first"
            read.fault(row.line, "golfer", code, allowed)
        if day is None:
            continue
        if day > today:
            read.fault(row.line, "date", day, f"is after today, {today}; correct it")
        golfer = golfers.get(code) if code is not None else None
        needs_guardian = golfer is not None and is_junior(golfer.birth_year, day)
        if needs_guardian and row.values.get("given") and not row.values.get("guardian"):
            allowed = "a junior's yes is given by a guardian: ask them, and write guardian true"
            read.fault(row.line, "guardian", row.values.get("guardian") or "", allowed)


def refuse_without_consent(store: Store, golfer: str, purpose: Purpose) -> None:
    """Refuse a use of a golfer's swings that the golfer, or a guardian, has not agreed to.

    Raises
    ------
    StoreRefused
        ``no_consent``, also for a golfer who is not on the roster.
    """
    if golfer in consenting(store, purpose):
        return
    known = store.golfer(golfer)
    words = store.consents.by_golfer().get(golfer, ())
    if known is not None and needs_guardian(words, purpose, known.birth_year, date.today()):
        raise StoreRefused(
            f"golfer {golfer}: is under age, and no guardian's word on {purpose} is recorded; ask "
            "the guardian, read it in with guardian true (norms consents), or leave the golfer out",
            code="no_consent",
        )
    raise StoreRefused(
        f"golfer {golfer}: there is no consent to {purpose}; ask for it and read it in (norms "
        "consents), or leave the golfer out",
        code="no_consent",
    )


def consenting(store: Store, purpose: Purpose) -> dict[str, Golfer]:
    """Golfers of the roster who agree to a purpose, by code."""
    words, today = store.consents.by_golfer(), date.today()
    return {
        code: golfer
        for code, golfer in store.golfers().items()
        if agreed(words.get(code, ()), purpose, golfer.birth_year, today)
        and (purpose != "norms" or golfer.consents_norms)
    }


def may_be_measured(store: Store) -> dict[str, Golfer]:
    """Golfers of whom a capture may be kept: who agree to coaching, to norms, or to research."""
    return {code: one for purpose in MEASURED for code, one in consenting(store, purpose).items()}


def refuse_unmeasured(store: Store, golfer: str) -> None:
    """Refuse to keep a capture of a golfer who agrees to none of what it could serve.

    Raises
    ------
    StoreRefused
        ``no_consent``.
    """
    if golfer not in may_be_measured(store):
        raise StoreRefused(
            f"golfer {golfer}: agrees to neither coaching, norms nor research, or is under age "
            "without a guardian's word; read the consent in (norms consents) first",
            code="no_consent",
        )


def counted_without_consent(store: Store, edition: Edition) -> list[str]:
    """Golfers whom an edition counts and who do not agree to norms, or do not any more."""
    counted = {code for cell in edition.cells for code in cell.cohort.golfers}
    return sorted(counted - set(consenting(store, "norms")))


def without_birth_year(store: Store) -> list[str]:
    """Golfers of the roster who are taken to be of age because no year of birth is known."""
    return [code for code, golfer in store.golfers().items() if golfer.birth_year is None]


def standing_consents(store: Store, today: date | None = None) -> list[ConsentStanding]:
    """Where every golfer of the roster stands on every purpose, by code and purpose."""
    words, day = store.consents.by_golfer(), today or date.today()
    willing = {purpose: consenting(store, purpose) for purpose in PURPOSES}
    standings = []
    for code, golfer in store.golfers().items():
        known = words.get(code, ())
        due = to_be_renewed(known, golfer.birth_year, day)
        for purpose in PURPOSES:
            word = newest(known, purpose)
            standings.append(
                ConsentStanding(
                    golfer=code,
                    purpose=purpose,
                    agreed=code in willing[purpose],
                    word=word,
                    to_renew=word in due,
                    waits_for_guardian=needs_guardian(known, purpose, golfer.birth_year, day),
                )
            )
    return standings
