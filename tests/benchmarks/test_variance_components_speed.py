"""Nested REML of all features and nodes against statsmodels' mixed model of a few columns."""

import warnings
from time import perf_counter

import numpy as np
import pandas as pd
import pytest

from norms.statistics.variance_components import fit_nested

pytestmark = pytest.mark.benchmark

COLUMNS = 29 + 903
COMPARED = 3


def test_all_columns_take_less_than_a_few_of_statsmodels_with_the_same_values():
    import statsmodels.formula.api as smf

    rng = np.random.default_rng(0)
    golfer_of_day = np.repeat(np.arange(240), rng.integers(1, 4, 240))
    day = np.repeat(np.arange(len(golfer_of_day)), rng.integers(3, 8, len(golfer_of_day)))
    golfer = golfer_of_day[day]
    values = 2 * rng.normal(size=(240, COLUMNS))[golfer] + rng.normal(size=(len(day), COLUMNS))
    values += 0.7 * rng.normal(size=(len(golfer_of_day), COLUMNS))[day]

    start = perf_counter()
    fit = fit_nested(values, golfer, day)
    ours = perf_counter() - start
    start = perf_counter()
    theirs = []
    for column in values.T[:COMPARED]:
        table = pd.DataFrame({"y": column, "golfer": golfer, "day": day})
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = smf.mixedlm(
                "y ~ 1", table, groups="golfer", re_formula="1", vc_formula={"day": "0 + C(day)"}
            ).fit(reml=True)
        theirs.append([model.cov_re.iloc[0, 0], model.vcomp[0], model.scale])
    other = perf_counter() - start
    ratio = (other / COMPARED) / (ours / COLUMNS)
    print(f"{len(day)} swings, {COLUMNS} columns: {ours:.2f} s; {ratio:.0f} times per column")
    np.testing.assert_allclose(fit.variances[:, :COMPARED].T, theirs, rtol=5e-3)
    assert ours < other
