import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.stats import binom

from norms.statistics.quantiles import (
    order_statistic_ranks,
    quantiles,
    quantiles_with_intervals,
    smallest_n,
)

GOLDEN = json.loads((Path(__file__).parents[2] / "reference" / "quantiles.json").read_text())

# NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2: 12 gauge readings.
NIST_GAUGE = [
    *(95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610),
    *(95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682),
]

HYNDMAN_FAN_SAMPLE = [1, 2, 4, 7, 11, 16, 22, 29, 37, 46]
# Definitions of Hyndman & Fan (1996); R and numpy agree on these to 6 decimals.
HYNDMAN_FAN = {
    6: [1, 1.1, 3.5, 13.5, 31, 45.1, 46],
    7: [1.45, 1.9, 4.75, 13.5, 27.25, 37.9, 41.95],
    8: [1, 1.366667, 3.833333, 13.5, 29.666667, 42.7, 46],
}

# 90 % ranks for the 2.5th percentile: CLSI C28-A3 / EP28-A3c, as (from n, to n, lower, upper).
EP28_RANKS = [
    *((119, 132, 1, 7), (133, 160, 1, 8), (161, 187, 1, 9), (188, 189, 2, 9), (190, 218, 2, 10)),
    *((219, 248, 2, 11), (249, 249, 2, 12), (250, 279, 3, 12), (280, 307, 3, 13)),
    *((308, 309, 4, 13), (310, 340, 4, 14), (341, 363, 4, 15), (364, 372, 5, 15)),
    *((373, 403, 5, 16), (404, 417, 5, 17), (418, 435, 6, 17), (436, 468, 6, 18)),
    *((469, 470, 6, 19), (471, 500, 7, 19), (501, 522, 7, 20), (523, 533, 8, 20)),
    *((534, 565, 8, 21), (566, 574, 8, 22), (575, 598, 9, 22), (599, 624, 9, 23)),
    *((625, 631, 10, 23), (632, 665, 10, 24), (666, 674, 10, 25), (675, 698, 11, 25)),
    *((699, 724, 11, 26), (725, 732, 12, 26), (733, 765, 12, 27), (766, 773, 12, 28)),
    *((774, 799, 13, 28), (800, 822, 13, 29), (823, 833, 14, 29), (834, 867, 14, 30)),
    *((868, 871, 14, 31), (872, 901, 15, 31), (902, 919, 15, 32), (920, 935, 16, 32)),
    *((936, 967, 16, 33), (968, 970, 17, 33), (971, 1000, 17, 34)),
]

columns = arrays(
    float,
    st.tuples(st.integers(1, 40), st.integers(1, 4)),
    elements=st.floats(-1e6, 1e6, allow_subnormal=False),
)


def test_the_90th_percentile_of_the_gauge_readings_is_the_published_one():
    found = quantiles(np.array(NIST_GAUGE)[:, None], [90.0])
    assert found[0, 0] == pytest.approx(95.1981, abs=5e-5)
    assert found[0, 0] == pytest.approx(95.19807, abs=1e-9)


@pytest.mark.parametrize("kind", [6, 7, 8])
def test_each_definition_gives_the_published_table(kind):
    found = quantiles(np.array(HYNDMAN_FAN_SAMPLE)[:, None], [5, 10, 25, 50, 75, 90, 95], kind)
    np.testing.assert_allclose(found[:, 0], HYNDMAN_FAN[kind], atol=5e-7)


@pytest.mark.parametrize("case", GOLDEN["quantiles"])
def test_each_definition_agrees_with_r(case):
    found = quantiles(np.array(case["x"])[:, None], 100 * np.array(case["p"]), case["kind"])
    np.testing.assert_allclose(found[:, 0], case["q"], atol=1e-10)


@given(columns, st.sampled_from([(6, "weibull"), (7, "linear"), (8, "median_unbiased")]))
def test_each_definition_agrees_with_numpy(values, definition):
    kind, method = definition
    percents = [0, 1, 5, 33.3, 50, 90, 97.5, 100]
    expected = np.percentile(values, percents, axis=0, method=method)
    np.testing.assert_allclose(quantiles(values, percents, kind), expected, atol=1e-6, rtol=1e-12)


def test_reference_limits_stand_at_the_ranks_of_ep28():
    # CLSI EP28-A3c: ranks 0.025 (n + 1) and 0.975 (n + 1); at n = 120 these are 3.025 and 117.975,
    # with 90 % intervals from rank 1 to 7 and from 114 to 120.
    table = quantiles_with_intervals(np.arange(1.0, 121.0)[:, None], [2.5, 97.5])
    np.testing.assert_allclose(table.value[:, 0], [3.025, 117.975], rtol=1e-12)
    assert table.low[:, 0].tolist() == [1, 114]
    assert table.high[:, 0].tolist() == [7, 120]


@pytest.mark.parametrize("row", EP28_RANKS)
def test_ranks_are_those_of_the_published_table(row):
    first, last, lower, upper = row
    for n in range(first, last + 1):
        assert order_statistic_ranks(n, 0.025, 0.90) == (lower, upper)
        assert order_statistic_ranks(n, 0.975, 0.90) == (n + 1 - upper, n + 1 - lower)


