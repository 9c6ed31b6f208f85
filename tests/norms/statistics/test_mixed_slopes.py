"""Random slopes against statsmodels, published values, and the likelihood itself."""

import csv
import warnings
from pathlib import Path

import numpy as np
import pytest

from norms.statistics.mixed_slopes import fit_random_slope

SHARED = Path(__file__).parents[4] / "shared" / "checks"


def invented(seed, golfers=50, slope_sd=0.6):
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(golfers), rng.integers(2, 12, golfers))
    x = rng.normal(size=len(code))
    own = rng.multivariate_normal([0, 0], [[4.0, slope_sd], [slope_sd, slope_sd**2]], golfers)[code]
    y = 60 + 0.5 * x + own[:, 0] + own[:, 1] * x + rng.normal(size=len(code))
    return y, np.column_stack([np.ones(len(code)), x]), x, code


def test_agrees_with_statsmodels():
    from statsmodels.regression.mixed_linear_model import MixedLM

    y, design, x, code = invented(1)
    ours = fit_random_slope(y, design, x, code)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = MixedLM(y, design, code, exog_re=design).fit(reml=True)
    assert ours.fixed == pytest.approx(theirs.fe_params, abs=1e-4)
    assert ours.random_covariance == pytest.approx(theirs.cov_re, rel=5e-3, abs=1e-3)
    assert ours.residual_variance == pytest.approx(theirs.scale, rel=1e-3)
    assert ours.log_likelihood == pytest.approx(theirs.llf, abs=1e-3)
    assert ours.log_likelihood >= theirs.llf - 1e-6
    assert ours.converged
    assert not ours.singular


def read(name, *columns):
    with (SHARED / name).open(encoding="utf-8", newline="") as stream:
        table = list(csv.DictReader(stream))
    return [[row[column] for row in table] for column in columns]


# Bates and others (2015), J. Stat. Softw. 67(1); lme4 1.1-31 and lmerTest 3.1-3.
@pytest.mark.skipif(not SHARED.exists(), reason="the published data lie beside the project")
def test_sleep_deprivation_study_agrees_with_lme4():
    y, days, subject = read("sleepstudy.csv", "Reaction", "Days", "Subject")
    x = np.array(days, dtype=float)
    design = np.column_stack([np.ones(len(x)), x])
    fit = fit_random_slope(np.array(y, dtype=float), design, x, subject)
    assert fit.fixed == pytest.approx([251.405105, 10.467286], abs=1e-4)
    assert fit.standard_error == pytest.approx([6.824556, 1.545789], rel=1e-4)
    assert np.sqrt(np.diag(fit.random_covariance)) == pytest.approx([24.7407, 5.9221], rel=1e-3)
    assert np.sqrt(fit.residual_variance) == pytest.approx(25.591796, rel=1e-4)
    assert fit.freedom == pytest.approx([17.0, 17.0], rel=1e-3)
    assert -2 * fit.log_likelihood == pytest.approx(1743.628272, abs=1e-4)


# Pinheiro and Bates (2000), Mixed-Effects Models in S and S-PLUS; nlme equals statsmodels.
@pytest.mark.skipif(not SHARED.exists(), reason="the published data lie beside the project")
def test_growth_of_the_jaw_agrees_with_nlme():
    y, age, subject = read("orthodont.csv", "distance", "age", "Subject")
    x = np.array(age, dtype=float)
    design = np.column_stack([np.ones(len(x)), x])
    fit = fit_random_slope(np.array(y, dtype=float), design, x, subject)
    assert fit.fixed == pytest.approx([16.761111, 0.660185], abs=1e-5)
    assert fit.standard_error == pytest.approx([0.775246, 0.071253], rel=1e-4)
    assert np.sqrt(np.diag(fit.random_covariance)) == pytest.approx([2.327034, 0.226428], rel=1e-3)
    assert np.sqrt(fit.residual_variance) == pytest.approx(1.310040, rel=1e-4)
    assert fit.log_likelihood == pytest.approx(-221.318343, abs=1e-4)


def test_freedom_of_the_slope_counts_golfers_where_their_slopes_differ():
    y, design, x, code = invented(2, golfers=40, slope_sd=2.0)
    fit = fit_random_slope(y, design, x, code)
    assert 25 < fit.freedom[1] < 45


def test_a_slope_that_is_the_same_for_all_is_said_to_be_singular():
    found = [fit_random_slope(*invented(seed, slope_sd=0.0)).singular for seed in range(12)]
    assert any(found)


def test_units_of_the_slope_change_nothing_but_the_units():
    y, design, x, code = invented(3)
    one = fit_random_slope(y, design, x, code)
    scaled = design * [1.0, 100.0]
    other = fit_random_slope(y, scaled, 100.0 * x, code)
    assert other.fixed[1] == pytest.approx(one.fixed[1] / 100.0, rel=1e-4)
    assert other.freedom[1] == pytest.approx(one.freedom[1], rel=1e-3)
    assert other.random_covariance[1, 1] == pytest.approx(
        one.random_covariance[1, 1] / 1e4, rel=1e-3
    )
