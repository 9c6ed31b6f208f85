import numpy as np
import pytest
from scipy import linalg, stats

from norms.statistics.cluster_robust import group_sums, robust_estimate
from norms.statistics.mixed_models import fit_random_intercepts
from norms.statistics.within_between import within_and_between


def small():
    draws = np.random.default_rng(3)
    groups = np.repeat([4, 1, 3, 0, 2, 5], [3, 5, 2, 4, 1, 6])
    z = draws.normal(size=21)
    design = np.column_stack([np.ones(21), z, draws.normal(size=6)[groups]])
    y = draws.normal(size=21) + 2.0 * draws.normal(size=6)[groups]
    return y, design, np.column_stack([np.ones(21), z]), groups


def dense(y, x, z, psi, residual, groups, w):
    """CR2 and its degrees of freedom as they are written, with matrices of the data's size."""
    v = np.where(groups[:, None] == groups, z @ psi @ z.T, 0.0) + residual * np.eye(len(y))
    white = np.linalg.inv(np.linalg.cholesky(v))
    x, y = white @ x, white @ y
    bread = np.linalg.inv(x.T @ x)
    fixed, hat = bread @ x.T @ y, x @ bread @ x.T
    rows = np.zeros((groups.max() + 1, len(y)))
    for group, row in enumerate(rows):
        of = np.flatnonzero(groups == group)
        adjust = linalg.inv(linalg.sqrtm(np.eye(of.size) - hat[np.ix_(of, of)]).real)
        row[of] = w @ bread @ x[of].T @ adjust
    expected = rows @ (np.eye(len(y)) - hat) @ rows.T
    variance = ((rows @ (y - x @ fixed)) ** 2).sum()
    return fixed, variance, np.trace(expected) ** 2 / np.trace(expected @ expected)


@pytest.mark.parametrize("psi", [[[1.5, 0.4], [0.4, 0.8]], [[1.5, 0.0], [0.0, 0.0]]])
@pytest.mark.parametrize("weights", [[0.0, 1.0, 0.0], [0.0, -1.0, 1.0]])
def test_equals_the_formula_with_matrices_of_the_datas_size(psi, weights):
    y, x, z, groups = small()
    psi, w = np.array(psi), np.array(weights)
    fixed, variance, freedom = dense(y, x, z, psi, 0.7, groups, w)
    found = robust_estimate(group_sums(y, x, z, psi, 0.7, groups, fixed), w)
    assert found.value[0] == pytest.approx(w @ fixed)
    assert found.standard_error[0] == pytest.approx(np.sqrt(variance), rel=1e-6)
    assert found.freedom[0] == pytest.approx(freedom, rel=1e-6)
    t = abs(w @ fixed) / np.sqrt(variance)
    assert found.p_value[0] == pytest.approx(2 * stats.t.sf(t, freedom), rel=1e-5)


def test_one_observation_a_group_of_a_plain_mean_is_the_t_test():
    y = np.random.default_rng(4).normal(size=12)
    sums = group_sums(y, np.ones((12, 1)), np.ones((12, 1)), [[0.0]], 1.0, range(12), [y.mean()])
    found = robust_estimate(sums, [1.0])
    assert found.standard_error[0] == pytest.approx(stats.sem(y))
    assert found.freedom[0] == pytest.approx(11)


def test_swings_in_the_place_of_golfers_do_not_make_it_surer():
    y, x, z, groups = small()
    twice = np.tile(np.arange(21), 2)
    fixed = np.linalg.lstsq(x, y, rcond=None)[0]
    one, two = (
        robust_estimate(
            group_sums(y[k], x[k], z[k], np.zeros((2, 2)), 1.0, groups[k], fixed), [0.0, 1.0, 0.0]
        )
        for k in (np.arange(21), twice)
    )
    np.testing.assert_allclose(two.standard_error, one.standard_error)
    np.testing.assert_allclose(two.freedom, one.freedom)


def test_a_column_that_one_group_alone_tells_does_not_stop_the_others():
    y, x, z, groups = small()
    x = np.column_stack([x, groups == 2])
    fixed = np.linalg.lstsq(x, y, rcond=None)[0]
    sums = group_sums(y, x, z, np.zeros((2, 2)), 1.0, groups, fixed)
    found = robust_estimate(sums, [0.0, 1.0, 0.0, 0.0])
    assert np.isfinite([found.standard_error[0], found.freedom[0], found.p_value[0]]).all()


@pytest.mark.parametrize("tie", ["day", "slope"])
def test_days_and_own_slopes_that_the_model_lacks_leave_5_percent(tie):
    rng = np.random.default_rng(6)
    robust, model = [], []
    for _ in range(300):
        groups = np.repeat(np.arange(15), rng.integers(1, 13, 15))
        day = groups * 3 + rng.integers(0, 3, groups.size)
        x = rng.normal(size=(15, 1))[groups] + 0.6 * rng.normal(size=(groups.size, 1))
        y = 3 * rng.normal(size=15)[groups] + rng.normal(size=groups.size)
        if tie == "day":
            x += 0.8 * rng.normal(size=(45, 1))[day]
            y += 1.2 * rng.normal(size=45)[day]
        parts = within_and_between(x, groups, np.zeros(groups.size))
        if tie == "slope":
            y += 0.8 * rng.normal(size=15)[groups] * parts.within[:, 0]
        one = np.ones((groups.size, 1))
        fit = fit_random_intercepts(y, one, np.stack([parts.within, parts.between], axis=2), groups)
        model.append(fit.effect(1).p_value[0] <= 0.05)
        sums = group_sums(
            y,
            np.column_stack([one, parts.within, parts.between]),
            one,
            [[fit.group_variance[0]]],
            fit.residual_variance[0],
            groups,
            fit.fixed[0],
        )
        robust.append(robust_estimate(sums, [0.0, 1.0, 0.0]).p_value[0] <= 0.05)
    # 300 cohorts: two Monte-Carlo errors of 5 % are 2.5 points.
    assert 0.025 <= np.mean(robust) <= 0.08
    assert np.mean(model) > 0.1
