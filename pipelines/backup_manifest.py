"""The manifest that stands beside a backup, and what it says of every byte and every table."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from hashlib import file_digest, sha256
from pathlib import Path
from typing import Any, Final

from norms.errors import StoreRefused
from pipelines.files import put_whole
from pipelines.store import Store
from pipelines.store.beside import MANIFEST
from pipelines.store.checksums import table_checksums

FORMAT: Final = 1
ITSELF: Final = "sha256_of_this"
UNMADE: Final = "the backup is not restored; take another one"


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup is.

    Attributes
    ----------
    made_at : str
        UTC, ISO 8601.
    length : int
        Bytes of the backup.
    sha256 : str
        Of these bytes, as ``sha256sum`` and any other tool computes it.
    tables : Mapping of str to str
        Checksum by table.
    log_entries : int
    log_head : str or None
        Hash of the newest entry of its log.
    """

    made_at: str
    length: int
    sha256: str
    tables: Mapping[str, str]
    log_entries: int
    log_head: str | None


def manifest_path(backup: Path) -> Path:
    """Where the manifest of a backup stands: it is moved and renamed together with it."""
    return backup.with_name(backup.name + MANIFEST)


def make_manifest(backup: Path, copy: Store, made_at: str) -> Manifest:
    """Manifest of a backup, from its bytes and from its tables as they are read from it."""
    entries = copy.audit.entries()
    length, digest = _bytes_of(backup)
    return Manifest(
        made_at=made_at,
        length=length,
        sha256=digest,
        tables=table_checksums(copy),
        log_entries=len(entries),
        log_head=entries[-1].hash if entries else None,
    )


def write_manifest(manifest: Manifest, path: Path) -> None:
    """Write a manifest, whole or not at all."""
    put_whole(path, _text(asdict(manifest)).encode())


def read_manifest(backup: Path) -> Manifest:
    """The manifest beside a backup.

    Raises
    ------
    StoreRefused
        ``manifest_missing``, or ``manifest_damaged`` where it is not, letter by letter, as it was
        written.
    """
    path = manifest_path(backup)
    try:
        text = path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise StoreRefused(
            f"{backup}: its manifest {path.name} does not lie beside it, so that nobody can tell "
            "whether these are the bytes that were backed up: put it there, or say that the backup "
            "is to be restored unchecked",
            code="manifest_missing",
        ) from None
    except (OSError, UnicodeDecodeError):
        raise _damaged(path) from None
    try:
        document = json.loads(text)
        manifest = Manifest(**{k: v for k, v in document.items() if k not in (ITSELF, "format")})
        as_written = _text(asdict(manifest))
    except (ValueError, TypeError, AttributeError, RecursionError):
        raise _damaged(path) from None
    if as_written != text:
        raise _damaged(path)
    return manifest


def check_bytes(file: Path, manifest: Manifest, backup: Path) -> None:
    """Refuse a file whose bytes are not those of the manifest.

    Parameters
    ----------
    file : Path
        The backup, or a copy of it.
    manifest : Manifest
    backup : Path
        As the refusal names it.

    Raises
    ------
    StoreRefused
        ``backup_damaged``.
    """
    length, digest = _bytes_of(file)
    if length != manifest.length:
        raise StoreRefused(
            f"{backup}: has {length:,} bytes, and {manifest.length:,} were backed up: {UNMADE}",
            code="backup_damaged",
        )
    if digest != manifest.sha256:
        raise StoreRefused(
            f"{backup}: its bytes are not those that were backed up (SHA-256 {digest[:12]}…, its "
            f"manifest says {manifest.sha256[:12]}…): {UNMADE}",
            code="backup_damaged",
        )


def check_tables(store: Store, tables: Mapping[str, str], named: Path) -> None:
    """Refuse a store whose tables do not hold what their checksums say.

    Raises
    ------
    StoreRefused
        ``backup_damaged``.
    """
    found = table_checksums(store)
    wrong = sorted(name for name in {*found, *tables} if found.get(name) != tables.get(name))
    if wrong:
        raise StoreRefused(
            f"{named}: does not hold what was backed up in {', '.join(wrong)}: {UNMADE}",
            code="backup_damaged",
        )


def _bytes_of(file: Path) -> tuple[int, str]:
    with file.open("rb") as stream:
        digest = file_digest(stream, "sha256").hexdigest()
        return stream.tell(), digest


def _text(fields: Mapping[str, Any]) -> str:
    """The one way to write these fields, so that no letter of a manifest can change unseen."""
    document = {"format": FORMAT, **fields}
    said = json.dumps(document, sort_keys=True, ensure_ascii=False)
    document[ITSELF] = sha256(said.encode()).hexdigest()
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _damaged(path: Path) -> StoreRefused:
    return StoreRefused(
        f"{path}: is not the manifest that was written with the backup: {UNMADE}",
        code="manifest_damaged",
    )