def test_the_published_table_is_covered_without_a_hole():
    covered = [n for first, last, _, _ in EP28_RANKS for n in range(first, last + 1)]
    assert covered == list(range(119, 1001))


@pytest.mark.parametrize("case", GOLDEN["ranks"])
def test_ranks_and_their_coverage_agree_with_r(case):
    for n, p, lower, upper, coverage in zip(
        case["n"], case["p"], case["lower_rank"], case["upper_rank"], case["coverage"], strict=True
    ):
        assert order_statistic_ranks(n, p, case["confidence"]) == (lower, upper)
        held = binom.cdf((upper or n + 1) - 1, n, p) - (binom.cdf(lower - 1, n, p) if lower else 0)
        assert held == pytest.approx(coverage, abs=1e-9)


def test_smallest_n_agrees_with_r():
    case = GOLDEN["smallest_n"]
    found = [smallest_n(p, c) for p, c in zip(case["p"], case["conf"], strict=True)]
    assert found == case["n"]
    assert smallest_n(0.975, 0.90) == 119


@given(st.floats(0.01, 0.99), st.floats(0.5, 0.99))
def test_below_the_smallest_n_no_two_sided_interval_exists(p, confidence):
    n = smallest_n(p, confidence)
    assert None not in order_statistic_ranks(n, p, confidence)
    assert n == 1 or None in order_statistic_ranks(n - 1, p, confidence)


@given(st.integers(1, 400), st.floats(0.01, 0.99), st.sampled_from([0.8, 0.9, 0.95]))
def test_two_ranks_always_cover_at_least_the_confidence(n, p, confidence):
    lower, upper = order_statistic_ranks(n, p, confidence)
    if lower is not None and upper is not None:
        assert 1 <= lower < upper <= n
        assert binom.cdf(upper - 1, n, p) - binom.cdf(lower - 1, n, p) >= confidence - 1e-9


@pytest.mark.parametrize("case", GOLDEN["limits"])
def test_interval_limits_are_the_order_statistics_of_the_golden_sample(case):
    values = np.array(GOLDEN["sway_cm"])[:, None]
    table = quantiles_with_intervals(values, 100 * np.array(case["p"]), case["confidence"])
    for row, (lower, upper) in enumerate(zip(case["lower"], case["upper"], strict=True)):
        if lower is None or upper is None:
            assert np.isnan([table.value[row], table.low[row], table.high[row]]).all()
        else:
            assert (table.low[row, 0], table.high[row, 0]) == (lower, upper)


@given(columns)
def test_percentiles_never_cross_and_lie_in_their_intervals(values):
    table = quantiles_with_intervals(values, [5, 10, 25, 50, 75, 90, 95], 0.8)
    shown = ~np.isnan(table.value)
    assert (table.low[shown] <= table.value[shown]).all()
    assert (table.value[shown] <= table.high[shown]).all()
    for column in range(values.shape[1]):
        assert (np.diff(table.value[shown[:, column], column]) >= 0).all()


def test_missing_values_are_left_out_column_by_column():
    rng = np.random.default_rng(11)
    values = rng.normal(size=(40, 5))
    values[:10, 1] = np.nan
    values[5:38, 2] = np.nan
    values[:, 3] = np.nan
    table = quantiles_with_intervals(values, [10, 50, 90])
    for column in range(5):
        present = values[~np.isnan(values[:, column]), column][:, None]
        if present.size == 0:
            assert np.isnan(table.value[:, column]).all()
            continue
        alone = quantiles_with_intervals(present, [10, 50, 90])
        for together, single in zip(table, alone, strict=True):
            np.testing.assert_array_equal(together[:, column], single[:, 0])
    assert np.isnan(table.value[0, 2])  # 7 values do not bear a 10th percentile
    assert not np.isnan(table.value[1, 2])


def test_intervals_of_a_skewed_sample_cover_the_true_percentile():
    # 4,000 samples of 30: the exact coverage for the 25th percentile is 0.941.
    rng = np.random.default_rng(5)
    table = quantiles_with_intervals(rng.exponential(size=(30, 4000)), [25.0])
    truth = -np.log(0.75)
    covered = ((table.low <= truth) & (truth <= table.high)).mean()
    assert covered == pytest.approx(0.94096, abs=4 * np.sqrt(0.941 * 0.059 / 4000))


@pytest.mark.parametrize(
    "call",
    [
        lambda: quantiles([1.0, 2.0], [50]),
        lambda: quantiles([[1.0]], [101]),
        lambda: quantiles_with_intervals([[1.0]], [0]),
        lambda: order_statistic_ranks(0, 0.5),
        lambda: order_statistic_ranks(5, 1.0),
        lambda: smallest_n(0.5, 1.0),
    ],
)
def test_numbers_out_of_range_are_refused(call):
    with pytest.raises(ValueError, match="needed"):
        call()
