import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from norms.statistics.splines import SplineBasis, difference_penalty

BASIS = SplineBasis(low=-8.0, high=54.0, segments=7)


@given(st.lists(st.floats(-8.0, 54.0), min_size=1, max_size=20))
def test_basis_functions_are_not_negative_and_sum_to_one(x):
    design = BASIS.design(x)
    assert design.shape == (len(x), BASIS.columns)
    assert design.min() >= 0.0
    np.testing.assert_allclose(design.sum(axis=1), 1.0, rtol=1e-12)


def test_both_ends_belong_to_the_range():
    assert BASIS.design([-8.0, 54.0]).shape == (2, 10)


@pytest.mark.parametrize("outside", [-8.1, 54.1, np.nan])
def test_values_outside_the_range_are_refused(outside):
    with pytest.raises(ValueError, match="outside -8 to 54"):
        BASIS.design([0.0, outside])


def test_columns_equal_single_b_spline_elements():
    x = np.linspace(-8.0, 54.0, 50)
    knots = BASIS.knots()
    for column in range(BASIS.columns):
        element = BSpline.basis_element(knots[column : column + 5], extrapolate=False)
        expected = np.nan_to_num(element(x))
        np.testing.assert_allclose(BASIS.design(x)[:, column], expected, atol=1e-12)


@given(st.floats(-5, 5), st.floats(-5, 5))
def test_second_differences_leave_a_straight_line_unpenalised(level, slope):
    coefficients = level + slope * np.arange(9.0)
    penalty = difference_penalty(9)
    assert abs(coefficients @ penalty @ coefficients) < 1e-9
    assert np.linalg.matrix_rank(penalty) == 7


def test_a_straight_line_of_coefficients_is_a_straight_line_of_handicap():
    x = np.linspace(-8.0, 54.0, 40)
    fitted = BASIS.design(x) @ np.arange(10.0)
    np.testing.assert_allclose(np.diff(fitted, 2), 0.0, atol=1e-12)


@pytest.mark.parametrize(("low", "high", "segments"), [(3.0, 3.0, 5), (4.0, 1.0, 5), (0.0, 1.0, 0)])
def test_an_impossible_basis_is_refused(low, high, segments):
    with pytest.raises(ValueError, match="needed"):
        SplineBasis(low=low, high=high, segments=segments)
    with pytest.raises(ValueError, match="more than order"):
        difference_penalty(2)
