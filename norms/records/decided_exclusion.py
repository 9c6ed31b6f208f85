"""An exclusion as the store keeps it: with when it was decided, and whether it still stands."""

from dataclasses import dataclass
from datetime import datetime

from norms.records.cohort import Exclusion


@dataclass(frozen=True, slots=True, kw_only=True)
class DecidedExclusion:
    """A person's decision to leave a golfer or a swing out of norms, and its history.

    Attributes
    ----------
    exclusion : Exclusion
    decided_at : datetime.datetime
        UTC.
    withdrawn_reason, withdrawn_by : str or None
    withdrawn_at : datetime.datetime or None
        ``None`` while the exclusion stands.
    """

    exclusion: Exclusion
    decided_at: datetime
    withdrawn_reason: str | None = None
    withdrawn_by: str | None = None
    withdrawn_at: datetime | None = None

    @property
    def stands(self) -> bool:
        """Whether the golfer or swing is left out."""
        return self.withdrawn_at is None

    @property
    def subject(self) -> str:
        """What the decision is about, in words."""
        if self.exclusion.golfer is not None:
            return f"golfer {self.exclusion.golfer}"
        return f"swing {self.exclusion.swing}"
