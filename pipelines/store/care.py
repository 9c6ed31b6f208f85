"""What a store holds for the academy's duty of care: consents, the log, receipts of erasure."""

from collections.abc import Callable
from pathlib import Path

from pipelines.store.audit import AuditLog
from pipelines.store.consents import ConsentBook
from pipelines.store.copies import copy_database
from pipelines.store.database import Database
from pipelines.store.entries import EntryRows
from pipelines.store.erasure import Erasures
from pipelines.store.holding import Stamp, stamp_of
from pipelines.store.journal import RowChange, table_faults
from pipelines.store.rewrite import refuse_linked, rewrite_store
from pipelines.store.undo import put_back


class CareMethods:
    """Consents, the log and erasures, each behind a name of its own."""

    _database: Database
    path: str

    @property
    def consents(self) -> ConsentBook:
        """Who agreed to what."""
        return ConsentBook(self._database)

    @property
    def audit(self) -> AuditLog:
        """What was done, by whom and when."""
        return AuditLog(self._database)

    @property
    def erasures(self) -> Erasures:
        """Removing a golfer, and the receipts of it."""
        return Erasures(self._database)

    @property
    def entry_rows(self) -> EntryRows:
        """Single rows of what persons entered."""
        return EntryRows(self._database)

    def table_faults(self) -> list[str]:
        """Tables that do not hold what the newest line of the log on them says, in words."""
        return table_faults(self._database)

    def undoable_acts(self) -> list[int]:
        """Numbers of the acts of which it is kept what they changed, oldest first."""
        return [number for (number,) in self._database.rows("acts_with_changes")]

    def put_back(self, number: int) -> list[RowChange]:
        """Put the rows that an act changed back as they were.

        Raises
        ------
        StoreRefused
            ``not_to_be_undone``.
        """
        return put_back(self._database, number)

    def copy_to(
        self, target: Path, before_naming: Callable[[Path], None] | None = None
    ) -> dict[str, int]:
        """Write a compared copy of the whole store; returns its rows by table.

        Raises
        ------
        StoreRefused
            ``backup_failed``.
        """
        return copy_database(self._database, target, before_naming)

    def settled(self) -> Stamp:
        """Settle everything into the one file, and say what the file then is."""
        self._database.script("CHECKPOINT")
        return stamp_of(Path(self.path).resolve())

    def refuse_linked(self) -> None:
        """Refuse to erase from a file that has a second name, before anything is deleted.

        Raises
        ------
        StoreRefused
            ``store_linked``.
        """
        refuse_linked(Path(self.path).resolve(), self.path)

    def write_anew(self) -> None:
        """Write the store's file anew, without the bytes of what was erased, and close it.

        Raises
        ------
        StoreRefused
            As `pipelines.store.rewrite.rewrite_store`.
        """
        rewrite_store(self._database, Path(self.path).resolve(), self.path)
