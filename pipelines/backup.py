"""Backup of a store, and restoring from it without bringing back what was erased or withdrawn."""

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from norms.cohort.edition import verify_edition
from norms.errors import StoreRefused
from norms.records import Golfer
from norms.records.consent import Consent
from pipelines.audit import read_log, refuse_broken_log
from pipelines.erase_golfer import erase_golfer
from pipelines.store import Store, open_store
from pipelines.store.beside import side_files
from pipelines.store.erasure import ErasureReceipt
from pipelines.store.rewrite import settle

AGAIN: Final = "erased before, and erased again from a backup"
UNREADABLE: Final = frozenset({"store_corrupt", "not_a_store"})


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupReport:
    """What was copied, and that it holds together.

    Attributes
    ----------
    rows : Mapping of str to int
        By table, compared with the store's own.
    editions : int
        Each verified against its hash.
    log_entries : int
    newest_hash : str or None
        Of the log: noted elsewhere, it shows later that nothing was cut off.
    """

    rows: Mapping[str, int]
    editions: int
    log_entries: int
    newest_hash: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RestoreReport:
    """What a restored store holds.

    Attributes
    ----------
    golfers, swings, editions : int
    erased_again : int
        Golfers of the backup who had been erased from the store since.
    consents_kept : int
        Consents of the store that the backup did not know.
    acts_lost : int
        Entries of the store's log that the backup does not know.
    """

    golfers: int
    swings: int
    editions: int
    erased_again: int
    consents_kept: int
    acts_lost: int


def backup_store(path: Path, target: Path) -> BackupReport:
    """Copy a store into a new file, and verify the copy: rows, editions, log.

    The backup holds the golfers as they are now. It is under the same duty of care as the store,
    and a golfer who is erased later has to be erased from it, or it destroyed.

    Raises
    ------
    StoreRefused
        ``backup_exists``, ``backup_failed``, or as ``open_store``; no backup is then left.
    """
    if target.exists():
        raise StoreRefused(
            f"{target}: exists already, and a backup is never written over: name a new file",
            code="backup_exists",
        )
    if not target.absolute().parent.is_dir():
        raise StoreRefused(
            f"{target}: the folder {target.parent} does not exist: make it first",
            code="store_missing",
        )
    with open_store(path, read_only=True) as store:
        _verify(store)
        rows = store.copy_to(target)
    try:
        with open_store(target, read_only=True) as copy:
            return _report(copy, rows)
    except BaseException:
        target.unlink()
        raise


def restore_store(backup: Path, path: Path, *, who: str, replace: bool = False) -> RestoreReport:
    """Put a backup in the place of a store.

    Where the store that is replaced can still be read, golfers who were erased from it since the
    backup are erased from the restored one, and its receipts and newer consents are kept.

    Parameters
    ----------
    backup : Path
        Left as it is.
    path : Path
    who : str
        Role of who restores.
    replace : bool
        Whether a store that is there may be replaced, and what it holds since the backup lost.

    Raises
    ------
    StoreRefused
        ``store_in_the_way``, ``log_broken``, ``edition_damaged``, or as ``open_store``; the store
        is then as it was.
    """
    if path.exists() and not replace:
        raise StoreRefused(
            f"{path}: there is a store here, and what it holds since the backup would be lost; "
            "say that it may be replaced, or restore to a new file",
            code="store_in_the_way",
        )
    present = _Present.of(path)
    draft = path.with_name(f".{path.name}.restoring")
    _forget(draft)
    try:
        _copy_file(backup, draft)
        report = _brought_up_to(draft, present, who)
        _forget_log(path)  # of the store that goes: it would be replayed into the new one
        settle(draft)
        draft.replace(path)
        settle(path.absolute().parent)
    except StoreRefused as refusal:
        # The draft's name tells nobody anything.
        message = refusal.message.replace(str(draft), str(backup))
        raise StoreRefused(message, code=refusal.code) from refusal
    finally:
        _forget(draft)
    return report


