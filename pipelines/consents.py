"""Consent by golfer and purpose: read from a table, asked before use, and due for renewal."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Final

from norms.errors import StoreRefused
from norms.records import Golfer
from norms.records.consent import (
    PURPOSES,
    Consent,
    ConsentStanding,
    Purpose,
    agreed,
    is_junior,
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


def import_consents(store: Store, table: Path, *, who: str, today: date | None = None) -> int:
    """Read consents into a store; a later word on a purpose takes the place of an earlier one.

    A withdrawal is a row with ``given`` false: from then on the golfer enters no new edition.
    Editions that are frozen keep their numbers; only an erasure takes a golfer out of them.

    Parameters
    ----------
    store : Store
        Open for writing, its roster filled.
    table : Path
        CSV with columns golfer, purpose (coaching, norms, research), given, date, and where a
        guardian decided, guardian. Names have no place in it.
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
        ``no_consent``.
    """
    if golfer not in consenting(store, purpose):
        raise StoreRefused(
            f"golfer {golfer}: there is no consent to {purpose}; ask for it and read it in, or "
            "leave the golfer out",
            code="no_consent",
        )


def consenting(store: Store, purpose: Purpose) -> dict[str, Golfer]:
    """Golfers of the roster who agree to a purpose, by code."""
    words = store.consents.by_golfer()
    return {
        code: golfer
        for code, golfer in store.golfers().items()
        if agreed(words.get(code, ()), purpose, golfer.birth_year)
        and (purpose != "norms" or golfer.consents_norms)
    }


def standing_consents(store: Store, today: date | None = None) -> list[ConsentStanding]:
    """Where every golfer of the roster stands on every purpose, by code and purpose."""
    words = store.consents.by_golfer()
    willing = {purpose: consenting(store, purpose) for purpose in PURPOSES}
    standings = []
    for code, golfer in store.golfers().items():
        known = words.get(code, ())
        due = to_be_renewed(known, golfer.birth_year, today or date.today())
        for purpose in PURPOSES:
            word = newest(known, purpose)
            standings.append(
                ConsentStanding(
                    golfer=code,
                    purpose=purpose,
                    agreed=code in willing[purpose],
                    word=word,
                    to_renew=word in due,
                )
            )
    return standings
