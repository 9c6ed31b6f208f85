"""Random-intercept fits against lme4, statsmodels, published tables and the full likelihood."""

import csv
import json
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from norms.statistics.mixed_models import fit_random_intercepts
from norms.statistics.within_between import within_and_between

REFERENCE = Path(__file__).parents[2] / "reference" / "mixed"
SHARED = Path(__file__).parents[4] / "shared" / "checks"
CASES = {case["id"]: case for case in json.loads((REFERENCE / "mixed.json").read_text())["cases"]}


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def golfers():
    table = rows("golfers.csv")
    feature = np.array([float(row["feature"]) for row in table])[:, None]
    codes = np.array([row["golfer"] for row in table])
    mean = np.array([feature[codes == code].mean() for code in codes])
    return {
        "y": np.array([float(row["ball_speed"]) for row in table]),
        "feature": feature[:, 0],
        "between": mean,
        "within": feature[:, 0] - mean,
        "male": np.array([float(row["sex"] == "M") for row in table]),
        "height_c": np.array([float(row["height_cm"]) - 173.0 for row in table]),
        "codes": codes,
    }


COLUMNS = {
    "golfers_mundlak_reml": (("within", "feature_w"), ("between", "feature_b")),
    "golfers_mundlak_ml": (("within", "feature_w"), ("between", "feature_b")),
    "golfers_pooled_slope_reml": (("feature", "feature"),),
    "golfers_context_reml": (("feature", "feature"), ("between", "feature_b")),
}


def fitted(golfers, names, method="reml"):
    shared = np.column_stack([np.ones(len(golfers["y"])), golfers["male"], golfers["height_c"]])
    own = np.stack([golfers[name] for name in names], axis=1)[:, None, :]
    return fit_random_intercepts(golfers["y"], shared, own, golfers["codes"], method=method)


@pytest.mark.parametrize("case", COLUMNS)
def test_agrees_with_lme4_and_lmertest(golfers, case):
    expected = CASES[case]["expected"]
    fit = fitted(golfers, [ours for ours, _ in COLUMNS[case]], case.rsplit("_", 1)[1])
    names = ["(Intercept)", "male", "height_c", *(theirs for _, theirs in COLUMNS[case])]
    for column, name in enumerate(names):
        effect = fit.effect(column)
        assert effect.value[0] == pytest.approx(expected["fixef"][name], abs=1e-4)
        assert effect.standard_error[0] == pytest.approx(expected["se"][name], rel=1e-4)
        assert effect.freedom[0] == pytest.approx(expected["satterthwaite"]["df"][name], rel=1e-3)
        assert effect.p_value[0] == pytest.approx(expected["satterthwaite"]["p"][name], rel=1e-3)
    assert fit.group_variance[0] == pytest.approx(expected["var_random"], rel=1e-4)
    assert fit.residual_variance[0] == pytest.approx(expected["var_resid"], rel=1e-4)
    assert fit.log_likelihood[0] == pytest.approx(expected["loglik"], abs=1e-4)
    assert fit.converged[0]
    assert not fit.singular[0]


def test_the_test_that_both_slopes_are_equal_agrees_with_lmertest(golfers):
    expected = CASES["golfers_within_between_contrast"]["expected"]
    found = fitted(golfers, ["within", "between"]).combination([0, 0, 0, -1, 1])
    assert found.value[0] == pytest.approx(expected["estimate"], abs=1e-4)
    assert found.standard_error[0] == pytest.approx(expected["se"], rel=1e-4)
    assert found.freedom[0] == pytest.approx(expected["df"], rel=1e-3)
    assert found.p_value[0] == pytest.approx(expected["p"], rel=1e-3)


