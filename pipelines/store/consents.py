"""Consent by golfer and purpose: every word is kept, the newest counts."""

from collections import defaultdict
from collections.abc import Sequence

from norms.records.consent import Consent
from pipelines.store.database import Database


class ConsentBook:
    """The consents of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, consents: Sequence[Consent]) -> None:
        """Keep consents; one on the same golfer, purpose and day is replaced."""
        import pyarrow as pa

        columns = ("golfer", "purpose", "given", "decided_on", "guardian")
        table = pa.table({name: [getattr(one, name) for one in consents] for name in columns})
        with self._database.transaction():
            self._database.take_in("add_consents", table)

    def by_golfer(self) -> dict[str, tuple[Consent, ...]]:
        """Every consent by golfer's code; golfers of whom none is recorded are not in it."""
        found: dict[str, list[Consent]] = defaultdict(list)
        for golfer, purpose, given, decided_on, guardian in self._database.rows("consents"):
            found[golfer].append(
                Consent(
                    golfer=golfer,
                    purpose=purpose,
                    given=given,
                    decided_on=decided_on,
                    guardian=guardian,
                )
            )
        return {golfer: tuple(words) for golfer, words in found.items()}
