import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from norms.statistics.mixed_diagnostics import (
    FittedModel,
    estimates_without_each_group,
    residual_facts,
    variance_explained,
)
from norms.statistics.mixed_models import fit_random_intercepts

REFERENCE = Path(__file__).parents[2] / "reference" / "mixed"
CASES = {case["id"]: case for case in json.loads((REFERENCE / "mixed.json").read_text())["cases"]}


@pytest.fixture(scope="module")
def mundlak():
    import pandas as pd

    table = pd.read_csv(REFERENCE / "golfers.csv")
    between = table.groupby("golfer")["feature"].transform("mean")
    design = np.column_stack(
        [
            np.ones(len(table)),
            table["sex"] == "M",
            table["height_cm"] - 173.0,
            table["feature"] - between,
            between,
        ]
    ).astype(float)
    y = table["ball_speed"].to_numpy(dtype=float)
    names, codes = np.unique(table["golfer"].to_numpy(dtype=str), return_inverse=True)
    fit = fit_random_intercepts(y, design, np.empty((len(y), 1, 0)), codes)
    model = FittedModel(
        outcome=y,
        design=design,
        groups=codes,
        fixed=fit.fixed[0],
        group_variance=float(fit.group_variance[0]),
        residual_variance=float(fit.residual_variance[0]),
    )
    return names, model


def test_golfers_intercepts_are_those_of_lme4(mundlak):
    names, model = mundlak
    expected = CASES["golfers_mundlak_reml"]["expected"]["blup"]
    assert dict(zip(names, model.group_effects(), strict=True)) == pytest.approx(
        expected, rel=1e-3, abs=1e-4
    )


def test_variance_explained_is_nakagawas(mundlak):
    expected = CASES["golfers_r2"]["expected"]
    found = variance_explained(mundlak[1], (3, 4))
    assert found.marginal == pytest.approx(expected["marginal"], abs=1e-4)
    assert found.conditional == pytest.approx(expected["conditional"], abs=1e-4)
    within, between = found.parts
    assert 0 < within < between < found.marginal


def test_leaving_a_golfer_out_is_fitting_without_the_golfer_at_the_same_variances(mundlak):
    _, model = mundlak
    without = estimates_without_each_group(model)
    for golfer in (0, 7, 59):
        kept = model.groups != golfer
        code = np.unique(model.groups[kept], return_inverse=True)[1]
        counts = np.bincount(code)[code]
        y, x = model.outcome[kept], model.design[kept]
        covariance = np.eye(kept.sum()) + model.ratio * (code[:, None] == code)
        inverse = np.linalg.inv(covariance)
        expected = np.linalg.solve(x.T @ inverse @ x, x.T @ inverse @ y)
        assert counts.min() >= 1
        assert without[golfer] == pytest.approx(expected, rel=1e-7)


def test_the_golfer_who_spoils_it_is_the_most_influential(mundlak):
    _, model = mundlak
    spoilt = model.outcome + 8.0 * np.where(model.groups == 13, model.design[:, 3], 0.0)
    fit = fit_random_intercepts(spoilt, model.design, np.empty((len(spoilt), 1, 0)), model.groups)
    model = replace(model, outcome=spoilt, fixed=fit.fixed[0])
    change = np.abs(estimates_without_each_group(model)[:, 3] - model.fixed[3])
    assert change.argmax() == 13


def test_skewed_residuals_are_told_from_even_ones():
    rng = np.random.default_rng(2)
    code = np.repeat(np.arange(100), 10)
    base = FittedModel(
        outcome=rng.normal(size=1000),
        design=np.ones((1000, 1)),
        groups=code,
        fixed=np.zeros(1),
        group_variance=0.1,
        residual_variance=1.0,
    )
    skewed = replace(base, outcome=rng.exponential(size=1000) - 1.0)
    assert abs(residual_facts(base).skewness) < 0.3
    assert residual_facts(base).far_share < 0.01
    assert residual_facts(skewed).skewness > 1.0
    assert residual_facts(skewed).excess_kurtosis > 2.0
    assert residual_facts(skewed).far_share > 0.01
