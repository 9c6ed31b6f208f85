"""Puts a backup in the place of a store, without bringing back what was erased or withdrawn."""

import os
import shutil
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from norms.errors import StoreRefused
from pipelines.backup_manifest import check_bytes, check_tables, manifest_path, read_manifest
from pipelines.erase_golfer import erase_golfer
from pipelines.erased_codes import keep_erased
from pipelines.store import open_store
from pipelines.store.beside import (
    DAYS_REPLACED,
    RESTORED,
    draft_of,
    is_backup,
    log_of,
    remove,
    replaced_name,
    side_files,
)
from pipelines.store.checksums import table_checksums
from pipelines.store.holding import held
from pipelines.store.opening import open_as_it_is
from pipelines.store.rewrite import settle
from pipelines.taken_over import Present, erased_since, take_over_consents
from pipelines.verify_store import verify_store

AGAIN: Final = "erased before, and erased again from a backup"


@dataclass(frozen=True, slots=True, kw_only=True)
class RestoreReport:
    """What a restored store holds, and what became of the one that it replaced.

    Attributes
    ----------
    golfers, swings, editions : int
    erased_again : int
        Golfers of the backup who had been erased from the store since.
    consents_kept : int
        Consents of the store that the backup did not know.
    acts_lost : int
        Entries of the store's log that the backup does not know.
    checked : bool
        Whether bytes and tables were compared with a manifest.
    replaced : Path or None
        Where the replaced store is kept; None where there was none, or where it held nothing but
        what the backup holds, and is removed.
    kept_because : str
        Why it is kept, and how long.
    """

    golfers: int
    swings: int
    editions: int
    erased_again: int
    consents_kept: int
    acts_lost: int
    checked: bool = True
    replaced: Path | None = None
    kept_because: str = ""


def restore_store(
    backup: Path, path: Path, *, who: str, replace: bool = False, unchecked: bool = False
) -> RestoreReport:
    """Put a backup in the place of a store.

    Every byte and every table of the backup is compared with its manifest before anything is
    changed. Where the store that is replaced can still be read, golfers who were erased from it
    since the backup are erased from the restored one, and its receipts and newer consents are
    kept. It stays beside the new one until that was opened and read through, and for a month where
    it holds what the backup does not; an erasure takes it away.

    Parameters
    ----------
    backup : Path
        Left as it is.
    path : Path
        The store; where it is a link, the file that it leads to.
    who : str
        Role of who restores.
    replace : bool
        Whether a store that is there may be replaced, and what it holds since the backup lost.
    unchecked : bool
        Whether a backup whose manifest is lost may be restored. One that has a manifest is checked
        all the same.

    Raises
    ------
    StoreRefused
        ``store_in_the_way``, ``manifest_missing``, ``manifest_damaged``, ``backup_damaged``,
        ``log_broken``, ``edition_damaged``, or as ``open_store``; the store is then as it was.
    """
    named, path = path, path.resolve()
    _refuse_in_the_way(backup, named, replace)
    source = backup.resolve()
    draft = draft_of(path, RESTORED)
    _forget(draft)
    try:
        checked = _checked_copy(backup, source, draft, unchecked=unchecked)
        with open_as_it_is(draft) as copy:
            backed_up = table_checksums(copy)
        with ExitStack() as stack:
            present = Present.of(path, named)
            if path.exists():  # nobody else's from here on
                since = present.stamp if present else None
                stack.enter_context(held(path, str(named), since=since))
            found = _brought_up_to(draft, present, who)
            with open_as_it_is(draft) as copy:
                tables = table_checksums(copy)
            stack.enter_context(held(draft, str(named)))  # until it has been read through
            replaced = _put_in_place(draft, path, readable=present is not None)
            _read_through(path, tables, replaced, named)
    except StoreRefused as refusal:
        # The draft's name tells nobody anything.
        message = refusal.message.replace(str(draft), str(backup))
        raise StoreRefused(message, code=refusal.code) from refusal
    finally:
        _forget(draft)
    why = _why_kept(present, backed_up, found.acts_lost)
    if replaced is not None and not why:
        remove((replaced,))
    return RestoreReport(
        golfers=found.golfers,
        swings=found.swings,
        editions=found.editions,
        erased_again=found.erased_again,
        consents_kept=found.consents_kept,
        acts_lost=found.acts_lost,
        checked=checked,
        replaced=replaced if why else None,
        kept_because=why if replaced is not None else "",
    )


