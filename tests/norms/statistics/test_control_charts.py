import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from norms.statistics.control_charts import (
    ewma_chart,
    family_sigmas,
    individuals_chart,
    spread_score,
)

# NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.2.2 (flow rate) and 6.3.2.4
# (moving average); numbers from memory, their arithmetic checked here.
FLOW_RATE = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
AVERAGED = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW_RATE]
EWMA = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33]
EWMA += [50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]


def test_individuals_chart_of_the_handbook():
    chart = individuals_chart(FLOW_RATE)
    assert chart.centre[0] == pytest.approx(50.81)
    # The handbook rounds the factor for ranges of two to 1.128.
    assert chart.high[0] == pytest.approx(55.8041, abs=2e-3)
    assert chart.low[0] == pytest.approx(45.8159, abs=2e-3)
    assert not chart.out.any()


def test_moving_average_of_the_handbook():
    chart = ewma_chart(
        AVERAGED, centre=50.0, sigma=2.0539, weight=0.3, sigmas=3.0, steady_limits=True
    )
    np.testing.assert_allclose(chart.points, EWMA, atol=0.006)
    assert chart.high[0] == pytest.approx(52.5884, abs=1e-3)
    assert chart.low[0] == pytest.approx(47.4115, abs=1e-3)
    assert not chart.out.any()


def test_exact_limits_of_the_moving_average_start_narrow_and_settle():
    widths = ewma_chart(np.zeros(200), centre=0.0, sigma=1.0, weight=0.2, sigmas=3.0).high
    assert widths[0] == pytest.approx(3 * 0.2)
    assert widths[-1] == pytest.approx(3 * np.sqrt(0.2 / 1.8))
    assert (np.diff(widths) >= 0).all()


def test_weight_of_one_is_the_shewhart_chart():
    ewma = ewma_chart(FLOW_RATE, centre=50.0, sigma=2.0, weight=1.0, sigmas=3.0)
    shewhart = individuals_chart(FLOW_RATE, centre=50.0, sigma=2.0)
    np.testing.assert_allclose(ewma.points, shewhart.points)
    np.testing.assert_allclose(ewma.high, shewhart.high)


def test_a_jump_leaves_the_individuals_limits_and_a_lasting_shift_the_average():
    noise = np.random.default_rng(4).normal(size=60)
    jumped = noise.copy()
    jumped[30] += 6.0
    assert np.flatnonzero(individuals_chart(jumped).out).tolist() == [30]
    shifted = noise + 1.2 * (np.arange(60) >= 30)
    single = individuals_chart(shifted, centre=0.0, sigma=1.0)
    average = ewma_chart(shifted, centre=0.0, sigma=1.0)
    assert not average.out[:30].any()
    assert average.out[30:].sum() > single.out[30:].sum()


def test_spread_scores_are_normal_scores_of_chi_square():
    draws = stats.chi2.ppf([0.001, 0.2, 0.5, 0.9, 0.9999], 7) / 7 * 4.0
    expected = stats.norm.ppf([0.001, 0.2, 0.5, 0.9, 0.9999])
    np.testing.assert_allclose(spread_score(draws, 7, 4.0), expected, atol=1e-9)
    assert np.isnan(spread_score([1.0], [0], [1.0])).all()


def test_extreme_spread_keeps_a_finite_score():
    assert 10 < spread_score(20.0, 20, 1.0) < 40


@pytest.mark.parametrize("charts", [1, 5, 29])
def test_family_limits_share_the_false_alarms_of_one_chart(charts):
    together = charts * stats.norm.sf(family_sigmas(3.0, charts))
    assert together == pytest.approx(stats.norm.sf(3.0))


@pytest.mark.parametrize("values", [[1.0], [1.0, np.nan], [[1.0, 2.0]]])
def test_series_that_cannot_be_charted_are_refused(values):
    with pytest.raises(ValueError, match="2 or more finite values"):
        individuals_chart(values)
    with pytest.raises(ValueError, match="2 or more finite values"):
        ewma_chart(values, centre=0.0, sigma=1.0)


@pytest.mark.parametrize("weight", [0.0, 1.1])
def test_a_weight_out_of_range_is_refused(weight):
    with pytest.raises(ValueError, match="weight"):
        ewma_chart([1.0, 2.0], centre=0.0, sigma=1.0, weight=weight)


@given(seed=st.integers(0, 2**32 - 1), shift=st.floats(-100, 100), scale=st.floats(0.01, 100))
def test_charts_follow_unit_and_zero(seed, shift, scale):
    series = np.random.default_rng(seed).normal(size=20)
    before, after = individuals_chart(series), individuals_chart(shift + scale * series)
    np.testing.assert_allclose(after.high, shift + scale * before.high, rtol=1e-6, atol=1e-6)
    mirrored = individuals_chart(-series)
    np.testing.assert_allclose(mirrored.low, -before.high)
    average = ewma_chart(series, centre=0.0, sigma=1.0)
    moved = ewma_chart(shift + scale * series, centre=shift, sigma=scale)
    np.testing.assert_allclose(moved.points, shift + scale * average.points, rtol=1e-6, atol=1e-6)
