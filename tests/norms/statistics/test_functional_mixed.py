import numpy as np
import pytest

from norms.statistics.functional_mixed import fit_coefficient_curves, smoother
from norms.statistics.mixed_models import fit_random_intercepts
from norms.statistics.within_between import within_and_between

NODES = np.linspace(0, 1, 81)
WAVES = np.stack([np.sin((k + 1) * 2 * NODES + k) * NODES for k in range(6)])


def curves(seed, golfers=70, within=0.0, between=0.0):
    """Curves that are zero at the start, and speeds that go with their shapes."""
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(golfers), rng.integers(1, 10, golfers))
    scores = rng.normal(size=(golfers, 6))[code] + 0.6 * rng.normal(size=(len(code), 6))
    parts = within_and_between(scores @ WAVES, code, np.zeros(len(code)))
    age = rng.normal(size=golfers)[code]
    y = 60 + 2 * rng.normal(size=golfers)[code] + age + 0.7 * rng.normal(size=len(code))
    y += within * parts.within[:, 60] + between * parts.between[:, 60]
    return y, np.column_stack([np.ones(len(code)), age]), parts, code


def fitted(made, seed=0, stretches=(slice(0, 81),), **options):
    y, shared, parts, code = made
    rng = np.random.default_rng(seed)
    return fit_coefficient_curves(y, shared, parts, code, rng, stretches=stretches, **options)


def test_pointwise_coefficients_are_those_of_the_mixed_model_of_each_node():
    y, shared, parts, code = curves(1, within=0.5)
    found = fitted((y, shared, parts, code))
    for node in (10, 45, 80):
        own = np.stack([parts.within[:, node], parts.between[:, node]], axis=1)[:, None]
        alone = fit_random_intercepts(y, shared, own, code)
        assert found.pointwise[:, node] == pytest.approx(alone.fixed[0, 2:], rel=1e-8)
        assert found.pointwise_error[0, node] == pytest.approx(
            alone.effect(2).standard_error[0], rel=1e-8
        )


def test_a_node_without_spread_has_no_coefficient():
    found = fitted(curves(2))
    assert np.isnan(found.value[:, 0]).all()
    assert np.isfinite(found.value[:, 1:]).all()


def test_the_band_leaves_zero_where_the_curve_acts_and_not_where_it_does_not():
    found = fitted(curves(3, golfers=120, within=0.8))
    low, high = found.limits()
    assert low[0, 60] > 0
    assert (low[1, 1:] < 0).all()
    assert (high[1, 1:] > 0).all()


def test_the_joint_band_is_wider_than_a_pointwise_one_and_wider_for_more_axes():
    made = curves(4)
    one = fitted(made)
    assert (one.factors > 2.0).all()
    assert (one.factors < 4.5).all()
    rng = np.random.default_rng(5)
    y, shared, parts, code = made
    other = within_and_between(rng.normal(size=(len(code), 6)) @ WAVES, code, np.zeros(len(code)))
    both = type(parts)(
        within=np.column_stack([parts.within, other.within]),
        between=np.column_stack([parts.between, other.between]),
    )
    two = fitted((y, shared, both, code), stretches=(slice(0, 81), slice(81, 162)))
    assert (two.factors > one.factors).all()


def test_standard_errors_agree_with_the_spread_over_cohorts():
    found = [fitted(curves(seed, golfers=80)) for seed in range(60)]
    spread = np.std([one.value[:, 60] for one in found], axis=0)
    said = np.mean([one.error[:, 60] for one in found], axis=0)
    assert said == pytest.approx(spread, rel=0.30)


def test_the_smoother_keeps_straight_lines_and_calms_noise():
    live = np.ones(81, dtype=bool)
    live[:3] = False
    operator = smoother(np.ones(81), live)
    line = 2.0 + 3.0 * NODES
    assert (operator @ line)[live] == pytest.approx(line[live])
    noise = np.random.default_rng(1).normal(size=81)
    assert (operator @ noise)[live].std() < 0.6 * noise.std()
    assert (operator[~live] == 0).all()
    assert (operator[:, ~live] == 0).all()


def test_nodes_without_spread_between_groups_are_counted_and_flat_ones_are_not():
    y, shared, parts, code = curves(6)
    assert (fitted((y, shared, parts, code)).singular, fitted(curves(7)).unsettled) == (0, 0)
    alike = y - np.bincount(code, y)[code] / np.bincount(code)[code]
    found = fitted((alike, shared, parts, code))
    assert found.singular == 80  # of 81, of which one is flat
