import numpy as np
import pytest

from norms.statistics.mixed_models import fit_random_intercepts
from norms.statistics.regression_permutation import (
    between_curve_test,
    within_curve_test,
    within_scores,
)
from norms.statistics.within_between import within_and_between

NODES = np.linspace(0, 1, 41)
WAVES = np.stack([np.sin((k + 1) * 2 * NODES + k) * NODES for k in range(6)])


def made(seed, golfers=60, within=0.0, between=0.0, club_effect=0.0):
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(golfers), rng.integers(1, 10, golfers))
    club = rng.integers(0, 2, len(code))
    scores = rng.normal(size=(golfers, 6))[code] + 0.6 * rng.normal(size=(len(code), 6))
    scores[:, 0] += club_effect * club
    parts = within_and_between(scores @ WAVES, code, club)
    age = rng.normal(size=golfers)[code]
    y = 60 + 2 * rng.normal(size=golfers)[code] + age + 0.7 * rng.normal(size=len(code))
    y += within * parts.within[:, 30] + between * parts.between[:, 30] + club_effect * club
    return y, np.column_stack([np.ones(len(code)), age, club - club.mean()]), parts, code, club


def both_tests(found, seed=0, relabellings=499):
    y, shared, parts, code, club = found
    rng = np.random.default_rng(seed)
    return (
        within_curve_test(y, shared, parts, code, club, rng, relabellings=relabellings),
        between_curve_test(y, shared, parts, code, rng, relabellings=relabellings),
    )


def test_each_test_finds_its_own_effect_and_not_the_other():
    within, between = both_tests(made(1, within=0.8))
    assert within.p_value <= 0.005
    assert abs(within.node - 30) <= 6
    assert between.p_value > 0.05
    within, between = both_tests(made(2, between=2.0))
    assert between.p_value <= 0.005
    assert within.p_value > 0.05


def test_a_difference_between_clubs_is_found_by_neither():
    within, between = both_tests(made(3, club_effect=5.0))
    assert within.p_value > 0.05
    assert between.p_value > 0.05


def test_scores_by_hand():
    y = np.array([1.0, 3.0, 10.0, 20.0, 7.0])
    x = np.array([[-1.0], [1.0], [-3.0], [3.0], [0.0]])
    codes = np.array([0, 0, 1, 1, 2])
    scores = within_scores(y, np.ones((5, 1)), x, codes, np.zeros(5, dtype=int))
    assert scores[:, 0].tolist() == [2.0, 30.0]


def test_covariates_that_vary_within_a_golfer_are_taken_out_of_both():
    rng = np.random.default_rng(4)
    code = np.repeat(np.arange(40), 6)
    effort = rng.normal(size=len(code))
    curve = effort[:, None] + 0.5 * rng.normal(size=(len(code), 3))
    parts = within_and_between(curve, code, np.zeros(len(code)))
    y = 3.0 * effort + 0.5 * rng.normal(size=len(code)) + rng.normal(size=40)[code]
    strata = np.zeros(len(code))
    bare = np.ones((len(code), 1))
    adjusted = np.column_stack([bare, effort])
    unadjusted = within_curve_test(y, bare, parts, code, strata, np.random.default_rng(1))
    rest = within_curve_test(y, adjusted, parts, code, strata, np.random.default_rng(1))
    assert unadjusted.p_value < 0.001
    assert rest.p_value > 0.05


def test_p_values_are_those_of_relabelling_counted_by_hand():
    y, shared, parts, code, club = made(5, golfers=14)
    found = within_curve_test(y, shared, parts, code, club, np.random.default_rng(2))
    assert found.exact
    scores = within_scores(y, shared, parts.within, code, club)
    scores = scores[:, 1:] / np.sqrt((scores[:, 1:] ** 2).sum(axis=0))
    bits = (np.arange(2 ** len(scores))[:, None] >> np.arange(len(scores))) & 1
    largest = np.abs((2.0 * bits - 1.0) @ scores).max(axis=1)
    observed = np.abs(scores.sum(axis=0)).max()
    assert found.p_value == pytest.approx(np.mean(largest >= observed - 1e-10))


def test_the_largest_t_between_golfers_is_that_of_weighted_regression():
    y, shared, parts, code, _ = made(6, golfers=30, between=1.0)
    counts = np.bincount(code)
    found = between_curve_test(y, shared, parts, code, np.random.default_rng(3), relabellings=199)
    null = fit_random_intercepts(y, shared, np.empty((len(y), 1, 0)), code)
    root = 1 / np.sqrt(null.group_variance[0] + null.residual_variance[0] / counts)
    table = np.column_stack([shared, y])
    means = np.stack([np.bincount(code, column) / counts for column in table.T], axis=1)
    x = parts.between[np.unique(code, return_index=True)[1], found.node]
    design = np.column_stack([means[:, :-1], x]) * root[:, None]
    target = means[:, -1] * root
    fixed = np.linalg.lstsq(design, target, rcond=None)[0]
    rest = len(target) - design.shape[1]
    variance = ((target - design @ fixed) ** 2).sum() / rest
    error = np.sqrt(variance * np.linalg.inv(design.T @ design)[-1, -1])
    assert found.t[found.node] == pytest.approx(fixed[-1] / error, rel=1e-6)


def test_curves_on_which_all_agree_cannot_be_tested():
    y, shared, parts, code, club = made(7, golfers=20)
    flat = type(parts)(within=0.0 * parts.within, between=0.0 * parts.between)
    with pytest.raises(ValueError, match="nothing to test"):
        within_curve_test(y, shared, flat, code, club, np.random.default_rng(1))
    with pytest.raises(ValueError, match="nothing to test"):
        between_curve_test(y, shared, flat, code, np.random.default_rng(1))
