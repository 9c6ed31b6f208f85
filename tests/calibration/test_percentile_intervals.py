"""Intervals of percentiles under unequal swings per golfer and skew, at every count that shows one.

The truth is the percentile of golfers' observed means, which is what a band is a band of.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from norms.statistics.quantiles import quantiles_with_intervals
from norms.statistics.weighted_quantiles import weighted_percentiles
from norms.vocabulary import BAND_PERCENTS

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results"
PERCENTS = (2.5, *BAND_PERCENTS, 97.5)
TRIALS = 20_000
BLOCK = 500


def golfer_means(shape, kind, rng):
    """Means of golfers with 1 to about 40 swings each, most of them few."""
    swings = np.minimum(rng.geometric(0.15, shape), 200)
    if kind == "normal":
        return rng.normal(size=shape) + rng.normal(size=shape) / np.sqrt(swings)
    if kind == "skewed":
        # Sum of the golfer's swings: each swing gamma about a gamma level.
        return rng.gamma(2.0, 1.0, shape) + rng.gamma(0.5 * swings, 1.0 / swings)
    return np.exp(rng.normal(0, 0.9, shape)) + rng.normal(size=shape) / np.sqrt(swings)


def write(name, rows):
    with (RESULTS / name).open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_intervals_cover_wherever_a_limit_is_shown():
    rng = np.random.default_rng(20261125)
    rows = []
    for kind in ("normal", "skewed", "long tail"):
        truth = np.percentile(golfer_means(4_000_000, kind, rng), PERCENTS)[:, None]
        for golfers in (30, 60, 120, 500):
            covered, shown = np.zeros(len(PERCENTS)), np.zeros(len(PERCENTS))
            for _ in range(TRIALS // BLOCK):
                table = quantiles_with_intervals(
                    golfer_means((golfers, BLOCK), kind, rng), PERCENTS, 0.90
                )
                covered += ((table.low <= truth) & (truth <= table.high)).sum(axis=1)
                shown += (~np.isnan(table.value)).sum(axis=1)
            for percent, inside, count in zip(PERCENTS, covered, shown, strict=True):
                rows.append(
                    {
                        "distribution": kind,
                        "golfers": golfers,
                        "percentile": percent,
                        "trials": TRIALS,
                        "shown": int(count),
                        "coverage": round(inside / count, 4) if count else "",
                    }
                )
    write("percentile_intervals.csv", rows)
    low = [row for row in rows if row["shown"] and row["coverage"] < 0.88]
    assert not low
    assert {row["shown"] for row in rows} == {0, TRIALS}
    # Every count shows something, 500 golfers everything.
    assert all(row["shown"] for row in rows if row["golfers"] == 500)


def test_intervals_of_weighted_percentiles_cover():
    rng = np.random.default_rng(20261126)
    rows = []
    for kind in ("normal", "skewed"):
        for golfers, heavy in ((60, 3.0), (120, 3.0), (500, 3.0), (120, 8.0)):
            # A tenth of the golfers are of a kind that weighs `heavy` times as much and differs.
            few = np.arange(golfers) < golfers // 10
            weights = np.where(few, heavy, 1.0)
            share = weights[few].sum() / weights.sum()
            big = golfer_means(2_000_000, kind, rng)
            big[: int(share * big.size)] += 1.0
            percents = (10.0, 50.0, 90.0)
            truth = np.percentile(big, percents)[:, None]
            covered, shown, trials = np.zeros(3), np.zeros(3), 4_000
            for _ in range(trials // BLOCK):
                values = golfer_means((golfers, BLOCK), kind, rng) + few[:, None]
                table = weighted_percentiles(values, weights, percents, 0.90)
                covered += ((table.low <= truth) & (truth <= table.high)).sum(axis=1)
                shown += (~np.isnan(table.value)).sum(axis=1)
            effect = golfers * (weights**2).sum() / weights.sum() ** 2
            for percent, inside, count in zip(percents, covered, shown, strict=True):
                rows.append(
                    {
                        "distribution": kind,
                        "golfers": golfers,
                        "design_effect": round(float(effect), 2),
                        "percentile": percent,
                        "trials": trials,
                        "shown": int(count),
                        "coverage": round(inside / count, 4) if count else "",
                    }
                )
    write("weighted_percentile_intervals.csv", rows)
    assert not [row for row in rows if row["shown"] and row["coverage"] < 0.88]
