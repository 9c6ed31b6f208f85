"""Editions and placements after a golfer was erased; all inside the erasure's transaction."""

import json
from collections.abc import Collection
from typing import Any

from norms.records import Edition
from pipelines.store.database import Database
from pipelines.store.editions import put_evidence, save_numbers


def amend_edition(database: Database, before: Edition, after: Edition) -> None:
    """Put the numbers of an edition in the place of those it had, and evidence that is another."""
    for name in (
        "forget_edition_bands",
        "forget_edition_feature_bands",
        "forget_edition_annexes",
        "forget_edition_annex_arrays",
        "forget_edition_cells",
    ):
        database.rows(name, (after.name,))
    parameters = json.dumps(after.parameters, allow_nan=False)
    database.rows("amend_edition", (after.content_hash, parameters, after.name))
    save_numbers(database, after)
    for kind, document in after.evidence.items():
        if document != before.evidence.get(kind):
            put_evidence(database, after.name, kind, document)


def strip_peers(database: Database, edition: str, cohort_keys: Collection[str]) -> None:
    """Take the peers' curves and ranges out of placements against cells that counted the golfer.

    Where the placed golfer stood, as a percentile with its count, stays.
    """
    kept = database.rows("placements_against", (edition,))
    for number, cohort_key, text in kept:
        if cohort_key in cohort_keys:
            document = _without_peers(json.loads(text))
            database.rows("put_placement", (json.dumps(document, allow_nan=False), number))


def _without_peers(document: dict[str, Any]) -> dict[str, Any]:
    if "curves" in document:
        document["curves"]["peers_cm"] = []
    document.get("whole_curve", {}).pop("band_cm", None)
    for feature in document.get("features", []):
        feature["peers_range"] = dict.fromkeys(feature["peers_range"])
    return document
