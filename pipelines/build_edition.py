"""From the swings in a store to a frozen edition of norms."""

from datetime import UTC, datetime

from norms.cohort.edition import build_edition as build
from norms.records import Edition
from pipelines.settings import levels_of
from pipelines.store import Store


def build_edition(store: Store, name: str) -> Edition:
    """Build norms from every swing of a store and keep them under a name.

    Parameters
    ----------
    store : Store
        Open for writing.
    name : str

    Returns
    -------
    Edition

    Raises
    ------
    CohortRefused
        If no swing may enter norms.
    StoreRefused
        If the name is taken by an edition with other numbers.
    """
    edition = build(name, store.swing_pool(), store.golfers(), levels_of(store))
    store.save_edition(edition, datetime.now(UTC))
    return edition
