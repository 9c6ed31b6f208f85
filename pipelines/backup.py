"""Backup of a store: a compared copy, and a manifest of every byte and every table beside it."""

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from norms.errors import StoreRefused
from pipelines.backup_manifest import make_manifest, manifest_path, write_manifest
from pipelines.roles import NOT_STATED
from pipelines.store import open_store
from pipelines.store.beside import left_behind, remove
from pipelines.verify_store import verify_store


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
    manifest : Path
        Stands beside the backup, and is moved and renamed together with it.
    """

    rows: Mapping[str, int]
    editions: int
    log_entries: int
    newest_hash: str | None
    manifest: Path


def backup_store(path: Path, target: Path, *, who: str = NOT_STATED) -> BackupReport:
    """Copy a store into a new file, verify the copy (rows, editions, log), and write its manifest.

    That a backup is made stands in the log before the copy is begun, so that no copy exists that
    the log does not know; the copy has its name only once its manifest is there.

    The backup holds the golfers as they are now. It is under the same duty of care as the store;
    a golfer who is erased later is in it until it is destroyed. It is not opened for writing.

    Parameters
    ----------
    path : Path
    target : Path
    who : str
        Role, for the log.

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
    place = target.resolve()
    if not place.parent.is_dir():
        raise StoreRefused(
            f"{target}: the folder {target.parent} does not exist: make it first",
            code="store_missing",
        )
    remove(left_behind(place))
    with open_store(path) as store:
        verify_store(store)
        store.audit.record("backup", who, {"file": str(place)})
    made_at = datetime.now(UTC).replace(tzinfo=None).isoformat(timespec="seconds")
    facts: list[tuple[int, int, str | None]] = []

    def verify(draft: Path) -> None:
        shutil.copymode(path, draft)  # who may not read the store may not read its backup
        with open_store(draft, read_only=True) as copy:
            verify_store(copy)
            manifest = make_manifest(draft, copy, made_at)
            facts.append((len(copy.edition_names()), manifest.log_entries, manifest.log_head))
        write_manifest(manifest, manifest_path(place))

    with open_store(path, read_only=True) as store:
        rows = store.copy_to(place, verify)
    editions, entries, head = facts[0]
    return BackupReport(
        rows=rows,
        editions=editions,
        log_entries=entries,
        newest_hash=head,
        manifest=manifest_path(place),
    )
