"""From the swings in a store to a frozen edition of norms."""

from datetime import UTC, datetime

from norms.cohort.edition import build_edition as build
from norms.records import Edition
from pipelines.settings import settings_of
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
    settings = settings_of(store)
    edition = build(
        name,
        store.swing_pool(),
        store.golfers(),
        settings.levels,
        smallest_cell=settings.smallest_cell,
    )
    store.save_edition(edition, datetime.now(UTC))
    return edition
