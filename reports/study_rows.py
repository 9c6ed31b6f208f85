"""Studies, and cohorts of features alone, as plain rows for a terminal."""

from collections.abc import Mapping, Sequence
from typing import Final, get_args

import numpy as np

from norms.records import FeaturePartition
from norms.records.study_answer import Study
from norms.records.study_look import Look
from norms.study.feature_cohort import FeatureBands, FeaturePatterns
from norms.swing.catalogue import FeatureUnit
from norms.units import cm_to
from reports.quantities import DASH, check_unit, number, plural, unit_words
from reports.study_words import SpeedUnit, effect_numbers, more_words, p_words, step_of
from reports.tables import Rows

CATALOGUE_UNITS: Final[dict[str, FeatureUnit]] = {kind: kind for kind in get_args(FeatureUnit)}
LENGTHS: Final = ("cm", "cm_s")


def study_table(study: Study, *, unit: str = "in", speed_unit: SpeedUnit = "mph") -> Rows:
    """Every feature with both of its effects and their adjusted p values."""
    rows: Rows = [["what", "within a golfer", "adjusted p", "between golfers", "adjusted p"]]
    for model in study.models:
        step = step_of(model.unit, unit)
        row = [more_words(model, unit) + (" *" if model.declared else "")]
        for effect in (model.within, model.between):
            words = effect_numbers(effect, step, speed_unit)
            row += [words or f"cannot be told: {effect.reason}", p_words(effect.adjusted_p)]
        rows.append(row)
    return rows


def feature_bands_table(
    bands: FeatureBands, labels: Mapping[str, str], *, unit: str = "in"
) -> Rows:
    """Features with their counts and percentiles, lengths in the reader's unit."""
    check_unit(unit)
    heads = [f"{percent:g} %" for percent in bands.percents]
    rows: Rows = [["feature", "unit", "golfers", *heads]]
    for column, name in enumerate(bands.feature_names):
        kind = bands.feature_units[column]
        ends = zip(bands.value[:, column], bands.low[:, column], bands.high[:, column], strict=True)
        values = [
            DASH
            if np.isnan(one[0])
            else "{} ({}–{})".format(*(_shown(end, kind, unit) for end in one))
            for one in ends
        ]
        golfers = f"{bands.golfers[column]:,}"
        rows.append([labels[name], _unit_shown(kind, unit), golfers, *values])
    return rows


def _shown(value: float, kind: str, unit: str) -> str:
    return number(cm_to(value, unit) if kind in LENGTHS else value, 2)


def _unit_shown(kind: str, unit: str) -> str:
    """Unit as shown; a word of another table, which the catalogue does not have, as it is."""
    return unit_words(CATALOGUE_UNITS[kind], unit) if kind in CATALOGUE_UNITS else kind


def feature_partition_table(
    answers: Sequence[FeaturePartition],
    labels: Mapping[str, str],
    units: Mapping[str, str],
    *,
    unit: str = "in",
) -> Rows:
    """Whether each feature needs norms of its own for two groups, with the evidence."""
    check_unit(unit)
    words = {"own": "own norms", "shared": "may be shared", "undecided": "undecided"}
    rows: Rows = [["feature", "unit", "answer", "golfers", "means", "SDs", "adjusted p of means"]]
    for one in answers:
        kind = units[one.feature]
        rows.append(
            [
                labels[one.feature],
                _unit_shown(kind, unit),
                words[one.verdict],
                f"{one.golfers[0]} and {one.golfers[1]}",
                " and ".join(_shown(mean, kind, unit) for mean in one.means),
                " and ".join(_shown(sd, kind, unit) for sd in one.sds),
                p_words(one.mean_p),
            ]
        )
    return rows


def looks_table(looks: Sequence[Look]) -> Rows:
    """Every look at a cohort, in the order of looking."""
    kinds = {"study": "study", "export": "frame taken out"}
    rows: Rows = [["look", "what", "study", "question", "tests", "looked at", "declared"]]
    for one in looks:
        rows.append(
            [
                f"{one.number} of {one.of}",
                kinds[one.kind],
                one.study,
                one.question,
                "not known" if one.tests is None else f"{one.tests:,}",
                one.looked_at,
                one.declared_at or "not declared",
            ]
        )
    return rows


def tests_table(tests: Sequence[tuple[str, float | None, float | None]]) -> Rows:
    """Every test of one look: what was asked, its p value, and that adjusted for the others."""
    rows: Rows = [["question", "p", "adjusted p"]]
    return rows + [[question, p_words(p), p_words(adjusted)] for question, p, adjusted in tests]


def patterns_sentence(patterns: FeaturePatterns) -> str:
    """How many patterns golfers of a cohort of features fall into, and why so many."""
    who = plural(len(patterns.golfers), "golfer")
    if patterns.patterns == 1:
        return f"{who}. {patterns.reason}"
    sizes = np.bincount(patterns.memberships.argmax(axis=1), minlength=patterns.patterns)
    return f"{who}, of whom {', '.join(f'{size:,}' for size in sizes)}. {patterns.reason}"