def _refuse_in_the_way(backup: Path, path: Path, replace: bool) -> None:
    if path.exists() and backup.exists() and path.samefile(backup):
        raise StoreRefused(
            f"{path}: is the backup itself: name the store that it is to become",
            code="store_in_the_way",
        )
    if is_backup(path.resolve()):
        raise StoreRefused(
            f"{path}: the manifest of a backup lies beside this name; restore to another",
            code="store_is_backup",
        )
    if path.exists() and not replace:
        raise StoreRefused(
            f"{path}: there is a store here, and what it holds since the backup would be lost; "
            "say that it may be replaced, or restore to a new file",
            code="store_in_the_way",
        )


def _checked_copy(backup: Path, source: Path, draft: Path, *, unchecked: bool) -> bool:
    """Copy a backup, and hold the copy against the manifest; whether there was one."""
    if not source.is_file():
        raise StoreRefused(
            f"{backup}: cannot be copied (there is no such file): check the path",
            code="store_missing",
        )
    known = not unchecked or manifest_path(source).exists()
    manifest = read_manifest(source) if known else None
    try:
        shutil.copyfile(source, draft)
    except OSError as error:
        raise StoreRefused(
            f"{backup}: cannot be copied ({error.strerror}): check path and disk",
            code="store_missing",
        ) from error
    if manifest is not None:
        check_bytes(draft, manifest, backup)
        with open_as_it_is(draft) as copy:
            check_tables(copy, manifest.tables, backup)
    return manifest is not None


def _brought_up_to(draft: Path, present: Present | None, who: str) -> RestoreReport:
    """Take over what must not be undone by going back, note it, and verify the store."""
    with open_store(draft) as store:
        known = {entry.hash for entry in store.audit.entries()}
        erased = erased_since(store, present)
    for golfer in erased:
        erase_golfer(draft, golfer, why=AGAIN, who=who)
    with open_store(draft) as store:
        lost = sum(entry not in known for entry in present.log) if present else 0
        with store.act("restore", who=who, can_undo=False) as act:
            kept = take_over_consents(store, present)
            store.erasures.keep_receipts(present.receipts if present else ())
            keep_erased(store, present.erased_codes if present else ())
            act.say(erased_again=len(erased), consents_kept=kept, entries_lost=lost)
        verify_store(store)
        return RestoreReport(
            golfers=len(store.golfers()),
            swings=len(store.swing_codes()),
            editions=len(store.edition_names()),
            erased_again=len(erased),
            consents_kept=kept,
            acts_lost=lost,
        )


def _put_in_place(draft: Path, path: Path, *, readable: bool) -> Path | None:
    """Give the new store its name, the old one keeping another; that name, or None."""
    settle(draft)
    replaced = None
    if path.exists():
        shutil.copymode(path, draft)
        replaced = replaced_name(path, datetime.now())
        if not (readable and _linked(path, replaced)):
            path.replace(replaced)
            if log_of(path).exists():  # it would be replayed into the new store
                log_of(path).replace(log_of(replaced))
    draft.replace(path)
    settle(path.parent)
    return replaced


def _linked(path: Path, other: Path) -> bool:
    """A second name for a file, so that there is a store at every moment; not on every disk."""
    try:
        os.link(path, other)
    except OSError:
        return False
    return True


def _read_through(
    path: Path, tables: Mapping[str, str], replaced: Path | None, named: Path
) -> None:
    """Read the new store in its place; where it is not what was written, put the old one back."""
    try:
        with open_as_it_is(path) as store:
            check_tables(store, tables, named)
    except StoreRefused as refusal:
        if replaced is None:
            raise
        replaced.replace(path)
        settle(path.parent)
        raise StoreRefused(
            f"{refusal.message}; the store that was there is put back", code="restore_failed"
        ) from refusal


def _why_kept(present: Present | None, backed_up: Mapping[str, str], lost: int) -> str:
    if present is not None and present.tables == backed_up:
        return ""
    holds = (
        "it could not be read, so that nobody knows what only it holds"
        if present is None
        else f"it holds what the backup does not ({lost:,} of its acts)"
    )
    return (
        f"{holds}. It holds golfers, and is removed by an erasure, or {DAYS_REPLACED} days from now"
    )


def _forget(draft: Path) -> None:
    """Remove a draft, and whatever opening it left beside it."""
    remove((*side_files(draft), draft, log_of(draft)))
