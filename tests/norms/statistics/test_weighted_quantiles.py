import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.weightstats import DescrStatsW

from norms.statistics.quantiles import quantiles_with_intervals
from norms.statistics.weighted_quantiles import weighted_percentiles


def test_equal_weights_change_nothing():
    values = np.random.default_rng(1).normal(size=(67, 4))
    values[:9, 2] = np.nan
    percents = (5, 10, 50, 90)
    plain = quantiles_with_intervals(values, percents)
    weighted = weighted_percentiles(values, np.full(67, 0.3), percents)
    for one, other in zip(plain, weighted, strict=True):
        np.testing.assert_allclose(one, other, atol=1e-12)


@given(st.integers(0, 2**32 - 1), st.floats(1.0, 6.0))
def test_a_percentile_is_next_to_that_of_statsmodels(seed, heaviest):
    # Theirs is a step function, ours runs between the steps: two of the heaviest apart at most.
    rng = np.random.default_rng(seed)
    values, weights = np.sort(rng.normal(size=80)), rng.uniform(1.0, heaviest, 80)
    percents = (10.0, 25.0, 50.0, 75.0, 90.0)
    found = weighted_percentiles(values[:, None], weights, percents).value[:, 0]
    apart = 2.0 * weights.max() / weights.sum()
    theirs = DescrStatsW(values, weights)
    low, high = (
        np.ravel(theirs.quantile(np.array(percents) / 100.0 + by, return_pandas=False))
        for by in (-apart, apart)
    )
    assert (low <= found).all()
    assert (found <= high).all()


@given(st.integers(0, 2**32 - 1), st.floats(0.01, 100.0))
def test_only_the_ratio_of_weights_counts(seed, scale):
    rng = np.random.default_rng(seed)
    values, weights = rng.normal(size=(70, 2)), rng.uniform(0.5, 3.0, 70)
    one = weighted_percentiles(values, weights, (10, 50, 90))
    other = weighted_percentiles(values, scale * weights, (10, 50, 90))
    for first, second in zip(one, other, strict=True):
        np.testing.assert_allclose(first, second, atol=1e-9)


def test_weights_pull_a_percentile_toward_the_heavy():
    values = np.r_[np.zeros(40), np.ones(40)][:, None] + np.linspace(0, 0.1, 80)[:, None]
    weights = np.r_[np.full(40, 0.2), np.full(40, 1.8)]
    plain = weighted_percentiles(values, np.ones(80), (25,)).value[0, 0]
    heavy = weighted_percentiles(values, weights, (25,)).value[0, 0]
    assert plain < 0.2
    assert heavy > 1.0


def test_heavy_weights_withhold_what_few_golfers_would():
    values = np.arange(60.0)[:, None]
    weights = np.r_[np.full(6, 10.0), np.full(54, 0.1)]
    table = weighted_percentiles(values, weights, (5, 50))
    assert np.isnan(table.value[0, 0])  # about 7 golfers' worth of information
    assert table.value[1, 0] == pytest.approx(2.8, abs=0.5)


def test_a_column_without_values_has_no_percentile():
    assert np.isnan(weighted_percentiles(np.full((9, 1), np.nan), np.ones(9), (50,)).value).all()
