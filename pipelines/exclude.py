"""A person's decision to leave a golfer or a swing out of norms, or to take it back in."""

from collections.abc import Collection
from datetime import UTC, datetime
from typing import Any

import numpy as np

from norms.cohort.lab_admission import pool_rows
from norms.cohort.roll import PERSON_DECIDED
from norms.errors import NormsError, StoreRefused
from norms.records import Edition, Exclusion, SwingPool
from pipelines.store import Store


def exclude(
    store: Store,
    *,
    golfer: str | None = None,
    swing: str | None = None,
    reason: str,
    decided_by: str,
) -> None:
    """Leave a golfer, or one swing, out of every edition that is built from now on.

    Editions that are built keep their numbers. Nothing is deleted.

    Parameters
    ----------
    store : Store
        Open for writing.
    golfer, swing : str or None
        Code of exactly one of them, as the store knows it.
    reason : str
    decided_by : str
        The role of who decides, e.g. ``"head coach"``.

    Raises
    ------
    NormsError
        If not exactly one is named, the store does not know it, reason or person are empty, or it
        is already left out.
    """
    reason, decided_by = _stated(reason, decided_by)
    _check_subject(store, golfer, swing)
    exclusion = Exclusion(golfer=golfer, swing=swing, reason=reason, decided_by=decided_by)
    with store.act("exclude", who=decided_by, why=reason, golfer=golfer, details=_of(golfer)):
        store.add_exclusion(exclusion, datetime.now(UTC))


def readmit(
    store: Store,
    *,
    golfer: str | None = None,
    swing: str | None = None,
    reason: str,
    decided_by: str,
) -> None:
    """Withdraw a decision that stands; it stays on record with who withdrew it and why.

    Parameters
    ----------
    store : Store
        Open for writing.
    golfer, swing : str or None
        As they were excluded.
    reason : str
    decided_by : str

    Raises
    ------
    NormsError
        If not exactly one is named, reason or person are empty, or no decision stands.
    """
    reason, decided_by = _stated(reason, decided_by)
    _check_one(golfer, swing)
    with store.act("readmit", who=decided_by, why=reason, golfer=golfer, details=_of(golfer)):
        store.withdraw_exclusion(
            golfer=golfer,
            swing=swing,
            reason=reason,
            decided_by=decided_by,
            decided_at=datetime.now(UTC),
        )


def standing_exclusions(store: Store) -> list[Exclusion]:
    """Decisions in force, in the order they were taken: what a build leaves out."""
    return [decided.exclusion for decided in store.exclusions() if decided.stands]


def excluded_swings(store: Store) -> dict[str, Exclusion]:
    """Swings that a person left out one by one: they count nowhere, not even for who swung."""
    return {one.swing: one for one in standing_exclusions(store) if one.swing is not None}


def excluded_golfers(store: Store) -> dict[str, Exclusion]:
    """Golfers whom a person left out of norms; they may be placed and coached as before."""
    return {one.golfer: one for one in standing_exclusions(store) if one.golfer is not None}


def without_swings(pool: SwingPool, swings: Collection[str]) -> SwingPool:
    """The pool without some swings."""
    return pool_rows(pool, np.array([code not in swings for code in pool.swings], dtype=bool))


def refuse_excluded_swing(store: Store, swing: str) -> None:
    """Refuse to use a swing that a person left out.

    Raises
    ------
    StoreRefused
        ``swing_excluded``.
    """
    decided = excluded_swings(store).get(swing)
    if decided is not None:
        raise StoreRefused(
            f"swing {swing}: is left out by {decided.decided_by}: {decided.reason}; leave its "
            "file out, or take it back (norms exclude --readmit)",
            code="swing_excluded",
        )


def counted_though_excluded(store: Store, edition: Edition) -> tuple[str, ...]:
    """Decisions, in words, on who and what a frozen edition still counts; empty where none is.

    Swings of golfers whom it does not count, and decisions that it was built with, are no matter.
    """
    members = {code for cell in edition.cells for code in cell.cohort.golfers}
    standing = standing_exclusions(store)
    if not members or not standing:
        return ()
    evidence: Any = edition.evidence
    at_build = {
        one["reason"].rpartition(" (swing ")[2].removesuffix(")")
        for one in evidence.get("left_out", {}).get("every cohort", ())
        if one["rule"] == PERSON_DECIDED
    }
    owners = {code: who for code, (who, _) in store.golfer_shelf.swing_owners().items()}
    golfers = sum(one.golfer in members for one in standing)
    swings = sum(
        one.swing not in at_build and owners.get(one.swing) in members
        for one in standing
        if one.swing is not None
    )
    told = [
        f"{count} {thing}{'s' * (count != 1)}"
        for count, thing in ((golfers, "golfer"), (swings, "swing"))
        if count
    ]
    if not told:
        return ()
    return (
        f"Edition {edition.name} was built before a person left out {' and '.join(told)}, and "
        "counts them still; the next build does not.",
    )


def _of(golfer: str | None) -> dict[str, object]:
    return {"of": "swing" if golfer is None else "golfer"}


def _stated(reason: str, decided_by: str) -> tuple[str, str]:
    reason, decided_by = " ".join(reason.split()), " ".join(decided_by.split())
    if not reason or not decided_by:
        missing = "why" if not reason else "who decides"
        raise NormsError(
            f"an exclusion needs who and why, and {missing} is empty; state it, by role and not "
            "by name",
            code="exclusion_unexplained",
        )
    return reason, decided_by


def _check_one(golfer: str | None, swing: str | None) -> None:
    if (golfer is None) == (swing is None):
        raise NormsError("name either one golfer or one swing, by code", code="exclusion_subject")


def _check_subject(store: Store, golfer: str | None, swing: str | None) -> None:
    _check_one(golfer, swing)
    if golfer is not None and store.golfer(golfer) is None:
        raise StoreRefused(
            f"golfer {golfer} is not on the roster of {store.path}; check the code",
            code="golfer_unknown",
        )
    if swing is not None and swing not in store.swing_codes():
        raise StoreRefused(
            f"swing {swing} is not in {store.path}; check the code", code="swing_unknown"
        )
