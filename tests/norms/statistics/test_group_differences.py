from itertools import combinations, product

import numpy as np
import pytest
from scipy import stats

from norms.statistics.group_differences import differences_between, differences_within


def rng():
    return np.random.default_rng(21)


def deviate(t, freedom):
    return np.sign(t) * stats.norm.isf(stats.t.sf(np.abs(t), freedom))


def welch(first, second):
    found = stats.ttest_ind(first, second, equal_var=False)
    return deviate(found.statistic, found.df)


def two_tables(n1, n2, seed=3):
    draws = np.random.default_rng(seed)
    means = draws.normal(size=(n1, 4)) + 0.5, 2.0 * draws.normal(size=(n2, 4))
    return [means, (means[0][:, :2] ** 2, means[1][:, :2] ** 2)]


def test_deviates_are_those_of_welchs_t():
    tables = two_tables(9, 30)
    found = differences_between(tables, rng(), relabellings=19)
    for one, (first, second) in zip(found.deviates, tables, strict=True):
        np.testing.assert_allclose(one, welch(first, second), atol=0.01)


def test_missing_values_leave_a_golfer_out_of_that_quantity_only():
    first, second = two_tables(9, 12)[0]
    first, second = first.copy(), second.copy()
    first[:3, 1], second[5, 1] = np.nan, np.nan
    found = differences_between([(first, second)], rng(), relabellings=19).deviates[0]
    np.testing.assert_allclose(found[1], welch(first[3:, 1], np.delete(second[:, 1], 5)), atol=0.01)
    np.testing.assert_allclose(found[0], welch(first[:, 0], second[:, 0]), atol=0.01)
    first[1:, 2] = np.nan
    found = differences_between([(first, second)], rng(), relabellings=19)
    assert np.isnan(found.deviates[0][2])
    assert np.isnan(found.p_values[0][2])


def test_enumerated_groups_equal_a_plain_loop_over_all_tables():
    tables = two_tables(4, 6)
    found = differences_between(tables, rng())
    assert found.exact
    assert found.relabellings == 210
    largest = []
    for chosen in combinations(range(10), 4):
        others = [i for i in range(10) if i not in chosen]
        z = [
            np.abs(welch(whole[list(chosen)], whole[others])).max()
            for whole in (np.concatenate(pair) for pair in tables)
        ]
        largest.append(max(z))
    for deviates, p_values in zip(found.deviates, found.p_values, strict=True):
        for z, p in zip(deviates, p_values, strict=True):
            assert p == pytest.approx(np.mean(np.array(largest) >= abs(z) - 1e-3), abs=1.5 / 210)


def test_enumerated_signs_equal_a_plain_loop():
    steps = np.random.default_rng(2).normal(0.4, 1, (8, 5))
    found = differences_within([steps, steps[:, :2] ** 3], rng())
    assert found.relabellings == 256
    largest = [
        max(
            np.abs(
                deviate(stats.ttest_1samp(part * np.array(signs)[:, None], 0).statistic, 7)
            ).max()
            for part in (steps, steps[:, :2] ** 3)
        )
        for signs in product((1, -1), repeat=8)
    ]
    smallest = min(part.min() for part in found.p_values)
    top = max(np.abs(part).max() for part in found.deviates)
    assert smallest == pytest.approx(np.mean(np.array(largest) >= top - 1e-3), abs=1.5 / 256)


def test_sampled_p_value_counts_the_observed_labels():
    far = np.arange(30.0)[:, None], np.arange(100.0, 130)[:, None]
    found = differences_between([far], rng(), relabellings=99)
    assert not found.exact
    assert found.relabellings == 100
    assert found.p_values[0].tolist() == [1 / 100]


@pytest.mark.parametrize("wide", [1.0, 3.0])
def test_unequal_groups_of_unequal_spread_keep_the_level(wide):
    """A pooled t says "differ" in one of three where the 12 are three times as wide as the 48."""
    draws = np.random.default_rng(5)
    rejected = 0
    for _ in range(300):
        first = wide * draws.normal(size=(12, 6))
        found = differences_between([(first, draws.normal(size=(48, 6)))], draws, relabellings=99)
        rejected += found.p_values[0].min() <= 0.05
    # 300 trials: two Monte-Carlo errors of 5 % are 2.5 points.
    assert 0.025 <= rejected / 300 <= 0.08


def test_quantities_nobody_differs_in_are_nan_and_groups_without_spread_differ_without_end():
    found = differences_between([(np.array([[0.0, 1.0]] * 4), np.array([[0.0, 2.0]] * 4))], rng())
    assert np.isnan(found.deviates[0][0])
    assert found.deviates[0][1] == -np.inf
    assert found.p_values[0][1] == pytest.approx(2 / 70)


def test_too_few_golfers_are_refused():
    with pytest.raises(ValueError, match="at least 2"):
        differences_between([(np.zeros((1, 3)), np.ones((4, 3)))], rng())
    with pytest.raises(ValueError, match="at least 2"):
        differences_within([np.zeros((1, 3))], rng())