@dataclass(frozen=True, slots=True, kw_only=True)
class _Present:
    """What a restored store has to take over from the one that it replaces."""

    golfers: Mapping[str, Golfer]
    consents: tuple[Consent, ...]
    receipts: tuple[ErasureReceipt, ...]
    log: tuple[str, ...]

    @classmethod
    def of(cls, path: Path) -> "_Present | None":
        """Of a store that is there and can be read; opened for writing, so that nobody uses it."""
        if not path.exists():
            return None
        try:
            with open_store(path) as store:
                consents = store.consents.by_golfer().values()
                return cls(
                    golfers=store.golfers(),
                    consents=tuple(one for words in consents for one in words),
                    receipts=tuple(store.erasures.receipts()),
                    log=tuple(entry.hash for entry in store.audit.entries()),
                )
        except StoreRefused as refusal:
            if refusal.code in UNREADABLE:
                return None
            raise


def _brought_up_to(draft: Path, present: _Present | None, who: str) -> RestoreReport:
    """Take over what must not be undone by going back, note it, and verify the store."""
    with open_store(draft) as store:
        known = {entry.hash for entry in store.audit.entries()}
        erased = _erased_since(store, present)
    for golfer in erased:
        erase_golfer(draft, golfer, why=AGAIN, who=who)
    with open_store(draft) as store:
        kept = _take_over_consents(store, present)
        store.erasures.keep_receipts(present.receipts if present else ())
        lost = sum(entry not in known for entry in present.log) if present else 0
        counts = {"erased_again": len(erased), "consents_kept": kept, "entries_lost": lost}
        store.audit.record("restore", who, counts)
        _verify(store)
        return RestoreReport(
            golfers=len(store.golfers()),
            swings=len(store.swing_codes()),
            editions=len(store.edition_names()),
            erased_again=len(erased),
            consents_kept=kept,
            acts_lost=lost,
        )


def _erased_since(store: Store, present: _Present | None) -> list[str]:
    """Golfers of a backup whom the store no longer has: only an erasure takes a golfer away."""
    if present is None:
        return []
    earlier = {one.receipt for one in store.erasures.receipts()}
    if all(one.receipt in earlier for one in present.receipts):
        return []
    return [code for code in store.golfers() if code not in present.golfers]


def _take_over_consents(store: Store, present: _Present | None) -> int:
    """Keep newer consents, and as a dated no what the newer roster says by its column."""
    if present is None:
        return 0
    golfers = store.golfers()
    known = {one for words in store.consents.by_golfer().values() for one in words}
    newer = [one for one in present.consents if one not in known and one.golfer in golfers]
    store.consents.add(newer)
    withdrawn = [
        Consent(golfer=code, purpose="norms", given=False, decided_on=date.today())
        for code, golfer in store.golfers().items()
        if golfer.consents_norms
        and code in present.golfers
        and not present.golfers[code].consents_norms
    ]
    store.consents.add(withdrawn)
    return len(newer) + len(withdrawn)


def _verify(store: Store) -> None:
    """Refuse a store whose log or editions do not hold together."""
    refuse_broken_log(store)
    for name in store.edition_names():
        if not verify_edition(store.edition(name)):
            raise StoreRefused(
                f"{store.path}: edition {name} does not hold the numbers it was frozen with: "
                "restore an earlier backup",
                code="edition_damaged",
            )


def _report(store: Store, rows: Mapping[str, int]) -> BackupReport:
    _verify(store)
    log = read_log(store)
    return BackupReport(
        rows=rows,
        editions=len(store.edition_names()),
        log_entries=len(log.entries),
        newest_hash=log.newest_hash,
    )


def _copy_file(backup: Path, draft: Path) -> None:
    try:
        shutil.copyfile(backup, draft)
    except OSError as error:
        raise StoreRefused(
            f"{backup}: cannot be copied ({error.strerror}): check the path", code="store_missing"
        ) from error


def _forget(draft: Path) -> None:
    """Remove a draft, and whatever opening it left beside it."""
    for other in (draft, *side_files(draft)):
        other.unlink(missing_ok=True)
    _forget_log(draft)


def _forget_log(path: Path) -> None:
    path.with_name(f"{path.name}.wal").unlink(missing_ok=True)
