import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.interpolate import BSpline

from norms.statistics.quantile_regression import fit_quantile, rearrange

REFERENCE = Path(__file__).parents[2] / "reference" / "quantile_regression"
CASES = json.loads((REFERENCE / "cases.json").read_text())["cases"]
HANDICAP, SWAY, WEIGHT = np.loadtxt(REFERENCE / "golfers.csv", delimiter=",", skiprows=1).T
LINE = np.column_stack([np.ones_like(HANDICAP), HANDICAP])


def check_loss(residuals, share, weights=1.0):
    """Sum of the check function, which a regression quantile makes smallest."""
    return float(np.sum(weights * residuals * (share - (residuals < 0))))


@pytest.mark.parametrize("case", ["synth_tau0.1", "synth_tau0.5", "synth_tau0.9"])
def test_coefficients_and_objective_equal_the_reference(case):
    expected = CASES[case]
    share = expected["tau"]
    plain = fit_quantile(LINE, SWAY, share)
    np.testing.assert_allclose(plain, expected["coef"], atol=1e-6)
    loss = check_loss(SWAY - LINE @ plain, share)
    assert loss == pytest.approx(expected["objective"], rel=1e-8)
    weighted = fit_quantile(LINE, SWAY, share, weights=WEIGHT)
    np.testing.assert_allclose(weighted, expected["coef_weighted"], atol=1e-6)
    loss = check_loss(SWAY - LINE @ weighted, share, WEIGHT)
    assert loss == pytest.approx(expected["objective_weighted"], rel=1e-8)


def test_crossing_splines_equal_the_reference_and_rise_after_rearranging():
    expected = CASES["rearrangement"]
    knots = np.r_[[-4.0] * 4, 8.0, 18.0, [31.0] * 4]
    design = BSpline.design_matrix(HANDICAP[:40], knots, 3).toarray()
    wanted = BSpline.design_matrix(np.array(expected["x"], float), knots, 3).toarray()
    raw = np.array([wanted @ fit_quantile(design, SWAY[:40], s) for s in expected["tau"]]).T
    np.testing.assert_allclose(raw, expected["Q_raw"], atol=0.02)
    assert (np.diff(expected["Q_raw"], axis=1) < 0).sum(axis=1).tolist() == expected[
        "crossings_per_x"
    ]
    np.testing.assert_allclose(rearrange(expected["Q_raw"]), expected["Q_rearranged"], atol=1e-12)


def test_rearrangement_with_unequal_steps_goes_by_their_length():
    expected = CASES["rearrange_unequal"]
    got = rearrange([2.0, 5.0, 3.0, 4.0], widths=[0.1, 0.2, 0.3, 0.4], shares=expected["u"])
    np.testing.assert_allclose(got, expected["after"], atol=1e-12)


def test_an_integer_weight_counts_as_copies_of_the_row():
    copies = np.repeat(np.arange(len(SWAY)), WEIGHT.astype(int))
    weighted = fit_quantile(LINE, SWAY, 0.9, weights=WEIGHT)
    np.testing.assert_allclose(weighted, fit_quantile(LINE[copies], SWAY[copies], 0.9), atol=1e-7)


@given(st.sampled_from([0.05, 0.25, 0.5, 0.9]), st.integers(0, 10_000))
def test_about_the_share_lies_below_and_no_nearby_coefficients_do_better(share, seed):
    rng = np.random.default_rng(seed)
    x = np.column_stack([np.ones(60), rng.normal(size=60)])
    y = x @ [1.0, 2.0] + rng.standard_t(3, size=60)
    fitted = fit_quantile(x, y, share)
    residuals = y - x @ fitted
    assert (residuals < -1e-9).mean() <= share <= (residuals <= 1e-9).mean()
    best = check_loss(residuals, share)
    for nudge in rng.normal(scale=0.05, size=(20, 2)):
        assert check_loss(y - x @ (fitted + nudge), share) >= best - 1e-9


@given(arrays(np.float64, (3, 7), elements=st.floats(-100, 100)))
def test_rearranging_keeps_the_values_and_makes_them_rise(values):
    rising = rearrange(values)
    assert (np.diff(rising, axis=1) >= 0).all()
    np.testing.assert_array_equal(np.sort(values, axis=1), rising)
    middles = (np.arange(7) + 0.5) / 7
    np.testing.assert_array_equal(rearrange(values, shares=middles), rising)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"share": 0.0}, "more than 0"),
        ({"share": 1.0}, "less than 1"),
        ({"weights": np.zeros(160)}, "positive"),
        ({"response": SWAY[:-1]}, "do not fit"),
    ],
)
def test_what_cannot_be_fitted_is_refused(changes, message):
    given_to_it = {"design": LINE, "response": SWAY, "share": 0.5} | changes
    with pytest.raises(ValueError, match=message):
        fit_quantile(**given_to_it)


def test_unequal_steps_without_places_to_read_are_refused():
    with pytest.raises(ValueError, match="shares"):
        rearrange([1.0, 2.0], widths=[0.2, 0.8])
