"""Digests of what tables hold: the same for the same rows, in whatever order they stand.

A table's digest is the sum, modulo 2^256, of the SHA-256 of its rows, so that rows that come or go
change it without the others being read again (an incremental multiset hash: Bellare & Micciancio
1997). Rows are hashed as bytes of their values and not by the database's own ``hash``, which
another version of it may compute otherwise.

The rows are hashed under a key of the store's own, which an erasure draws anew: two digests of a
table before and after somebody was added would else tell, of a guessed row, whether it was theirs.
"""

import secrets
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from pipelines.store.database import Database

if TYPE_CHECKING:
    import pyarrow as pa

UNBOUND: Final = frozenset({"audit_log", "table_state", "digest_key", "rewrite_due"})
"""Tables that the log does not bind: itself, what is derived from it, and a note of work to do."""
MODULUS: Final = 1 << 256
BATCH_ROWS: Final = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class TableDigest:
    """How many rows a table holds, and which.

    Attributes
    ----------
    rows : int
    digest : str
        64 hexadecimal digits.
    """

    rows: int
    digest: str

    def changed(self, *, gone: Sequence[bytes], come: Sequence[bytes]) -> "TableDigest":
        """The digest after rows of these digests went and others came."""
        total = (int(self.digest, 16) + _sum(come) - _sum(gone)) % MODULUS
        return TableDigest(rows=self.rows + len(come) - len(gone), digest=f"{total:064x}")


EMPTY: Final = TableDigest(rows=0, digest="0" * 64)


def bound_tables(database: Database) -> list[str]:
    """Every table whose content the log binds, by name."""
    tables = {name for (name,) in database.rows("stored_tables")}
    return sorted(tables - UNBOUND)


def digest_key(database: Database) -> str:
    """Key under which the store's rows are hashed."""
    return str(database.rows("digest_key")[0][0])


def draw_digest_key(database: Database) -> None:
    """Draw the key anew: every digest from before says nothing any more."""
    database.rows("forget_digest_key")
    database.rows("add_digest_key", (secrets.token_hex(32),))


def table_digests(database: Database) -> dict[str, TableDigest]:
    """Digest of every bound table that holds anything, by name; reads the whole store."""
    key = digest_key(database)
    found = {name: digest_of(database, key, name) for name in _tables_with_rows(database)}
    return {name: one for name, one in found.items() if one.rows}


def _tables_with_rows(database: Database) -> list[str]:
    """Bound tables that hold anything: most of a store's tables are empty at first."""
    tables = bound_tables(database)
    asked = ", ".join(f'EXISTS (SELECT 1 FROM "{name}")' for name in tables)
    held = database.script(f"SELECT {asked}")[0] if tables else ()
    return [name for name, holds in zip(tables, held, strict=True) if holds]


def digest_of(database: Database, key: str, table: str) -> TableDigest:
    """Digest of all rows of one table, under a key."""
    rows, total = 0, 0
    for batch in database.batches(f'SELECT * FROM "{table}"', (), BATCH_ROWS):
        found = row_digests(key, table, batch)
        rows += len(found)
        total += _sum(found)
    return TableDigest(rows=rows, digest=f"{total % MODULUS:064x}")


def row_digests(key: str, table: str, batch: "pa.RecordBatch") -> list[bytes]:
    """SHA-256 of every row of a batch: over key, table, names of columns, and the values."""
    head = sha256("\x1f".join([key, table, *batch.schema.names]).encode())
    digests = []
    for row in _row_bytes(batch):
        whole = head.copy()
        whole.update(row)
        digests.append(whole.digest())
    return digests


def _sum(digests: Iterable[bytes]) -> int:
    return sum(int.from_bytes(one, "big") for one in digests)


def _row_bytes(batch: "pa.RecordBatch") -> Iterator[bytes]:
    columns = [_column_bytes(column) for column in batch.columns]
    for parts in zip(*columns, strict=True):
        yield b"".join(parts)


def _column_bytes(column: "pa.Array") -> list[bytes]:
    """Each value as bytes that begin with its kind and length, so that no two rows run together."""
    import pyarrow as pa
    import pyarrow.compute as pc

    kind = column.type
    if pa.types.is_list(kind) or pa.types.is_fixed_size_list(kind):
        if pa.types.is_floating(kind.value_type):
            return _lists_of_numbers(column)
    elif pa.types.is_boolean(kind):
        column = pc.cast(column, pa.int8())
    elif pa.types.is_date32(kind):
        column = pc.cast(column, pa.int32())
    elif pa.types.is_timestamp(kind):
        column = pc.cast(column, pa.int64())
    if pa.types.is_integer(column.type) or pa.types.is_floating(column.type):
        found = _numbers(pc.fill_null(column, 0), len(column))
        if column.null_count:
            there = column.is_valid().to_pylist()
            found = [one if known else b"-" for one, known in zip(found, there, strict=True)]
        return found
    return [_value_bytes(value) for value in column.to_pylist()]


def _lists_of_numbers(column: "pa.Array") -> list[bytes]:
    import pyarrow.compute as pc

    whole = _plain(column.flatten()).tobytes()
    width = column.type.value_type.bit_width // 8
    found, at = [], 0
    for length in pc.list_value_length(column).to_pylist():
        if length is None:
            found.append(b"-")
            continue
        found.append(b"f%d:%b" % (length, whole[at : at + length * width]))
        at += length * width
    return found


def _numbers(values: "pa.Array", rows: int) -> list[bytes]:
    array = _plain(values)
    width, whole = array.itemsize, array.tobytes()
    return [b"n" + whole[at : at + width] for at in range(0, rows * width, width)]


def _plain(values: "pa.Array") -> np.ndarray[Any, Any]:
    """Numbers in one order of bytes, with one NaN of the many there are."""
    array = values.to_numpy(zero_copy_only=False)
    if array.dtype.kind == "f":
        array = np.where(np.isnan(array), np.array(np.nan, array.dtype), array)
    return np.ascontiguousarray(array.astype(array.dtype.newbyteorder("<")))


def _value_bytes(value: object) -> bytes:
    if value is None:
        return b"-"
    if isinstance(value, str):
        said = value.encode()
        return b"s%d:%b" % (len(said), said)
    if isinstance(value, list):
        return b"l%d:%b" % (len(value), b"".join(map(_value_bytes, value)))
    return _value_bytes(repr(value))
