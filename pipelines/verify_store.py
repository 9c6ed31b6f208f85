"""Whether a store holds together: its log, and every frozen edition against its hash."""

from norms.cohort.edition import verify_edition
from norms.errors import StoreRefused
from pipelines.audit import refuse_broken_log
from pipelines.store import Store


def verify_store(store: Store) -> None:
    """Refuse a store whose log or editions do not hold together.

    Raises
    ------
    StoreRefused
        ``log_broken`` or ``edition_damaged``.
    """
    refuse_broken_log(store)
    for name in store.edition_names():
        if not verify_edition(store.edition(name)):
            raise StoreRefused(
                f"{store.path}: edition {name} does not hold the numbers it was frozen with: "
                "restore an earlier backup",
                code="edition_damaged",
            )
