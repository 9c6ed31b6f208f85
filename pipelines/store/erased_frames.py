"""Cohorts of features alone after a golfer was erased: their rows stand side by side in columns."""

import json
from typing import Any

from pipelines.store.database import Database

ROW_WORDS = ("swings", "golfers", "clubs", "labs")
"""Lists of the document with an entry for each row."""


def erase_from_frames(database: Database, golfer: str) -> int:
    """Take a golfer's rows out of every cohort of features; inside a transaction."""
    erased = 0
    for name, text in database.rows("feature_cohort_documents"):
        document = json.loads(text)
        keep = [code != golfer for code in document["golfers"]]
        if all(keep):
            continue
        erased += keep.count(False)
        for word in ROW_WORDS:
            document[word] = _kept(document[word], keep)
        columns = database.rows("feature_cohort_columns", (name,))
        database.rows("put_feature_cohort", (json.dumps(document, allow_nan=False), name))
        database.rows("forget_feature_cohort_columns", (name,))
        for column, values in columns:
            database.rows("add_feature_cohort_column", (name, column, _kept(values, keep)))
    return erased


def _kept(entries: list[Any], keep: list[bool]) -> list[Any]:
    return [entry for entry, kept in zip(entries, keep, strict=True) if kept]
