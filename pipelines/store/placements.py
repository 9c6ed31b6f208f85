"""Placements that a store keeps: against which edition, and by which standard they were judged."""

import json
from typing import Any

from norms.records import Placement
from norms.records.standard import GolferVerdict, Standard
from norms.standards.document import verdict_document
from pipelines.store.database import Database


class PlacementShelf:
    """The placements of a store and the verdicts on them."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, placement: Placement, document: dict[str, object]) -> None:
        """Keep the JSON of a placement with the hash of the edition it was held against."""
        label = placement.swing.label
        self._database.rows(
            "add_placement",
            (
                label.swing,
                label.golfer,
                placement.edition,
                placement.edition_hash,
                placement.cohort_key,
                json.dumps(document, allow_nan=False),
            ),
        )

    def of(self, golfer: str) -> list[dict[str, Any]]:
        """Every placement kept of one golfer, oldest first, as plain values."""
        names = ("swing", "edition", "edition_hash", "cohort")
        return [
            dict(zip(names, fields, strict=True)) | {"document": json.loads(document)}
            for *fields, document in self._database.rows("placements", (golfer,))
        ]

    def keep_verdict(
        self, swing: str, standard: Standard, standard_hash: str, verdict: GolferVerdict
    ) -> None:
        """Keep one placed swing's verdict with the edition and the standard it was judged by."""
        self._database.rows(
            "add_judged_placement",
            (
                swing,
                verdict.golfer,
                standard.edition,
                standard.edition_hash,
                standard.name,
                standard_hash,
                json.dumps(verdict_document(verdict), allow_nan=False),
            ),
        )

    def verdicts(self, golfer: str) -> list[dict[str, Any]]:
        """Every verdict on a placed swing of one golfer, oldest first, as plain values."""
        names = ("swing", "edition", "edition_hash", "standard", "standard_hash")
        return [
            dict(zip(names, fields, strict=True)) | {"verdict": json.loads(payload)}
            for *fields, payload in self._database.rows("judged_placements", (golfer,))
        ]
