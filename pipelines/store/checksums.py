"""What the tables of a store hold, as one number each, whatever the order of their rows."""

from hashlib import sha256
from typing import Final

from pipelines.store.store import Store

ROOM: Final = 1 << 256


def table_checksums(store: Store) -> dict[str, str]:
    """Checksum by table: SHA-256 of every row, summed, as 64 hexadecimal digits.

    A sum is the same in whatever order rows are read, and another where a row is changed, is
    missing or stands there twice.
    """
    checksums = {}
    for (table,) in store._database.rows("stored_tables"):
        rows = store._database.script(f'SELECT * FROM "{table}"')
        total = sum(int.from_bytes(sha256(repr(row).encode()).digest()) for row in rows)
        checksums[table] = f"{total % ROOM:064x}"
    return checksums