def test_the_likelihood_ratio_of_full_fits_agrees_with_lme4(golfers):
    full = fitted(golfers, ["within", "between"], "ml").log_likelihood[0]
    shared = np.column_stack([np.ones(len(golfers["y"])), golfers["male"], golfers["height_c"]])
    nothing = np.empty((len(golfers["y"]), 1, 0))
    bare = fit_random_intercepts(golfers["y"], shared, nothing, golfers["codes"], method="ml")
    expected = CASES["golfers_lrt"]["expected"]["chisq"]
    assert 2 * (full - bare.log_likelihood[0]) == pytest.approx(expected, rel=1e-4)


def test_a_singular_fit_is_said_and_is_the_ordinary_regression():
    table = rows("singular.csv")
    y = np.array([float(row["y"]) for row in table])
    codes = [row["golfer"] for row in table]
    fit = fit_random_intercepts(y, np.ones((len(y), 1)), np.empty((len(y), 1, 0)), codes)
    expected = CASES["singular_reml"]["expected"]
    assert fit.singular[0]
    assert fit.converged[0]
    assert fit.group_variance[0] == 0.0
    assert fit.fixed[0, 0] == pytest.approx(expected["intercept"], abs=1e-4)
    assert fit.residual_variance[0] == pytest.approx(expected["var_resid"], abs=1e-4)
    # Between golfers the golfers are counted, not their swings.
    assert fit.effect(0).freedom[0] == len(set(codes)) - 1


# Baltagi's Grunfeld data as statsmodels ships them; the plm vignette's table of estimators.
def test_within_and_between_slopes_of_the_grunfeld_data_are_those_published():
    from statsmodels.datasets import grunfeld

    data = grunfeld.load_pandas().data
    data = data[data["firm"] != "American Steel"]
    firm = data["firm"].to_numpy(dtype=str)
    values = data[["value", "capital"]].to_numpy(dtype=float)
    parts = within_and_between(values, firm, np.zeros(len(firm)))
    own = np.concatenate([parts.within, parts.between], axis=1)[:, None, :]
    invest = data["invest"].to_numpy(dtype=float)
    fit = fit_random_intercepts(invest, np.ones((len(firm), 1)), own, firm)
    assert fit.fixed[0, 1:] == pytest.approx([0.11012, 0.31007, 0.13465, 0.03203], abs=1e-5)
    between = values.mean(axis=0) @ [0.13465, 0.03203]
    assert fit.fixed[0, 0] == pytest.approx(-8.52711 + between, abs=0.02)
    assert np.sqrt(fit.residual_variance[0]) == pytest.approx(52.768, abs=0.001)


# NIST/ITL Statistical Reference Datasets, analysis of variance, as scipy ships them: in a balanced
# design the restricted estimates follow from the certified mean squares.
@pytest.mark.parametrize("name", ["SiRstv", "SmLs01", "SmLs04", "AtmWtAg"])
def test_balanced_designs_give_the_certified_mean_squares_of_nist(name):
    import scipy.stats

    folder = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_anova"
    if not folder.exists():
        pytest.skip("this scipy came without its tests")
    lines = (folder / f"{name}.dat").read_text(encoding="utf-8").splitlines()
    certified = [line.split() for line in lines[40:47]]
    between = float(next(words for words in certified if words[:1] == ["Between"])[4])
    within = float(next(words for words in certified if words[:1] == ["Within"])[4])
    data = np.array([line.split() for line in lines[60:] if line.strip()], dtype=float)
    y, codes = data[:, 1], data[:, 0]
    size = len(y) / len(np.unique(codes))
    fit = fit_random_intercepts(y, np.ones((len(y), 1)), np.empty((len(y), 1, 0)), codes)
    assert fit.fixed[0, 0] == pytest.approx(y.mean(), rel=1e-12)
    assert fit.residual_variance[0] == pytest.approx(within, rel=1e-6)
    assert fit.group_variance[0] == pytest.approx((between - within) / size, rel=1e-6)


