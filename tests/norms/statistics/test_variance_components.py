import json
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from norms.statistics.variance_components import correlation, fit_nested

REFERENCE = Path(__file__).parents[2] / "reference" / "icc"
SHARED = Path(__file__).parents[4] / "shared" / "checks"
CASES = {case["id"]: case for case in json.loads((REFERENCE / "icc.json").read_text())["cases"]}


def unbalanced(seed, golfers=14, sds=(2.0, 0.8, 1.1), columns=1):
    """Labels and values of one to three days of one to five swings."""
    rng = np.random.default_rng(seed)
    days = rng.integers(1, 4, golfers)
    golfer_of_day = np.repeat(np.arange(golfers), days)
    swings = rng.integers(1, 6, len(golfer_of_day))
    day = np.repeat(np.arange(len(golfer_of_day)), swings)
    golfer = golfer_of_day[day]
    parts = (
        sds[0] * rng.normal(size=(golfers, columns))[golfer],
        sds[1] * rng.normal(size=(len(swings), columns))[day],
        sds[2] * rng.normal(size=(len(day), columns)),
    )
    return sum(parts) + 5.0, golfer, day


def dense_likelihood(theta, y, golfer, day, design):
    """Restricted likelihood from the whole covariance matrix: slow, and written independently."""
    a, b, e = theta
    covariance = a * (golfer[:, None] == golfer) + b * (day[:, None] == day) + e * np.eye(len(y))
    inverse = np.linalg.inv(covariance)
    crossed = design.T @ inverse @ design
    residual = y - design @ np.linalg.solve(crossed, design.T @ inverse @ y)
    log_determinants = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(crossed)[1]
    freedom = len(y) - design.shape[1]
    return -0.5 * (log_determinants + residual @ inverse @ residual + freedom * np.log(2 * np.pi))


@pytest.mark.parametrize("seed", range(6))
def test_no_search_over_the_dense_likelihood_finds_better(seed):
    values, golfer, day = unbalanced(seed, sds=(2.0, 0.4, 1.1))
    lab = (golfer % 2).astype(float)
    design = np.column_stack([1 - lab, lab])
    fit = fit_nested(values, golfer, day, design)
    y = values[:, 0]
    assert fit.converged.all()
    reached = dense_likelihood(fit.variances[:, 0], y, golfer, day, design)
    assert fit.log_likelihood[0] == pytest.approx(reached, abs=1e-8)
    best = minimize(
        lambda theta: -dense_likelihood(theta, y, golfer, day, design),
        np.maximum(fit.variances[:, 0], 0.1),
        method="L-BFGS-B",
        bounds=[(0, None), (0, None), (1e-6, None)],
    )
    assert fit.log_likelihood[0] >= -best.fun - 1e-8
    np.testing.assert_allclose(fit.variances[:, 0], best.x, atol=2e-3)


@pytest.mark.parametrize("seed", [1, 4])
def test_components_equal_those_of_statsmodels(seed):
    import statsmodels.formula.api as smf

    values, golfer, day = unbalanced(seed, golfers=30)
    fit = fit_nested(values, golfer, day)
    table = pd.DataFrame({"y": values[:, 0], "golfer": golfer, "day": day})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = smf.mixedlm(
            "y ~ 1", table, groups="golfer", re_formula="1", vc_formula={"day": "0 + C(day)"}
        ).fit(reml=True)
    expected = [other.cov_re.iloc[0, 0], other.vcomp[0], other.scale]
    np.testing.assert_allclose(fit.variances[:, 0], expected, rtol=2e-3, atol=1e-4)
    assert fit.log_likelihood[0] == pytest.approx(other.llf, abs=1e-5)
    assert fit.fixed[0, 0] == pytest.approx(other.fe_params.iloc[0], rel=1e-4)


