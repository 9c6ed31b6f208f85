import csv
import json
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from norms.statistics.depth import functional_boxplot, modified_band_depth

REFERENCE = Path(__file__).parents[2] / "reference" / "functional"
CASES = {
    case["id"]: case["expected"]
    for case in json.loads((REFERENCE / "functional.json").read_text())["cases"]
}


def axis_curves(axis):
    with (REFERENCE / "curves.csv").open() as lines:
        rows = [row for row in csv.DictReader(lines) if row["axis"] == axis]
    values = [[float(row[f"p{k}"]) for k in range(101)] for row in rows]
    return [row["golfer"] for row in rows], np.array(values)


def brute_force_depth(curves):
    depth = np.zeros(len(curves))
    pairs = list(combinations(range(len(curves)), 2))
    for i, j in pairs:
        low, high = np.minimum(curves[i], curves[j]), np.maximum(curves[i], curves[j])
        depth += ((curves >= low) & (curves <= high)).mean(axis=1)
    return depth / len(pairs)


@pytest.mark.parametrize("axis", ["sway", "thrust", "lift"])
def test_depth_equals_the_reference_with_the_zero_node_left_out(axis):
    _, curves = axis_curves(axis)
    np.testing.assert_allclose(modified_band_depth(curves), CASES[f"mbd_{axis}"]["mbd"], atol=1e-9)


def test_depth_of_three_axes_is_the_mean_of_theirs():
    stacked = np.stack([axis_curves(axis)[1] for axis in ("sway", "thrust", "lift")], axis=1)
    depth = modified_band_depth(stacked)
    np.testing.assert_allclose(depth, CASES["mbd_mean_axes"]["mbd"], atol=1e-9)


def test_hand_checkable_depth_with_ties():
    case = CASES["mbd_small"]
    depth = modified_band_depth(np.array(case["curves"]))
    np.testing.assert_allclose(depth, case["mbd_brute"], atol=1e-12)


def test_four_constant_curves_have_the_textbook_depths():
    curves = np.repeat([[1.0], [2.0], [3.0], [4.0]], 3, axis=1)
    np.testing.assert_allclose(modified_band_depth(curves), [1 / 2, 5 / 6, 5 / 6, 1 / 2])


@given(
    arrays(np.int64, st.tuples(st.integers(2, 9), st.integers(1, 70)), elements=st.integers(-2, 2))
)
def test_depth_with_any_ties_equals_brute_force_over_pairs(values):
    curves = values.astype(float)
    varied = curves[:, curves.min(axis=0) < curves.max(axis=0)]
    expected = brute_force_depth(varied) if varied.size else np.ones(len(curves))
    np.testing.assert_allclose(modified_band_depth(curves), expected, atol=1e-12)


@given(st.integers(2, 40), st.integers(0, 1000))
def test_values_a_hair_apart_are_told_apart(n, seed):
    rng = np.random.default_rng(seed)
    steps = rng.integers(-3, 4, (n, 3))
    curves = np.float64(-1.0) + steps * np.finfo(float).eps
    expected = modified_band_depth(steps.astype(float))
    np.testing.assert_array_equal(modified_band_depth(curves), expected)


def test_the_two_signs_of_zero_are_one_value():
    curves = np.array([[0.0], [-0.0], [1.0], [-1.0]])
    assert modified_band_depth(curves)[0] == modified_band_depth(curves)[1]


def test_depth_does_not_change_under_a_rising_transform():
    curves = np.random.default_rng(3).normal(size=(25, 40))
    assert (modified_band_depth(curves) == modified_band_depth(np.exp(curves) * 3 + 1)).all()


def test_depth_needs_two_finite_curves():
    with pytest.raises(ValueError, match="at least 2"):
        modified_band_depth(np.zeros((1, 4)))
    with pytest.raises(ValueError, match="finite"):
        modified_band_depth(np.array([[0.0, 1.0], [np.nan, 2.0]]))


@pytest.mark.parametrize("axis", ["sway", "thrust", "lift"])
def test_functional_boxplot_equals_the_reference(axis):
    golfers, curves = axis_curves(axis)
    case = CASES[f"fboxplot_{axis}"]
    box = functional_boxplot(curves, modified_band_depth(curves))
    named = np.array(golfers)
    assert golfers[box.median] == case["median_curve"]
    assert sorted(named[box.central]) == case["central_ids"]
    assert list(named[box.outside]) == case["outliers_factor_1.5"]
    wider = functional_boxplot(curves, modified_band_depth(curves), factor=2.6)
    assert list(named[wider.outside]) == case["outliers_factor_2.6"]
    at = case["at_percent"]
    np.testing.assert_allclose(box.lower[at], case["region_lower"], atol=1e-9)
    np.testing.assert_allclose(box.upper[at], case["region_upper"], atol=1e-9)
    np.testing.assert_allclose(box.fence_lower[at], case["fence_lower"], atol=1e-9)
    np.testing.assert_allclose(box.fence_upper[at], case["fence_upper"], atol=1e-9)