# Bates, Maechler, Bolker and Walker (2015), J. Stat. Softw. 67(1); values by lme4 1.1-31.
@pytest.mark.skipif(not SHARED.exists(), reason="the published data lie beside the project")
def test_sleep_deprivation_study_agrees_with_lme4():
    with (SHARED / "sleepstudy.csv").open(encoding="utf-8", newline="") as stream:
        table = list(csv.DictReader(stream))
    days = np.array([float(row["Days"]) for row in table])
    reaction = np.array([float(row["Reaction"]) for row in table])
    subject = [row["Subject"] for row in table]
    fit = fit_random_intercepts(reaction, np.ones((len(days), 1)), days[:, None, None], subject)
    assert fit.fixed[0] == pytest.approx([251.405105, 10.467286], abs=1e-4)
    assert fit.effect(0).standard_error[0] == pytest.approx(9.7467163, rel=1e-4)
    assert fit.effect(1).freedom[0] == pytest.approx(161.0, rel=1e-3)
    assert fit.group_variance[0] == pytest.approx(1378.17854, rel=1e-4)
    assert fit.log_likelihood[0] == pytest.approx(-893.232543, abs=1e-4)


def many_models(seed, golfers=40, columns=5):
    rng = np.random.default_rng(seed)
    counts = rng.integers(1, 9, golfers)
    code = np.repeat(np.arange(golfers), counts)
    x = rng.normal(size=(golfers, columns))[code] + rng.normal(size=(len(code), columns))
    x[rng.random(x.shape) < 0.05] = np.nan
    age = rng.normal(size=golfers)[code]
    y = 60 + 2 * rng.normal(size=golfers)[code] + age + rng.normal(size=len(code))
    y += 0.4 * np.nan_to_num(x[:, 0])
    parts = within_and_between(x, code, np.zeros(len(code)))
    own = np.stack([parts.within, parts.between], axis=2)
    return y, np.column_stack([np.ones(len(code)), age]), own, code


def test_all_models_at_once_agree_with_statsmodels_one_by_one():
    from statsmodels.regression.mixed_linear_model import MixedLM

    y, shared, own, code = many_models(3)
    fit = fit_random_intercepts(y, shared, own, code)
    for model in range(own.shape[1]):
        seen = np.isfinite(own[:, model]).all(axis=1)
        design = np.column_stack([shared, own[:, model]])[seen]
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = MixedLM(y[seen], design, code[seen]).fit(reml=True)
        assert fit.observations[model] == seen.sum()
        assert fit.fixed[model] == pytest.approx(theirs.fe_params, abs=1e-4)
        assert fit.group_variance[model] == pytest.approx(theirs.cov_re[0, 0], rel=1e-3)
        assert fit.log_likelihood[model] == pytest.approx(theirs.llf, abs=1e-4)


def test_models_fitted_together_are_those_fitted_alone():
    y, shared, own, code = many_models(4)
    together = fit_random_intercepts(y, shared, own, code)
    for model in range(own.shape[1]):
        alone = fit_random_intercepts(y, shared, own[:, model : model + 1], code)
        assert together.fixed[model] == pytest.approx(alone.fixed[0], rel=1e-9)
        assert together.effect(3).freedom[model] == pytest.approx(
            alone.effect(3).freedom[0], rel=1e-6
        )


