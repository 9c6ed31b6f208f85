"""Decisions to leave a golfer or a swing out of norms: who decided, why, and when; none is lost."""

from datetime import datetime

from norms.errors import StoreRefused
from norms.records import Exclusion
from norms.records.decided_exclusion import DecidedExclusion
from pipelines.store.database import Database


def add_exclusion(database: Database, exclusion: Exclusion, decided_at: datetime) -> None:
    """Keep a decision; what is already left out is refused."""
    decided = DecidedExclusion(exclusion=exclusion, decided_at=decided_at)
    if decided.subject in {known.subject for known in exclusions(database) if known.stands}:
        raise StoreRefused(
            f"{decided.subject} is already left out of norms; withdraw that decision to give "
            "another reason",
            code="already_excluded",
        )
    database.rows(
        "add_exclusion",
        (exclusion.golfer, exclusion.swing, exclusion.reason, exclusion.decided_by, decided_at),
    )


def withdraw_exclusion(
    database: Database,
    *,
    golfer: str | None,
    swing: str | None,
    reason: str,
    decided_by: str,
    decided_at: datetime,
) -> None:
    """End a decision that stands; it is kept, with who ended it and why."""
    ended = database.rows("withdraw_exclusion", (reason, decided_by, decided_at, golfer, swing))
    if not ended:
        what = f"golfer {golfer}" if golfer is not None else f"swing {swing}"
        raise StoreRefused(
            f"{what} is not left out of norms by any decision; list the decisions to see which "
            "there are",
            code="not_excluded",
        )


def exclusions(database: Database) -> list[DecidedExclusion]:
    """Every decision, in the order they were taken, withdrawn ones too."""
    return [
        DecidedExclusion(
            exclusion=Exclusion(golfer=golfer, swing=swing, reason=reason, decided_by=decided_by),
            decided_at=decided_at,
            withdrawn_reason=withdrawn_reason,
            withdrawn_by=withdrawn_by,
            withdrawn_at=withdrawn_at,
        )
        for (
            golfer, swing, reason, decided_by, decided_at, withdrawn_reason, withdrawn_by,
            withdrawn_at,
        ) in database.rows("exclusions")
    ]  # fmt: skip
