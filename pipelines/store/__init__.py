"""The only door to the database: takes and returns records."""

from pipelines.store.opening import open_store
from pipelines.store.store import Store

__all__ = ["Store", "open_store"]
