"""Cohorts of features alone: frames without curves, written and read back."""

import json
from datetime import datetime
from typing import Final

import numpy as np

from norms.errors import StoreRefused
from norms.records.study import StudyFrame
from pipelines.store.database import Database

_WORDS: Final = (
    "swings", "golfers", "clubs", "labs", "feature_names", "feature_units", "feature_labels",
)  # fmt: skip
_SPEEDS: Final = ("ball_speed_mps", "club_speed_mps")


def save_feature_cohort(database: Database, name: str, frame: StudyFrame, at: datetime) -> None:
    """Keep a frame under a name, in place of the one that had it."""
    import pyarrow as pa

    document = {word: list(getattr(frame, word)) for word in _WORDS}
    text = json.dumps({**document, "left_out": dict(frame.left_out)}, allow_nan=False)
    columns = {f"speed {word}": getattr(frame, word) for word in _SPEEDS}
    columns |= {f"fact {fact}": values for fact, values in frame.golfer_facts.items()}
    columns |= {
        f"feature {feature}": frame.features[:, place]
        for place, feature in enumerate(frame.feature_names)
    }
    table = pa.table(
        {
            "cohort": [name] * len(columns),
            "name": list(columns),
            "values": pa.array([v.tolist() for v in columns.values()], pa.list_(pa.float64())),
        }
    )
    with database.transaction():
        database.rows("forget_feature_cohort", (name,))
        database.rows("forget_feature_cohort_columns", (name,))
        database.rows("add_feature_cohort", (name, text, at))
        database.take_in("add_feature_cohort_columns", table)


def feature_cohort(database: Database, name: str) -> StudyFrame:
    """A frame by its name."""
    found = database.rows("feature_cohort", (name,))
    if not found:
        known = ", ".join(feature_cohort_names(database)) or "none"
        raise StoreRefused(
            f"feature cohort {name!r}: is not in the store; there are: {known}",
            code="feature_cohort_unknown",
        )
    document = json.loads(found[0][0])
    columns = {
        column: np.array(values, dtype=np.float64)
        for column, values in database.rows("feature_cohort_columns", (name,))
    }
    features = [columns[f"feature {feature}"] for feature in document["feature_names"]]
    return StudyFrame(
        swings=tuple(document["swings"]),
        golfers=tuple(document["golfers"]),
        clubs=tuple(document["clubs"]),
        labs=tuple(document["labs"]),
        ball_speed_mps=columns["speed ball_speed_mps"],
        club_speed_mps=columns["speed club_speed_mps"],
        feature_names=tuple(document["feature_names"]),
        feature_units=tuple(document["feature_units"]),
        feature_labels=tuple(document["feature_labels"]),
        golfer_facts={
            column.removeprefix("fact "): values
            for column, values in sorted(columns.items())
            if column.startswith("fact ")
        },
        features=np.array(features).reshape(len(features), len(document["swings"])).T,
        left_out=document["left_out"],
    )


def feature_cohort_names(database: Database) -> list[str]:
    """Names of the cohorts of features alone."""
    return [name for (name,) in database.rows("feature_cohort_names")]
