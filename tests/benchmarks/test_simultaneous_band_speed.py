"""Whole-curve bands against a plain NumPy bootstrap loop of golfers, ratio in the same run."""

from time import perf_counter

import numpy as np
import pytest

from norms.cohort.simultaneous_bands import leave_one_out_maxima
from norms.statistics.resampling import bootstrap_band_factor, resample_counts

pytestmark = pytest.mark.benchmark

GOLFERS = 10_000
RESAMPLES = 1_000


@pytest.fixture(scope="module")
def curves():
    steps = np.random.default_rng(0).normal(size=(GOLFERS, 3, 301))
    return steps.cumsum(axis=2) / 10


def plain_resample(table, rng):
    sample = table[rng.integers(0, len(table), len(table))]
    return (np.abs(table - sample.mean(axis=0)) / sample.std(axis=0)).max(axis=1)


def seconds(work, repeats=1):
    start = perf_counter()
    for _ in range(repeats):
        work()
    return (perf_counter() - start) / repeats


def test_bootstrapped_band_is_at_least_30_times_faster_than_a_plain_loop(curves):
    table = curves.reshape(GOLFERS, -1)
    rng = np.random.default_rng(1)
    loop = RESAMPLES * seconds(lambda: plain_resample(table, rng), repeats=5)
    ours = seconds(
        lambda: bootstrap_band_factor(table, resample_counts(GOLFERS, RESAMPLES, rng), 0.9)
    )
    print(f"bootstrapped band, 10,000 x 903, 1,000 resamples: {loop / ours:.0f} times faster")
    assert loop / ours >= 30


def test_leave_one_out_band_is_at_least_30_times_faster_than_a_plain_loop(curves):
    table = curves.reshape(GOLFERS, -1)
    rng = np.random.default_rng(1)
    loop = RESAMPLES * seconds(lambda: plain_resample(table, rng), repeats=5)
    ours = seconds(lambda: leave_one_out_maxima(curves, 0.1), repeats=3)
    print(f"leave-one-out band, 10,000 x 903: {loop / ours:.0f} times faster")
    assert loop / ours >= 30


def test_cost_grows_no_faster_than_n_log_n(curves):
    small, large = curves[:1_000], curves
    few = seconds(lambda: leave_one_out_maxima(small, 0.1), repeats=10)
    many = seconds(lambda: leave_one_out_maxima(large, 0.1), repeats=3)
    growth = 10 * np.log(10_000) / np.log(1_000)
    print(f"leave-one-out band, 1,000 to 10,000 golfers: {many / few:.1f} times the time")
    # Twice n log n leaves room for the cache that 1,000 golfers still fit into.
    assert many / few <= 2 * growth
