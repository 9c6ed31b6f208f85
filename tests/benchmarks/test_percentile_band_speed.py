"""Percentile bands with intervals against a plain NumPy golfer bootstrap, ratio in the same run."""

import tracemalloc
from datetime import date
from time import perf_counter

import numpy as np
import pytest

from norms.cohort.bands import bands_of
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import call_roll
from norms.records import Cohort, CohortDefinition, Golfer, SwingPool
from norms.statistics.quantiles import quantiles_with_intervals
from norms.vocabulary import BAND_PERCENTS

pytestmark = pytest.mark.benchmark

GOLFERS, VALUES, RESAMPLES = 10_000, 903, 1_000
TIMED_RESAMPLES = 4
ALL = CohortDefinition(key="driver/all", club="driver")


@pytest.fixture(scope="module")
def table():
    return np.random.default_rng(0).normal(size=(GOLFERS, VALUES))


def seconds(work, repeats=1):
    """Fastest of several runs."""
    times = []
    for _ in range(repeats):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def test_bands_are_at_least_300_times_faster_than_1000_golfer_resamples(table):
    rng = np.random.default_rng(1)

    def partitioned():
        return np.percentile(table[rng.integers(0, GOLFERS, GOLFERS)], BAND_PERCENTS, axis=0)

    def sorted_whole():
        ordered = np.sort(table[rng.integers(0, GOLFERS, GOLFERS)], axis=0)
        return ordered[(np.array(BAND_PERCENTS) / 100 * GOLFERS).astype(int)]

    # One resample costs the same as any other: a few are timed, by the quicker of two plain ways,
    # and 1,000 are taken to cost so many times as much.
    each = min(seconds(way, TIMED_RESAMPLES) for way in (partitioned, sorted_whole))
    loop = RESAMPLES * each
    ours = seconds(lambda: quantiles_with_intervals(table, BAND_PERCENTS), 3)
    print(
        f"bands with intervals, 10,000 x 903: {ours:.2f} s, the loop about {loop:.0f} s "
        f"(extrapolated from {TIMED_RESAMPLES} resamples), {loop / ours:.0f} times faster"
    )
    assert loop / ours >= 300


def test_bands_take_at_most_three_sorts(table):
    sort = seconds(lambda: np.sort(table, axis=0), 3)
    ours = seconds(lambda: quantiles_with_intervals(table, BAND_PERCENTS), 3)
    print(f"bands with intervals: {ours / sort:.2f} times one sort")
    assert ours / sort <= 3


def test_bands_of_a_cohort_take_at_most_three_times_the_memory_of_its_curves():
    curves = np.random.default_rng(0).normal(size=(GOLFERS, 3, 301))
    cohort = Cohort(
        definition=ALL,
        golfers=tuple(f"Q{i:05d}" for i in range(GOLFERS)),
        swing_counts=np.ones(GOLFERS),
        curves_cm=curves,
        feature_names=("tempo",),
        features=curves[:, 0, :1],
    )
    tracemalloc.start()
    bands_of(cohort)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(f"bands of 10,000 golfers: {peak / curves.nbytes:.2f} times the curves' memory")
    # Beyond the curves themselves, twice their size: three times in all.
    assert peak / curves.nbytes <= 2


def test_cost_grows_no_faster_than_n_log_n_from_1000_to_100000_swings():
    def pool_of(swings):
        golfers = swings // 10
        codes = [f"Q{i % golfers:05d}" for i in range(swings)]
        people = {code: Golfer(code=code, hand="right") for code in set(codes)}
        pool = SwingPool(
            swings=tuple(f"S{i:06d}" for i in range(swings)),
            golfers=tuple(codes),
            clubs=("driver",) * swings,
            labs=("North bay",) * swings,
            recorded_on=(date(2026, 5, 1),) * swings,
            curves_cm=np.random.default_rng(0).normal(size=(swings, 3, 301)).astype(np.float64),
            feature_names=("tempo",),
            features=np.ones((swings, 1)),
        )
        return pool, people

    def build(pool, people):
        return bands_of(members(call_roll(pool, people, DEFAULT_LEVELS), ALL)[0])

    small, large = pool_of(1_000), pool_of(100_000)
    few, many = seconds(lambda: build(*small), 9), seconds(lambda: build(*large), 3)
    growth = 100 * np.log(100_000) / np.log(1_000)
    print(f"cohort and bands, 1,000 to 100,000 swings: {many / few:.0f} times the time")
    # Half as much again leaves room for the cache that 1,000 swings still fit into.
    assert many / few <= 1.5 * growth
