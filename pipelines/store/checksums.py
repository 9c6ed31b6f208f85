"""What the tables of a store hold, as one number each, to compare two stores by."""

from typing import Final

from pipelines.store.digests import digest_of
from pipelines.store.store import Store

NO_KEY: Final = ""
"""Stores of any version are compared, and by whoever has both."""


def table_checksums(store: Store) -> dict[str, str]:
    """Digest by table, whatever the order of its rows; the key of the store's log plays no part."""
    database = store._database
    return {
        table: digest_of(database, NO_KEY, table).digest
        for (table,) in database.rows("stored_tables")
    }
