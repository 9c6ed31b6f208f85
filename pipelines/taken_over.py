"""What a restored store takes over from the one that it replaces: erasures and consents."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from norms.errors import StoreRefused
from norms.records import Golfer
from norms.records.consent import Consent
from pipelines.erased_codes import Digest, erased_codes, was_erased
from pipelines.store import Store, open_store
from pipelines.store.checksums import table_checksums
from pipelines.store.erasure import ErasureReceipt
from pipelines.store.holding import Stamp

UNREADABLE: Final = frozenset({"store_corrupt", "not_a_store"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """What a restored store has to take over from the one that it replaces."""

    golfers: Mapping[str, Golfer]
    consents: tuple[Consent, ...]
    receipts: tuple[ErasureReceipt, ...]
    log: tuple[str, ...]
    erased_codes: tuple[Digest, ...]
    tables: Mapping[str, str]
    stamp: Stamp

    @classmethod
    def of(cls, path: Path, named: Path) -> "Present | None":
        """Of a store that is there and can be read; opened for writing, so that nobody uses it."""
        if not path.exists():
            return None
        try:
            with open_store(named) as store:
                consents = store.consents.by_golfer().values()
                return cls(
                    golfers=store.golfers(),
                    consents=tuple(one for words in consents for one in words),
                    receipts=tuple(store.erasures.receipts()),
                    log=tuple(entry.hash for entry in store.audit.entries()),
                    erased_codes=tuple(erased_codes(store)),
                    tables=table_checksums(store),
                    stamp=store.settled(),
                )
        except StoreRefused as refusal:
            if refusal.code in UNREADABLE:
                return None
            raise


def erased_since(store: Store, present: Present | None) -> list[str]:
    """Golfers of a backup whom the store no longer has because they were erased.

    A golfer may be gone as a mistaken entry as well, and their captures moved to somebody else:
    where every erasure left the digest of its code, that tells them apart.
    """
    if present is None:
        return []
    earlier = {one.receipt for one in store.erasures.receipts()}
    if all(one.receipt in earlier for one in present.receipts):
        return []
    gone = [code for code in store.golfers() if code not in present.golfers]
    if len(present.erased_codes) < len(present.receipts):
        return gone
    return [code for code in gone if was_erased(code, present.erased_codes)]


def take_over_consents(store: Store, present: Present | None) -> int:
    """Keep newer consents, and as a dated no what the newer roster says by its column."""
    if present is None:
        return 0
    golfers = store.golfers()
    known = {one for words in store.consents.by_golfer().values() for one in words}
    newer = [one for one in present.consents if one not in known and one.golfer in golfers]
    store.consents.add(newer)
    withdrawn = [
        Consent(golfer=code, purpose="norms", given=False, decided_on=date.today())
        for code, golfer in store.golfers().items()
        if golfer.consents_norms
        and not golfer.needs_guardian
        and code in present.golfers
        and not present.golfers[code].consents_norms
    ]
    store.consents.add(withdrawn)
    return len(newer) + len(withdrawn)