def dense_deviance(theta, y, x, code):
    """Restricted deviance from the whole covariance matrix: slow, and written independently."""
    v = np.eye(len(y)) + theta * (code[:, None] == code)
    inverse = np.linalg.inv(v)
    information = x.T @ inverse @ x
    fixed = np.linalg.solve(information, x.T @ inverse @ y)
    rest = y - x @ fixed
    variance = rest @ inverse @ rest / (len(y) - x.shape[1])
    covariance = variance * v
    precision = np.linalg.inv(covariance)
    return (
        np.linalg.slogdet(covariance)[1]
        + np.linalg.slogdet(x.T @ precision @ x)[1]
        + rest @ precision @ rest
        + (len(y) - x.shape[1]) * np.log(2 * np.pi)
    )


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.floats(0.0, 3.0))
def test_no_other_variance_ratio_has_a_greater_likelihood(seed, spread):
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(8), rng.integers(1, 6, 8))
    x = np.column_stack([np.ones(len(code)), rng.normal(size=len(code))])
    y = spread * rng.normal(size=8)[code] + rng.normal(size=len(code))
    fit = fit_random_intercepts(y, x, np.empty((len(y), 1, 0)), code)
    ratio = fit.group_variance[0] / fit.residual_variance[0]
    best = dense_deviance(ratio, y, x, code)
    assert -2 * fit.log_likelihood[0] == pytest.approx(best, abs=1e-6)
    for other in (0.0, 0.5 * ratio, 0.98 * ratio, 1.02 * ratio + 1e-3, 2 * ratio + 0.1, 10.0):
        assert dense_deviance(other, y, x, code) >= best - 1e-6


@settings(deadline=None, max_examples=20)
@given(
    st.integers(0, 10_000),
    st.floats(0.01, 100.0),
    st.floats(0.01, 100.0),
    st.floats(-50.0, 50.0),
)
def test_units_change_slopes_and_nothing_else(seed, of_x, of_y, shift):
    y, shared, own, code = many_models(seed, golfers=15, columns=1)
    one = fit_random_intercepts(y, shared, own, code)
    other = fit_random_intercepts(of_y * y + shift, shared, of_x * own, code)
    if one.singular[0]:
        return
    assert other.fixed[0, 2:] == pytest.approx(one.fixed[0, 2:] * of_y / of_x, rel=1e-5, abs=1e-9)
    assert other.effect(2).p_value[0] == pytest.approx(one.effect(2).p_value[0], rel=1e-4)


def test_a_column_that_others_hold_is_not_told_and_leaves_the_rest_alone():
    y, shared, own, code = many_models(5, columns=1)
    own = own.copy()
    own[:, 0, 0] = 0.0 * own[:, 0, 0]
    fit = fit_random_intercepts(y, shared, own, code)
    assert np.isnan(fit.fixed[0, 2])
    assert np.isnan(fit.effect(2).p_value[0])
    bare = fit_random_intercepts(y, shared, own[:, :, 1:], code)
    assert fit.fixed[0, 3] == pytest.approx(bare.fixed[0, 2], rel=1e-9)
    assert fit.effect(3).freedom[0] == pytest.approx(bare.effect(2).freedom[0], rel=1e-6)
    assert fit.log_likelihood[0] == pytest.approx(bare.log_likelihood[0], abs=1e-8)


def test_a_model_without_data_is_empty_and_the_others_stand():
    y, shared, own, code = many_models(6, columns=2)
    own = own.copy()
    own[:, 0] = np.nan
    fit = fit_random_intercepts(y, shared, own, code)
    assert np.isnan(fit.fixed[0]).all()
    assert not fit.converged[0]
    assert np.isnan(fit.effect(2).value[0])
    alone = fit_random_intercepts(y, shared, own[:, 1:], code)
    assert fit.fixed[1] == pytest.approx(alone.fixed[0], rel=1e-12)


def test_one_observation_a_golfer_is_ordinary_regression_within_rounding():
    rng = np.random.default_rng(9)
    x = np.column_stack([np.ones(30), rng.normal(size=30)])
    y = x @ [1.0, 2.0] + rng.normal(size=30)
    fit = fit_random_intercepts(y, x, np.empty((30, 1, 0)), np.arange(30))
    slope = stats.linregress(x[:, 1], y)
    assert fit.fixed[0, 1] == pytest.approx(slope.slope, rel=1e-9)
    assert fit.effect(1).standard_error[0] == pytest.approx(slope.stderr, rel=1e-6)


def test_lengths_that_differ_are_refused():
    with pytest.raises(ValueError, match="one entry per observation"):
        fit_random_intercepts(np.ones(3), np.ones((2, 1)), np.empty((3, 1, 0)), [1, 1, 2])