def test_one_level_equals_lme4():
    for name, column, file in (
        ("swings_unbalanced_oneway", "reml_var", "swings_unbalanced.csv"),
        ("retest_missing", "oneway_var", "retest_missing.csv"),
    ):
        rows = pd.read_csv(REFERENCE / file)
        fit = fit_nested(rows.sway_cm, rows.golfer, np.zeros(len(rows)))
        expected = CASES[name]["expected"]
        between = expected.get(f"{column}_between", expected.get(f"{column}_subject"))
        within = expected.get(f"{column}_within", expected.get(f"{column}_error"))
        assert fit.variances[0, 0] == pytest.approx(between, rel=1e-5)
        assert fit.variances[2, 0] == pytest.approx(within, rel=1e-5)
        assert np.isnan(fit.variances[1, 0])


def test_published_dyestuff_batches():
    # Davies and Goldsmith (1972), Statistical Methods in Research and Production, table 6.3.
    file = SHARED / "dyestuff.csv"
    if not file.exists():
        pytest.skip("the published table is kept beside the project, not in it")
    rows = pd.read_csv(file)
    fit = fit_nested(rows.Yield, rows.Batch, np.zeros(len(rows)))
    np.testing.assert_allclose(fit.variances[[0, 2], 0], [1764.05, 2451.25], rtol=1e-7)
    assert -2 * fit.log_likelihood[0] == pytest.approx(319.654277, abs=1e-6)
    assert fit.fixed[0, 0] == pytest.approx(1527.5)


def test_balanced_data_give_the_nested_analysis_of_variance():
    rng = np.random.default_rng(8)
    golfers, days, swings = 12, 3, 4
    cube = 3 * rng.normal(size=(golfers, 1, 1)) + rng.normal(size=(golfers, days, 1))
    cube = cube + 1.5 * rng.normal(size=(golfers, days, swings))
    swing_ms = cube.var(axis=2, ddof=1).mean()
    day_ms = swings * cube.mean(axis=2).var(axis=1, ddof=1).mean()
    golfer_ms = days * swings * cube.mean(axis=(1, 2)).var(ddof=1)
    golfer, day, _ = np.indices(cube.shape).reshape(3, -1)
    fit = fit_nested(cube.ravel(), golfer, day)
    expected = [(golfer_ms - day_ms) / (days * swings), (day_ms - swing_ms) / swings, swing_ms]
    np.testing.assert_allclose(fit.variances[:, 0], expected, rtol=1e-7)
    # Exact sampling variance of a pooled mean square: 2 MS^2 / df.
    df = golfers * days * (swings - 1)
    assert fit.covariance[2, 2, 0] == pytest.approx(2 * swing_ms**2 / df, rel=1e-6)


def test_a_component_that_would_be_negative_is_zero():
    # Golfers alike, days apart by 2: between golfers less than chance.
    golfer, day = np.repeat(np.arange(6), 4), np.tile([0, 0, 1, 1], 6)
    fit = fit_nested(np.tile([1.0, 2.0, 3.0, 4.0], 6), golfer, day)
    assert fit.variances[0, 0] == 0.0
    # With one component at zero the other is the one-way estimate over 12 days of 2 swings.
    assert fit.variances[1, 0] == pytest.approx((24 / 11 - 0.5) / 2)
    assert fit.variances[2, 0] == pytest.approx(0.5)
    assert fit.converged.all()


def test_what_the_design_does_not_tell_is_nan():
    rng = np.random.default_rng(2)
    golfer = np.repeat(np.arange(10), 4)
    one_day = fit_nested(rng.normal(size=40), golfer, np.zeros(40))
    assert np.isnan(one_day.variances[:, 0]).tolist() == [False, True, False]
    one_swing_a_day = fit_nested(rng.normal(size=40), golfer, np.arange(40))
    assert np.isnan(one_swing_a_day.variances[:, 0]).tolist() == [False, True, False]
    nothing_twice = fit_nested(rng.normal(size=40), np.arange(40), np.arange(40))
    assert np.isnan(nothing_twice.variances).all()
    one_golfer = fit_nested(rng.normal(size=40), np.zeros(40), np.repeat(np.arange(10), 4))
    assert np.isnan(one_golfer.variances[:, 0]).tolist() == [True, False, False]
    assert np.isnan(correlation(one_golfer)).all()
    lab_of_each_golfer = np.repeat([0, 1], 20)
    design = np.eye(2)[lab_of_each_golfer]
    day = np.repeat(np.arange(10), 4)
    one_golfer_a_lab = fit_nested(rng.normal(size=40), lab_of_each_golfer, day, design)
    assert np.isnan(one_golfer_a_lab.variances[:, 0]).tolist() == [True, False, False]


