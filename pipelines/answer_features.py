"""Asks a cohort of features alone for what it can answer: bands, partition, patterns."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from norms.cohort.pattern_search import PatternChoices
from norms.errors import CohortRefused
from norms.records import FeaturePartition
from norms.study.feature_cohort import (
    FeatureBands,
    FeaturePatterns,
    feature_bands,
    feature_partition,
    feature_patterns,
    need_curves,
)
from pipelines.agreed_rows import agreed_rows
from pipelines.settings import settings_of
from pipelines.store import Store

ANSWERED: Final = ("bands", "partition", "patterns")
NEED_CURVES: Final = {
    "edition": "an edition",
    "placement": "placing a swing",
    "whole_curve": "a band of whole curves",
    "components": "finding components of curves",
    "along": "following an association along the swing",
}
PARTITION_FACT: Final = "sex"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeatureAnswers:
    """What was asked of a cohort of features alone; None for what was not asked.

    Labels and units are those of its features, by name; ``left_out`` counts swings that were not
    asked, by reason in words.
    """

    labels: Mapping[str, str]
    units: Mapping[str, str]
    left_out: Mapping[str, int]
    bands: FeatureBands | None = None
    partition: tuple[FeaturePartition, ...] | None = None
    patterns: FeaturePatterns | None = None


def answer_features(
    store: Store,
    name: str,
    ask: tuple[str, ...] = ("bands",),
    *,
    club: str | None = None,
    seed: int = 1,
) -> FeatureAnswers:
    """Answer what is asked.

    Parameters
    ----------
    store : Store
    name : str
        Of the cohort.
    ask : tuple of str
        Out of bands, partition (by sex) and patterns.
    club : str or None
        All clubs together where it is None.
    seed : int
        Of the search for patterns.

    Raises
    ------
    StoreRefused
        If the store has no such cohort.
    StudyRefused
        ``no_consent`` where none of its golfers agrees to norms.
    CohortRefused
        ``no_curves`` for what needs curves, ``unknown_question`` for what nobody answers, or with
        too few golfers.
    """
    whole = store.feature_cohort(name)
    frame = agreed_rows(store, whole, "norms", name)
    for question in ask:
        if question in NEED_CURVES:
            need_curves(name, NEED_CURVES[question])
        if question not in ANSWERED:
            raise CohortRefused(
                f"{name}: {question!r} is none of {', '.join(ANSWERED)}", code="unknown_question"
            )
    smallest = settings_of(store).smallest_cell
    return FeatureAnswers(
        labels=dict(zip(frame.feature_names, frame.feature_labels, strict=True)),
        units=dict(zip(frame.feature_names, frame.feature_units, strict=True)),
        left_out={
            why: count for why, count in frame.left_out.items() if whole.left_out.get(why) != count
        },
        bands=feature_bands(frame, club, smallest_cell=smallest) if "bands" in ask else None,
        partition=feature_partition(frame, PARTITION_FACT, club) if "partition" in ask else None,
        patterns=feature_patterns(frame, PatternChoices(seed=seed), club)
        if "patterns" in ask
        else None,
    )
