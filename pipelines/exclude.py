"""A person's decision to leave a golfer or a swing out of norms, or to take it back in."""

from datetime import UTC, datetime

from norms.errors import NormsError, StoreRefused
from norms.records import Exclusion
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