def test_responses_without_spread_or_without_values_do_not_disturb_the_others():
    values, golfer, day = unbalanced(3)
    beside = np.column_stack([values, np.full(len(values), 7.0), np.full(len(values), np.nan)])
    fit = fit_nested(beside, golfer, day)
    np.testing.assert_allclose(fit.variances[:, 0], fit_nested(values, golfer, day).variances[:, 0])
    assert fit.variances[:, 1].tolist() == [0.0, 0.0, 0.0]
    assert fit.fixed[0, 1] == pytest.approx(7.0)
    assert np.isnan(fit.variances[:, 2]).all()
    assert fit.observations.tolist() == [len(values), len(values), 0]


def test_a_lab_that_never_gave_a_response_is_left_out_for_it():
    values, golfer, day = unbalanced(5, columns=2)
    lab = golfer % 2
    values[lab == 1, 1] = np.nan
    fit = fit_nested(values, golfer, day, np.eye(2)[lab])
    alone = fit_nested(values[lab == 0, 1], golfer[lab == 0], day[lab == 0])
    np.testing.assert_allclose(fit.variances[:, 1], alone.variances[:, 0], rtol=1e-6)
    assert fit.fixed[0, 1] == pytest.approx(alone.fixed[0, 0])
    assert np.isnan(fit.fixed[1, 1])
    assert fit.log_likelihood[1] == pytest.approx(alone.log_likelihood[0])


def test_swings_that_never_vary_within_a_day_leave_all_variance_to_days_and_golfers():
    rng = np.random.default_rng(0)
    fit = fit_nested(
        np.repeat(rng.normal(size=20), 3), np.repeat(np.arange(5), 12), np.repeat(np.arange(20), 3)
    )
    assert fit.variances[2, 0] < 1e-9
    assert np.isfinite(fit.covariance).all()


def test_missing_values_of_a_response_are_as_if_never_recorded():
    values, golfer, day = unbalanced(6, columns=2)
    gone = np.random.default_rng(1).random(len(values)) < 0.3
    values[gone, 1] = np.nan
    fit = fit_nested(values, golfer, day)
    alone = fit_nested(values[~gone, 1], golfer[~gone], day[~gone])
    np.testing.assert_allclose(fit.variances[:, 1], alone.variances[:, 0], rtol=1e-6, atol=1e-9)
    counts = (fit.observations[1], fit.inner_units[1], fit.outer_units[1])
    assert counts == (alone.observations[0], alone.inner_units[0], alone.outer_units[0])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"outer": np.arange(3)}, "equal, positive numbers"),
        ({"design": np.arange(4.0)[:, None]}, "varies within an inner unit"),
        ({"design": np.ones((4, 2))}, "fixed effects apart"),
        ({"design": np.full((4, 1), np.nan)}, "where finite"),
    ],
)
def test_contradictory_input_is_refused(change, message):
    arguments = {"values": np.arange(4.0), "outer": [0, 0, 1, 1], "inner": [0, 0, 0, 0]} | change
    with pytest.raises(ValueError, match=message):
        fit_nested(**arguments)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    shift=st.floats(-1000, 1000),
    scale=st.floats(0.01, 100) | st.floats(-100, -0.01),
)
def test_components_follow_unit_and_zero_and_ignore_order_and_names(seed, shift, scale):
    values, golfer, day = unbalanced(seed, golfers=8)
    before = fit_nested(values, golfer, day)
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(values))
    renamed = np.array([f"g{code}" for code in rng.permutation(8)])[golfer]
    after = fit_nested((shift + scale * values)[order], renamed[order], day[order])
    size = scale**2 * np.var(values)
    np.testing.assert_allclose(
        after.variances, scale**2 * before.variances, rtol=1e-5, atol=1e-6 * size
    )
    np.testing.assert_allclose(
        after.fixed, shift + scale * before.fixed, rtol=1e-6, atol=1e-6 * (abs(shift) + 1)
    )
    np.testing.assert_allclose(correlation(after), correlation(before), atol=1e-5)
