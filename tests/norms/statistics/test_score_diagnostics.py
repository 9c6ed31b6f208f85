import numpy as np
import pytest
from scipy import stats

from norms.statistics.location_scale_shape.diagnostics import (
    WORM_SCORES,
    equal_groups,
    q_statistics,
    shares_below,
    worm_half_width,
    worms,
)


def test_groups_follow_the_order_and_leave_nobody_out():
    order = np.array([5.0, 1.0, 3.0, 2.0, 4.0])
    groups = equal_groups(order, 2)
    assert [group.tolist() for group in groups] == [[1, 3, 2], [4, 0]]


def test_the_worm_of_perfect_normal_scores_is_flat():
    z = stats.norm.ppf((np.arange(200) + 0.5) / 200)[None]
    worm, cubic = worms(z, [np.arange(200)])
    np.testing.assert_allclose(worm, 0.0, atol=1e-12)
    np.testing.assert_allclose(cubic, 0.0, atol=1e-12)


def test_level_and_spread_left_over_show_in_the_worm():
    z = 0.3 + 1.2 * stats.norm.ppf((np.arange(200) + 0.5) / 200)[None]
    worm, cubic = worms(z, [np.arange(200)])
    np.testing.assert_allclose(cubic[0, 0], [0.3, 0.2, 0.0, 0.0], atol=1e-10)
    np.testing.assert_allclose(worm[0, 0], 0.3 + 0.2 * WORM_SCORES, atol=0.002)


def test_a_worm_says_nothing_beyond_its_golfers():
    worm, _ = worms(np.linspace(-1, 1, 10)[None], [np.arange(10)])
    assert np.isnan(worm[0, 0, 0])
    assert np.isnan(worm[0, 0, -1])


def test_worms_of_normal_scores_stay_within_their_limits_at_the_stated_rate():
    rng = np.random.default_rng(0)
    z = rng.normal(size=(2000, 100))
    worm, _ = worms(z, [np.arange(100)])
    inside = np.abs(worm[:, 0, 8]) <= worm_half_width(100)[8]
    assert inside.mean() == pytest.approx(0.95, abs=0.02)


def test_q_statistics_of_normal_scores_follow_chi_squared():
    rng = np.random.default_rng(1)
    z = rng.normal(size=(2000, 400))
    groups = equal_groups(np.arange(400.0), 8)
    nothing_spent = np.tile([0.0, -1.0, 0.0, 0.0], (2000, 1))
    q, freedom, p = q_statistics(z, groups, nothing_spent)
    np.testing.assert_allclose(freedom, 8.0)
    np.testing.assert_allclose(q.mean(axis=0), 8.0, atol=0.5)
    np.testing.assert_allclose((p < 0.05).mean(axis=0), 0.05, atol=0.02)


def test_each_q_statistic_answers_to_its_own_fault():
    rng = np.random.default_rng(2)
    base = rng.normal(size=600)
    tilt = np.linspace(-1, 1, 600)
    faults = np.stack([base + 0.5 * tilt, base * np.exp(0.4 * tilt), np.expm1(0.4 * base) / 0.43])
    spent = np.tile([2.0, 2.0, 1.0, 1.0], (3, 1))
    _, _, p = q_statistics(faults, equal_groups(np.arange(600.0), 12), spent)
    assert p[0, 0] < 0.001
    assert p[1, 1] < 0.001
    assert p[2, 2] < 0.001
    assert p[1, 0] > 0.01


def test_no_probability_without_a_degree_of_freedom():
    z = np.random.default_rng(3).normal(size=(1, 60))
    _, _, p = q_statistics(z, equal_groups(np.arange(60.0), 2), np.full((1, 4), 2.0))
    assert np.isnan(p).all()


def test_shares_below_are_counted_by_weight():
    z = np.array([[-2.0, -0.5, 0.5, 2.0]])
    got = shares_below(z, np.array([0.0]), [np.arange(4), np.array([0, 2])], np.array([1, 1, 1, 5]))
    np.testing.assert_allclose(got[0, :, 0], [2 / 8, 1 / 2])
