"""How an output of this program is told from a file that is somebody's work.

Every output says what it is: a page and a PDF by the program named in them, JSON by its first key,
Parquet by a note in its schema, a table in CSV (which has no room for a note) by its header, a
draft in TOML by a first line with the fingerprint of the rest, which no longer fits once a person
has edited it.
"""

import csv
import hashlib
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

PROGRAM: Final = "norms"
JSON_KEY: Final = "written_by"
PARQUET_NOTE: Final = b"written_by"
EDITION_SCHEMA: Final = re.compile(rb'\{\s*"schema":\s*\{\s*"name":\s*"edition"')
_HEAD: Final = 4096
_LONGEST_TOML: Final = 4_000_000
_PAGE: Final = re.compile(rb'<!DOCTYPE html>.*?<meta name="generator" content="norms">', re.DOTALL)
_SEAL: Final = re.compile(r"# Drafted by norms, and not edited since: ([0-9a-f]{64})\n")
CSV_HEADS: Final = (
    "golfer,club,recorded_on,swings,edition,cohort,feature,unit,value,standard_error,peers,",
    "feature,unit,together,declared,part,",
    "feature,label,unit,declared,golfers,swings,",
    "kind,part,axis,node,",
    "column,unit,meaning\n",
)
"""How the tables begin that this program writes; no table that it reads begins so."""
_FRAME: Final = re.compile(rb"golfer,lab,club,ball_speed_mps,club_speed_mps,.*_within,.*_between")
CAPTURE_SUFFIXES: Final = (".c3d", ".bvh", ".trc", ".mot")
TABLE_SUFFIXES: Final = (".csv", ".tsv", ".parquet", ".xlsx", ".xls", ".ods")
KEY_COLUMNS: Final = frozenset({"golfer", "swing", "date", "club", "time"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kind:
    """A kind of output.

    Attributes
    ----------
    words : str
        For a refusal: "a page written by this program".
    is_one : callable
        Whether a file is one.
    """

    words: str
    is_one: Callable[[Path], bool]


def kind_of(path: Path) -> Kind | None:
    """Which output of this program a file is, as it stands there now; None where it is none."""
    return next((kind for kind in KINDS if kind.is_one(path)), None)


def is_database(path: Path) -> bool:
    """Whether a file is a store, a backup of one or any other DuckDB file, whatever its name."""
    return _head(path)[8:12] == b"DUCK"


def source_words(path: Path) -> str | None:
    """What a file is that a person or a lab made, and that is never written over; None else."""
    head = _head(path)
    suffix = path.suffix.lower()
    is_c3d = head[:1] < b" " and head[1:2] == b"\x50"  # a small number, then its key
    if suffix in CAPTURE_SUFFIXES or is_c3d or head.startswith(b"HIERARCHY"):
        return "a capture"
    if suffix in TABLE_SUFFIXES or head.startswith(b"PAR1") or _has_key_columns(head):
        return "a table that this program did not write"
    if suffix == ".toml" or _reads_as_toml(path, head):
        return "a file in TOML that a person wrote or edited"
    if EDITION_SCHEMA.match(head):
        return "an exported edition"
    return None


def sealed(text: str) -> str:
    """A draft in TOML under a first line by which it is known until somebody edits it."""
    return f"# Drafted by norms, and not edited since: {_fingerprint(text)}\n{text}"


def _fingerprint(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _head(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(_HEAD)
    except OSError:
        return b""


def _is_page(path: Path) -> bool:
    return _PAGE.match(_head(path)) is not None


def _is_json(path: Path) -> bool:
    return _head(path).startswith(f'{{\n "{JSON_KEY}": "{PROGRAM}"'.encode())


def _is_pdf(path: Path) -> bool:
    return _head(path).startswith(b"%PDF") and b"/Creator (norms)" in path.read_bytes()


def _is_table(path: Path) -> bool:
    head = _head(path)
    first = head.partition(b"\n")[0]
    return head.startswith(tuple(one.encode() for one in CSV_HEADS)) or bool(_FRAME.match(first))


def _is_parquet(path: Path) -> bool:
    if not _head(path).startswith(b"PAR1"):
        return False
    import pyarrow as pa
    from pyarrow import parquet

    try:
        notes = parquet.read_schema(path).metadata or {}
    except (pa.ArrowException, OSError):
        return False
    return bool(notes.get(PARQUET_NOTE) == PROGRAM.encode())


def _is_draft(path: Path) -> bool:
    if not _head(path).startswith(b"# Drafted by norms"):
        return False
    try:
        text = path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError):
        return False
    seal = _SEAL.match(text)
    return seal is not None and _fingerprint(text[seal.end() :]) == seal[1]


def _has_key_columns(head: bytes) -> bool:
    """Whether the first line reads like that of a roster, of handicaps, consents or speeds."""
    first = head.decode("utf-8", errors="replace").lstrip("\ufeff\r\n").partition("\n")[0]
    for separator in ",;\t":
        try:
            names = next(csv.reader([first.strip().lower()], delimiter=separator), [])
        except csv.Error:
            continue
        if len(names) > 1 and KEY_COLUMNS & {name.strip() for name in names}:
            return True
    return False


def _reads_as_toml(path: Path, head: bytes) -> bool:
    if head.lstrip()[:1] in (b"", b"<", b"{") or b"\0" in head:
        return False
    try:
        if path.stat().st_size > _LONGEST_TOML:
            return False
        return bool(tomllib.loads(path.read_bytes().decode("utf-8-sig")))
    except (OSError, ValueError, RecursionError):
        return False


_OURS: Final = "written by this program"
PAGE: Final = Kind(words=f"a page {_OURS}", is_one=_is_page)
DOCUMENT: Final = Kind(words=f"JSON {_OURS}", is_one=_is_json)
PDF: Final = Kind(words=f"a PDF {_OURS}", is_one=_is_pdf)
TABLE: Final = Kind(words=f"a table in CSV {_OURS}", is_one=_is_table)
PARQUET: Final = Kind(words=f"a table in Parquet {_OURS}", is_one=_is_parquet)
DRAFT: Final = Kind(words="a draft in TOML that nobody has edited", is_one=_is_draft)
KINDS: Final = (PAGE, DOCUMENT, PDF, TABLE, PARQUET, DRAFT)
