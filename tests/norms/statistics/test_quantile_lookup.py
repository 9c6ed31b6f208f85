"""Reading a share off published quantiles: by hand, as laws, and how often the interval holds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from norms.statistics.quantile_lookup import QuantileLookup
from norms.statistics.quantiles import quantiles_with_intervals

PERCENTS = np.array([5.0, 10.0, 25.0, 50.0, 75.0, 90.0, 95.0])
THREE = QuantileLookup([0.25, 0.5, 0.75], [1.0, 2.0, 3.0], [0.6, 1.6, 2.6], [1.4, 2.4, 3.4])


def published(sample):
    """What a sample publishes of itself, only what its size supports."""
    table = quantiles_with_intervals(np.asarray(sample)[:, None], PERCENTS)
    shown = np.isfinite(table.value[:, 0])
    columns = (one[shown, 0] for one in table)
    return QuantileLookup(PERCENTS[shown] / 100.0, *columns)


def test_a_published_quantile_has_its_own_share():
    assert [THREE.share(x) for x in (1.0, 2.0, 3.0)] == pytest.approx([0.25, 0.5, 0.75])
    assert THREE.share(1.5) == pytest.approx(0.375)  # evenly spaced quantiles: a straight line


def test_limits_are_read_off_the_published_limits_and_widened_outward():
    # At 2.0: upper limits 1.4 and 2.4 of the quantiles 0.25 and 0.5 give 0.25 + 0.25 * 0.6 = 0.40,
    # a quarter of the way toward 0.25: 0.3625. Lower limits 1.6 and 2.6 of 0.5 and 0.75 give 0.60,
    # a quarter of the way toward 0.75: 0.6375.
    assert THREE.interval(2.0) == pytest.approx((0.3625, 0.6375))


def test_beyond_the_outermost_only_that_is_known():
    assert THREE.below(0.9)
    assert not THREE.below(1.0)
    assert THREE.above(3.1)
    assert not THREE.above(3.0)
    assert THREE.share(-100.0) == 0.25
    assert THREE.interval(-100.0) == (0.0, 0.25)
    assert THREE.interval(100.0) == (0.75, 1.0)
    # Just inside, the outermost limits still do not bound the share from the outer side.
    assert THREE.interval(1.1)[0] == 0.0
    assert THREE.interval(2.9)[1] == 1.0


def test_the_reach_of_a_value_runs_open_where_nothing_is_published():
    assert THREE.reach(2.0, 0.5) == pytest.approx((0.375, 0.625))
    assert THREE.reach(1.2, 0.5)[0] == 0.0
    assert THREE.reach(2.8, 0.5)[1] == 1.0


def test_a_lone_median_tells_the_side_alone():
    lone = QuantileLookup([0.5], [2.0], [1.0], [3.0])
    assert (lone.share(1.5), lone.below(1.5)) == (0.5, True)
    assert lone.interval(1.5) == (0.0, 1.0)
    assert lone.interval(0.5) == (0.0, 0.5)
    assert lone.interval(3.5) == (0.5, 1.0)


def test_equal_quantiles_share_a_middle_and_wide_limits():
    tied = QuantileLookup([0.25, 0.5, 0.75], [1.0, 1.0, 2.0], [1.0, 1.0, 1.5], [1.0, 1.5, 3.0])
    assert tied.share(1.0) == pytest.approx(0.375)
    low, high = tied.interval(1.0)
    assert low == 0.0
    assert high >= 0.5


@pytest.mark.parametrize(
    "wrong",
    [
        ([], [], [], []),
        ([0.2, 0.5], [1.0], [1.0], [1.0]),
        ([0.2, 0.5], [2.0, 1.0], [1.0, 1.0], [2.0, 2.0]),
        ([0.2, 0.5], [1.0, 2.0], [1.0, 0.5], [2.0, 2.0]),
    ],
)
def test_what_is_no_set_of_quantiles_is_refused(wrong):
    with pytest.raises(ValueError, match="quantiles"):
        QuantileLookup(*wrong)


@given(
    seed=st.integers(0, 2**32 - 1),
    golfers=st.integers(5, 90),
    decimals=st.integers(0, 3),
    values=st.tuples(st.floats(-4, 4), st.floats(-4, 4)),
)
def test_a_share_lies_in_its_interval_and_rises_with_the_value(seed, golfers, decimals, values):
    lookup = published(np.random.default_rng(seed).standard_normal(golfers).round(decimals))
    small, large = sorted(values)
    for value in values:
        low, high = lookup.interval(value)
        assert 0.0 <= low <= lookup.share(value) <= high <= 1.0
        assert lookup.outermost[0] <= lookup.share(value) <= lookup.outermost[1]
    assert lookup.share(small) <= lookup.share(large) + 1e-12


@given(seed=st.integers(0, 2**32 - 1), golfers=st.integers(29, 90))
def test_the_interval_holds_the_share_of_the_sample_itself(seed, golfers):
    ordered = np.sort(np.random.default_rng(seed).standard_normal(golfers))
    lookup = published(ordered)
    for rank in range(golfers):
        low, high = lookup.interval(float(ordered[rank]))
        assert low <= (rank + 0.5) / golfers <= high


@pytest.mark.parametrize(
    ("golfers", "skew"), [(11, 0.5), (30, 1.0), (60, 1.0), (120, 0.5), (500, 1.0)]
)
def test_the_interval_holds_the_true_share_of_a_new_value(golfers, skew):
    """At least 88 of 100 in every tenth of the distribution, however skewed."""
    rng = np.random.default_rng(golfers)
    truth = stats.lognorm(skew)
    shares = rng.uniform(0.0, 1.0, (150, 40))
    held = np.empty(shares.shape, dtype=bool)
    for row, sample in enumerate(truth.rvs((150, golfers), random_state=rng)):
        lookup = published(sample)
        for column, value in enumerate(truth.ppf(shares[row])):
            low, high = lookup.interval(float(value))
            held[row, column] = low <= shares[row, column] <= high
    tenths = np.floor(10.0 * shares)
    assert min(held[tenths == tenth].mean() for tenth in range(10)) >= 0.88
