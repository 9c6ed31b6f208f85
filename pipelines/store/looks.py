"""The register of looks: what was asked of each cohort, and what was declared beforehand."""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime

from norms.records.study import StudyPlan
from norms.records.study_look import Look
from pipelines.store.database import Database

Test = tuple[str, float | None, float | None]
"""A question, its p value, and that adjusted."""


def declare_study(
    database: Database,
    plan: StudyPlan,
    plan_hash: str,
    document: Mapping[str, object],
    at: datetime,
) -> datetime:
    """Write down a plan before its data are looked at; the first declaration stands."""
    text = json.dumps(dict(document), allow_nan=False)
    database.rows(
        "add_study_declaration",
        (plan_hash, plan.cohort, plan.name, plan.question, text, at),
    )
    declared: datetime = database.rows("study_declaration", (plan_hash,))[0][0]
    return declared


def log_look(
    database: Database,
    plan: StudyPlan,
    kind: str,
    hashes: tuple[str, str],
    tests: Sequence[Test] | None,
    at: datetime,
) -> int:
    """Log a look; the same plan on the same data keeps the number that it has."""
    import pyarrow as pa

    key = (plan.cohort, kind, *hashes)
    found = database.rows("find_study_look", key)
    if found:
        number: int = found[0][0]
        return number
    count = None if tests is None else len(tests)
    with database.transaction():
        facts = (plan.cohort, kind, plan.name, plan.question, *hashes, count, at)
        number = database.rows("add_study_look", facts)[0][0]
        if tests:
            questions, raw, adjusted = zip(*tests, strict=True)
            columns = {
                "look": pa.array([number] * len(tests), pa.int32()),
                "place": pa.array(range(len(tests)), pa.int32()),
                "question": pa.array(questions, pa.string()),
                "p_value": pa.array(raw, pa.float64()),
                "adjusted_p": pa.array(adjusted, pa.float64()),
            }
            database.take_in("add_study_tests", pa.table(columns))
    return number


def looks(database: Database, cohort: str) -> dict[int, Look]:
    """Every look at a cohort by its number in the store, in order."""
    rows = database.rows("study_looks", (cohort,))
    found, tests, frames = {}, 0, 0
    for place, (number, kind, study, question, count, looked_at, declared_at) in enumerate(rows):
        found[number] = Look(
            number=place + 1,
            of=len(rows),
            kind=kind,
            study=study,
            question=question,
            tests=count,
            tests_before=tests,
            frames_before=frames,
            looked_at=_words(looked_at),
            declared_at=None if declared_at is None else _words(declared_at),
        )
        tests += count or 0
        frames += kind == "export"
    return found


def tests_of(database: Database, number: int) -> list[Test]:
    """Every test of a look, in order."""
    return [
        (question, p, adjusted) for question, p, adjusted in database.rows("study_tests", (number,))
    ]


def _words(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M UTC")
