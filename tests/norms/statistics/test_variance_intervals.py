import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from norms.statistics.variance_intervals import sum_interval, variance_interval


def balanced(day_ms: float, swing_ms: float, days: int, swings: int, golfers: int):
    """Components and their covariance from the mean squares of balanced data."""
    day_df, swing_df = golfers * (days - 1), golfers * days * (swings - 1)
    day_spread, swing_spread = 2 * day_ms**2 / day_df, 2 * swing_ms**2 / swing_df
    first = (day_ms - swing_ms) / swings
    covariance = [
        [(day_spread + swing_spread) / swings**2, -swing_spread / swings],
        [-swing_spread / swings, swing_spread],
    ]
    return first, np.array(covariance)[..., None], day_df, swing_df


def test_variance_interval_is_chi_square_for_a_pooled_variance():
    df, estimate = 12, 2.5
    low, high = variance_interval(estimate, 2 * estimate**2 / df)
    expected = df * estimate / stats.chi2.ppf([0.975, 0.025], df)
    assert [low, high] == pytest.approx(expected)
    assert np.isnan(variance_interval(0.0, 1.0)).all()


def test_sum_interval_is_that_of_graybill_and_wang_for_balanced_data():
    day_ms, swing_ms, swings = 4.0, 1.5, 5
    first, covariance, day_df, swing_df = balanced(day_ms, swing_ms, 3, swings, 10)
    low, high = sum_interval([first], [swing_ms], covariance)
    # Graybill and Wang (1980), J. Am. Stat. Assoc. 75:869 (formula from memory).
    parts = np.array([day_ms / swings, swing_ms * (1 - 1 / swings)])
    df = np.array([day_df, swing_df])
    below = 1 - df / stats.chi2.ppf(0.975, df)
    above = df / stats.chi2.ppf(0.025, df) - 1
    total = parts.sum()
    assert low[0] == pytest.approx(total - np.sqrt((below**2 * parts**2).sum()))
    assert high[0] == pytest.approx(total + np.sqrt((above**2 * parts**2).sum()))


def test_sum_interval_without_known_spread_is_nan():
    assert np.isnan(sum_interval([1.0], [1.0], np.full((2, 2, 1), np.nan))).all()
    assert np.isnan(sum_interval([0.0], [0.0], np.zeros((2, 2, 1)))).all()


@given(scale=st.floats(0.01, 100), day_ms=st.floats(0.5, 20), swings=st.integers(2, 8))
def test_sum_interval_holds_the_sum_and_follows_the_unit(scale, day_ms, swings):
    first, covariance, _, _ = balanced(day_ms, 1.0, 3, swings, 10)
    low, high = sum_interval([first], [1.0], covariance)
    assert 0 < low[0] < first + 1.0 < high[0]
    scaled = sum_interval([first * scale], [scale], covariance * scale**2)
    np.testing.assert_allclose(scaled, [low * scale, high * scale], rtol=1e-9)
