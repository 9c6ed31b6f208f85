import csv
import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from norms.statistics.partitioning import (
    SMALLEST_DIFFERENCE_SD,
    harris_boyd,
    mean_p_value,
    proportions_outside,
    spread_p_value,
    standardised_difference,
)

REFERENCE = Path(__file__).parents[2] / "reference" / "reference_intervals"
CASES = {
    case["id"]: case["expected"]
    for case in json.loads((REFERENCE / "refint.json").read_text())["cases"]
}


def group(name):
    with (REFERENCE / "partition.csv").open() as lines:
        return np.array([float(r["value"]) for r in csv.DictReader(lines) if r["group"] == name])


def values_with(mean, sd, n):
    x = np.arange(n, dtype=float)
    return mean + sd * (x - x.mean()) / x.std(ddof=1)


@pytest.mark.parametrize("pair", ["AB", "AE", "BE"])
def test_harris_boyd_equals_the_reference(pair):
    case = CASES[f"harris_boyd_{pair}"]
    result = harris_boyd(group(pair[0]), group(pair[1]))
    assert result.z == pytest.approx(case["z"], abs=1e-9)
    assert result.z_critical == pytest.approx(case["z_crit"], abs=1e-9)
    assert result.sd_ratio == pytest.approx(case["sd_ratio"], abs=1e-9)
    assert result.by_mean == case["partition_by_mean"]
    assert result.by_sd == case["partition_by_sd"]
    p = mean_p_value(group(pair[0]), group(pair[1]))
    assert p == pytest.approx(case["welch_p"], rel=1e-9)


@pytest.mark.parametrize(
    ("first", "second", "z", "z_critical", "by_mean", "by_sd"),
    [
        ((9.5, 0.35, 120), (9.3, 0.34, 120), 4.489945, 3.0, True, False),
        ((10, 2, 60), (9, 2, 60), 2.738613, 2.121320, True, False),
        ((10, 2, 60), (9.9, 3.2, 60), 0.205268, 2.121320, False, True),
        ((4, 2, 300), (3, 1.8, 180), 5.649327, 4.242641, True, False),
    ],
)
def test_harris_boyd_on_published_sizes(first, second, z, z_critical, by_mean, by_sd):
    result = harris_boyd(values_with(*first), values_with(*second))
    assert result.z == pytest.approx(z, abs=2e-6)
    assert result.z_critical == pytest.approx(z_critical, abs=1e-6)
    assert (result.by_mean, result.by_sd) == (by_mean, by_sd)


def test_critical_difference_is_the_same_in_sd_at_every_size():
    for n in (40, 120, 900):
        first, second = values_with(0, 1, n), values_with(SMALLEST_DIFFERENCE_SD, 1, n)
        result = harris_boyd(first, second)
        assert result.z == pytest.approx(result.z_critical)


@pytest.mark.parametrize("pair", ["AB", "AE", "BE"])
def test_proportions_outside_equal_the_reference(pair):
    case = CASES[f"harris_boyd_{pair}"]
    result = proportions_outside(group(pair[0]), group(pair[1]))
    np.testing.assert_allclose(result.limits, case["pooled_limits"], atol=1e-9)
    shares = case["proportion_outside"]
    assert result.below == pytest.approx((shares["a_below"], shares["b_below"]))
    assert result.above == pytest.approx((shares["a_above"], shares["b_above"]))


def test_proportions_tell_shifted_groups_apart_and_like_groups_not():
    quantiles = stats.norm.ppf((np.arange(4000) + 0.5) / 4000)
    assert proportions_outside(quantiles, quantiles).verdict == "combine"
    assert proportions_outside(quantiles, quantiles + 0.3).verdict == "marginal"
    assert proportions_outside(quantiles, quantiles + 0.7).verdict == "partition"
    assert proportions_outside(quantiles, quantiles * 1.5).verdict == "partition"


def test_p_values_equal_scipys():
    a, b = group("A"), group("B")
    assert mean_p_value(a, b) == pytest.approx(stats.ttest_ind(a, b, equal_var=False).pvalue)
    paired = stats.ttest_rel(a[:40], b[:40]).pvalue
    assert mean_p_value(a[:40], b[:40], paired=True) == pytest.approx(paired)
    # For two groups of one size Brown and Forsythe's F is the square of Welch's t.
    statistic, _ = stats.levene(a[:50], b[:50], center="median")
    deviations = [np.abs(x[:50] - np.median(x[:50])) for x in (a, b)]
    welch = stats.ttest_ind(*deviations, equal_var=False)
    assert welch.statistic**2 == pytest.approx(statistic)
    assert spread_p_value(a[:50], b[:50]) == pytest.approx(welch.pvalue)


def test_standardised_difference_has_the_t_interval():
    a, b = group("A"), group("B")
    difference, low, high = standardised_difference(a, b)
    sd = np.sqrt((a.var(ddof=1) + b.var(ddof=1)) / 2)
    interval = stats.ttest_ind(a, b, equal_var=False).confidence_interval(0.90)
    assert difference == pytest.approx((a.mean() - b.mean()) / sd)
    assert (low, high) == pytest.approx((interval.low / sd, interval.high / sd))


def test_pairing_sees_what_the_spread_between_golfers_hides():
    golfers = values_with(0, 5, 30)
    noise = np.random.default_rng(0).normal(0, 0.1, 30)
    assert mean_p_value(golfers, golfers + 0.3 + noise) > 0.5
    assert mean_p_value(golfers, golfers + 0.3 + noise, paired=True) < 1e-6


def test_groups_without_spread_or_golfers():
    same = np.ones(5)
    assert harris_boyd(same, same).z == 0
    assert mean_p_value(same, same) == 1
    assert harris_boyd(same, same + 1).z == np.inf
    assert np.isnan(standardised_difference(same, same)[0])
    with pytest.raises(ValueError, match="each needs 2"):
        harris_boyd(same[:1], same)
