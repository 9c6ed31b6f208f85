import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from norms.statistics.location_scale_shape import sinh_arcsinh as family

SHAPES = [(0.0, 0.0), (0.6, 0.0), (-0.8, 0.4), (0.3, -0.5), (1.0, -0.3)]
shape = st.tuples(
    st.floats(-3, 3), st.floats(-1, 1), st.floats(-1.2, 1.2), st.floats(-0.7, 0.7)
).map(lambda values: tuple(np.array(value) for value in values))


def jones_pewsey(y, median, scale, skew, log_tail):
    """Density as in the paper: location, scale, epsilon and delta."""
    delta = np.exp(log_tail)
    epsilon = skew * delta
    sigma = scale * delta / np.cosh(epsilon / delta)
    mu = median - sigma * np.sinh(epsilon / delta)
    x = (y - mu) / sigma
    s = np.sinh(delta * np.arcsinh(x) - epsilon)
    c = np.sqrt(1.0 + s**2)
    return delta * c * np.exp(-(s**2) / 2) / np.sqrt(2 * np.pi * (1 + x**2)) / sigma


@pytest.mark.parametrize(("skew", "tail"), SHAPES)
def test_density_is_that_of_the_paper_and_integrates_to_one(skew, tail):
    eta = tuple(np.array(v) for v in (1.2, np.log(0.7), skew, tail))

    def density(y):
        return float(np.exp(family.log_density(np.array(y), eta)))

    for y in np.linspace(-4, 8, 13):
        assert density(y) == pytest.approx(jones_pewsey(y, 1.2, 0.7, skew, tail), rel=1e-10)
    total = sum(
        integrate.quad(density, a, b)[0]
        for a, b in [(-np.inf, -3.0), (-3.0, 1.2), (1.2, 6.0), (6.0, np.inf)]
    )
    assert total == pytest.approx(1.0, abs=1e-7)


@pytest.mark.parametrize(("skew", "tail"), SHAPES)
def test_the_score_is_the_normal_score_of_the_integrated_density(skew, tail):
    eta = tuple(np.array(v) for v in (1.2, np.log(0.7), skew, tail))
    for y in (-1.0, 0.5, 1.2, 2.0, 4.0):
        below = integrate.quad(
            lambda t: jones_pewsey(t, 1.2, 0.7, skew, tail), -np.inf, y, limit=200
        )[0]
        assert stats.norm.cdf(family.score(np.array(y), eta)) == pytest.approx(below, abs=1e-7)


def test_without_skew_and_with_normal_tails_it_is_the_normal_distribution():
    y = np.linspace(-5, 5, 21)
    eta = tuple(np.array(v) for v in (0.5, np.log(2.0), 0.0, 0.0))
    np.testing.assert_allclose(family.log_density(y, eta), stats.norm.logpdf(y, 0.5, 2.0))
    np.testing.assert_allclose(family.score(y, eta), (y - 0.5) / 2.0, atol=1e-12)


@given(shape, st.floats(-3.5, 3.5))
def test_score_and_value_are_inverse_and_the_location_is_the_median(eta, z):
    y = family.value_at(np.array(z), eta)
    assert family.score(y, eta) == pytest.approx(z, abs=1e-8)
    assert family.value_at(np.array(0.0), eta) == pytest.approx(float(eta[0]), abs=1e-12)


@given(shape)
def test_centiles_of_one_fit_never_cross(eta):
    values = family.value_at(np.linspace(-3.5, 3.5, 57), eta)
    assert (np.diff(values) > 0).all()


@given(shape, st.floats(-3, 3), st.floats(0.2, 5), st.floats(-4, 4))
def test_shift_and_scale_carry_over(eta, z, factor, shift):
    moved = (factor * eta[0] + shift, eta[1] + np.log(factor), eta[2], eta[3])
    expected = factor * family.value_at(np.array(z), eta) + shift
    assert family.value_at(np.array(z), moved) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(shape, st.floats(-2.5, 2.5))
def test_derivatives_agree_with_differences(eta, z):
    y = family.value_at(np.array(z), eta)
    value, first, second = family.derivatives(y, eta)
    assert value == pytest.approx(float(family.log_density(y, eta)), abs=1e-10)
    gradient, h = family.score_gradient(y, eta), 1e-5
    for i in range(4):
        up = tuple(e + h * (j == i) for j, e in enumerate(eta))
        down = tuple(e - h * (j == i) for j, e in enumerate(eta))
        value_up, first_up, _ = family.derivatives(y, up)
        value_down, first_down, _ = family.derivatives(y, down)
        assert (value_up - value_down) / (2 * h) == pytest.approx(first[i], rel=1e-5, abs=1e-5)
        by_score = (family.score(y, up) - family.score(y, down)) / (2 * h)
        assert by_score == pytest.approx(gradient[i], rel=1e-5, abs=1e-5)
        for j in range(4):
            by_difference = (first_up[j] - first_down[j]) / (2 * h)
            expected = second[min(i, j), max(i, j)]
            assert by_difference == pytest.approx(expected, rel=1e-5, abs=1e-4)
    by_value = (family.score(y + h, eta) - family.score(y - h, eta)) / (2 * h)
    assert by_value == pytest.approx(family.score_slope(y, eta), rel=1e-5)
