"""What a store does for studies: the register of looks, and cohorts of features alone."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from norms.errors import StoreRefused
from norms.records.study import StudyFrame, StudyPlan
from norms.records.study_look import Look
from norms.vocabulary import NODES
from pipelines.store import feature_cohorts, looks
from pipelines.store.arrays import rows_of
from pipelines.store.database import Database


class StudyMethods:
    """The part of a `Store` that studies use."""

    _database: Database

    def node_times(self) -> dict[str, NDArray[np.float64]]:
        """Second of each of the 301 nodes, by swing code."""
        table = self._database.arrow("node_times")
        return dict(
            zip(table["code"].to_pylist(), rows_of(table, "node_times_s", NODES), strict=True)
        )

    def declare_study(
        self, plan: StudyPlan, plan_hash: str, document: Mapping[str, object]
    ) -> datetime:
        """Write down a study's plan before its data are looked at, and return when that was.

        A plan already declared keeps its first declaration.
        """
        now = _now()
        return looks.declare_study(self._database, plan, plan_hash, document, now)

    def log_look(
        self,
        plan: StudyPlan,
        kind: str,
        hashes: tuple[str, str],
        tests: Sequence[looks.Test] | None,
    ) -> Look:
        """Log a look at the plan's cohort, with its tests, and return where it stands.

        The same plan on the same data (``hashes`` of both) is the same look, however often run.
        """
        now = _now()
        number = looks.log_look(self._database, plan, kind, hashes, tests, now)
        return looks.looks(self._database, plan.cohort)[number]

    def study_looks(self, cohort: str) -> list[Look]:
        """Every look at a cohort, in the order of looking."""
        return list(looks.looks(self._database, cohort).values())

    def tests_of_look(self, cohort: str, number: int) -> list[looks.Test]:
        """Every test of the look of that number at a cohort: question, p value, adjusted p.

        Raises
        ------
        StoreRefused
            ``look_unknown``.
        """
        found = list(looks.looks(self._database, cohort))
        if not 1 <= number <= len(found):
            raise StoreRefused(
                f"look {number}: the register has {len(found)} looks at this cohort; name one of "
                "these",
                code="look_unknown",
            )
        return looks.tests_of(self._database, found[number - 1])

    def save_feature_cohort(self, name: str, frame: StudyFrame) -> None:
        """Keep a cohort of features alone under a name, in place of the one that had it."""
        now = _now()
        feature_cohorts.save_feature_cohort(self._database, name, frame, now)

    def feature_cohort(self, name: str) -> StudyFrame:
        """A cohort of features alone.

        Raises
        ------
        StoreRefused
            ``feature_cohort_unknown``.
        """
        return feature_cohorts.feature_cohort(self._database, name)

    def feature_cohort_names(self) -> list[str]:
        """Names of the cohorts of features alone."""
        return feature_cohorts.feature_cohort_names(self._database)


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)
