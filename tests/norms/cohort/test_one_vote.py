"""One golfer, one vote: nobody moves a band by swinging more often."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.cohort.bands import bands_of
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import call_roll
from norms.records import CohortDefinition
from norms.statistics.quantiles import order_statistic_ranks, quantiles_with_intervals

ALL = CohortDefinition(key="driver/all", club="driver")
TABLES = ("curve_cm", "curve_low_cm", "curve_high_cm", "feature", "feature_low", "feature_high")


def bands(pool, people):
    return bands_of(members(call_roll(pool, people, DEFAULT_LEVELS), ALL)[0])


def test_a_golfer_with_200_swings_moves_no_band(pool_of, golfer, rearranged):
    people = {f"Q{i:04d}": golfer(f"Q{i:04d}") for i in range(60)}
    pool = pool_of(dict.fromkeys(people, 4))
    # The last golfer's four swings, fifty times over.
    order = np.r_[np.arange(len(pool.swings)), np.tile(np.arange(236, 240), 49)]
    before, after = bands(pool, people), bands(rearranged(pool, order), people)
    assert (before.swings, after.swings) == (240, 436)
    for table in TABLES:
        np.testing.assert_allclose(getattr(after, table), getattr(before, table), atol=1e-12)


def test_the_same_swings_counted_as_votes_would_move_it(pool_of, golfer, rearranged):
    people = {f"Q{i:04d}": golfer(f"Q{i:04d}") for i in range(60)}
    pool = pool_of(dict.fromkeys(people, 4))
    far = replace(pool, features=pool.features + np.where(np.arange(240) >= 236, 9.0, 0.0)[:, None])
    order = np.r_[np.arange(240), np.tile(np.arange(236, 240), 49)]
    swings = rearranged(far, order).features[:, 0]
    assert np.percentile(swings, 75) > bands(far, people).feature[4, 0] + 3


@pytest.mark.parametrize("where", [-1e6, 1e6])
@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 1000))
def test_whatever_one_golfer_does_a_limit_moves_by_one_rank_at_most(where, seed):
    values = np.random.default_rng(seed).normal(size=(60, 1))
    changed = values.copy()
    changed[0] = where
    percents = (5, 50, 95)
    table = quantiles_with_intervals(changed, percents)
    ordered = np.sort(values[:, 0])
    for row, percent in enumerate(percents):
        low, high = order_statistic_ranks(60, percent / 100)
        for rank, limit in ((low, table.low[row, 0]), (high, table.high[row, 0])):
            if abs(limit) < 1e6:
                assert ordered[max(rank - 2, 0)] <= limit <= ordered[min(rank, 59)]
