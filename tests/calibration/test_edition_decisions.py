"""How often comparing and adopting editions err."""

import csv
from pathlib import Path

import numpy as np
import pytest

from norms.cohort.adopt import JUDGED_FEATURES, verify_cell
from norms.cohort.bands import bands_of
from norms.cohort.compare import compare_editions
from norms.records import Cohort, CohortDefinition, CohortNorms, Edition

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results"
DEFINITION = CohortDefinition(key="driver/all", club="driver")
WAVES = np.stack([np.sin(np.pi * k * np.linspace(0, 1, 301) / 2) for k in (1, 2, 3, 4)])
SEEN = (50, 100, 150, 200, 250, 300)


def write(name, rows):
    with (RESULTS / name).open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


class Golfers:
    """Invented golfers with a true movement each; skewed, because curves bend their values."""

    def __init__(self, count, rng):
        self.rng = rng
        self.true = rng.normal(size=(count, 3, 4))
        self.swings = np.minimum(rng.geometric(0.2, count), 100)

    def season(self, chosen):
        """Cohort of chosen golfers, with new swings."""
        swings = self.swings[chosen]
        noise = self.rng.normal(size=(len(chosen), 3, 4)) / np.sqrt(swings)[:, None, None]
        curves = (self.true[chosen] + 0.7 * noise) @ WAVES
        curves += 0.15 * curves**2
        return as_cohort(chosen, swings, curves)


def as_cohort(chosen, swings, curves):
    features = curves[:, :, SEEN].reshape(len(chosen), -1)
    return Cohort(
        definition=DEFINITION,
        golfers=tuple(f"Q{i:05d}" for i in chosen),
        swing_counts=swings,
        curves_cm=curves,
        feature_names=tuple(f"f{i}" for i in range(features.shape[1])),
        features=features,
    )


def edition(name, cohort):
    return Edition(
        name=name,
        cells=(CohortNorms(cohort=cohort, bands=bands_of(cohort)),),
        parameters={},
        content_hash=name,
        attrition={},
    )


def seasons(kind, rng):
    """Two seasons between which nothing moved."""
    golfers = Golfers(130, rng)
    first, second = {
        "others": (np.arange(60), np.arange(60, 130)),
        "others, few against many": (np.arange(30), np.arange(30, 130)),
        "the same golfers": (np.arange(60), np.arange(60)),
        "half of them": (np.arange(60), np.arange(30, 100)),
        "the first and more": (np.arange(60), np.arange(110)),
    }[kind]
    after = golfers.season(second)
    if kind == "the first and more":  # the very same swings of those who were there before
        n = len(first)
        return as_cohort(first, after.swing_counts[:n], after.curves_cm[:n]), after
    return golfers.season(first), after


def test_comparing_seldom_finds_what_is_not_there():
    rows = []
    kinds = (
        "others",
        "others, few against many",
        "the same golfers",
        "half of them",
        "the first and more",
    )
    for number, kind in enumerate(kinds):
        alarms, trials = 0, 400
        for trial in range(trials):
            rng = np.random.default_rng([1, number, trial])
            before, after = seasons(kind, rng)
            found = compare_editions(
                edition("a", before), edition("b", after), rng, relabellings=399
            )
            alarms += bool(found.cells[0].moved)
        rows.append(
            {
                "golfers of the second season": kind,
                "trials": trials,
                "false_alarm_rate": alarms / trials,
            }
        )
    write("compare_false_alarms.csv", rows)
    # 5 % is promised; 400 trials of a true 5 % stay at or below 7.5 % but once in a hundred.
    assert all(row["false_alarm_rate"] <= 0.075 for row in rows)


def features_of(count, rng, shift=0.0, spread=1.0):
    """Nine correlated features, one of them shifted or spread otherwise.

    Normal ones serve for any: the verdict counts golfers between percentiles and so is the same
    for every rising transform of a feature.
    """
    common = rng.normal(size=(count, 1))
    values = 0.6 * common + 0.8 * rng.normal(size=(count, len(JUDGED_FEATURES)))
    values[:, 0] = shift + spread * values[:, 0]
    return values


def features_cohort(prefix, values):
    count = len(values)
    return Cohort(
        definition=DEFINITION,
        golfers=tuple(f"{prefix}{i:05d}" for i in range(count)),
        swing_counts=np.full(count, 3),
        curves_cm=np.zeros((count, 3, 301)),
        feature_names=JUDGED_FEATURES,
        features=values,
    )


def stated_rate(rates, truth):
    return {
        "they hold": rates.false_refusal,
        "one feature half a deviation away": rates.found_shift_half,
        "one feature a whole deviation away": rates.found_shift_one,
        "one feature spread half more": rates.found_spread_half_more,
    }[truth]


def test_adopting_errs_as_often_as_it_says():
    rows, trials = [], 400
    truths = {
        "they hold": (0.0, 1.0),
        "one feature half a deviation away": (0.5, 1.0),
        "one feature a whole deviation away": (1.0, 1.0),
        "one feature spread half more": (0.0, 1.5),
    }
    for there in (60, 120, 500):
        for number, (name, (shift, spread)) in enumerate(truths.items()):
            refused = 0
            for trial in range(trials):
                rng = np.random.default_rng([there, trial, number])
                theirs = features_cohort("D", features_of(there, rng))
                ours = features_cohort("L", features_of(20, rng, shift, spread))
                cell = CohortNorms(cohort=theirs, bands=bands_of(theirs))
                result = verify_cell(cell, ours, rng, draws=2_000)
                refused += result.verdict == "do not accept"
            rows.append(
                {
                    "golfers_there": there,
                    "golfers_here": 20,
                    "truth": name,
                    "trials": trials,
                    "refused": refused / trials,
                    "stated": stated_rate(result.error_rates, name),
                }
            )
    write("adopt_error_rates.csv", rows)
    for row in rows:
        if row["truth"] == "they hold":
            assert row["refused"] <= 0.10 + 0.035  # once in a hundred, of 400 of a true 10 %
        else:
            # One feature off among nine is found at least as often as stated, less chance.
            assert row["refused"] >= row["stated"] - 0.06
