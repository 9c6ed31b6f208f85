import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from norms.statistics.reliability import individuality_index, smallest_detectable_change
from norms.statistics.variance_components import correlation, fit_nested

REFERENCE = Path(__file__).parents[2] / "reference" / "icc"
CASES = {case["id"]: case for case in json.loads((REFERENCE / "icc.json").read_text())["cases"]}
# Shrout and Fleiss (1979), Psychol. Bull. 86:420, table 2: 6 targets, 4 judges.
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float
)


def one_level(values, golfers):
    """Every golfer measured on one day, so that the day is the golfer: correlation and error."""
    fit = fit_nested(values, golfers, np.zeros(len(values)))
    return [float(one[0]) for one in correlation(fit, same_inner=True)], np.sqrt(fit.variances[2])


def balanced(name):
    if name == "shrout_fleiss":
        return SHROUT_FLEISS.ravel(), np.repeat(np.arange(6), 4)
    rows = pd.read_csv(REFERENCE / "retest_balanced.csv")
    return rows.sway_cm.to_numpy(), rows.golfer.to_numpy()


def test_the_published_one_way_correlation_of_the_table_of_shrout_and_fleiss():
    (icc, _, _), _ = one_level(*balanced("shrout_fleiss"))
    assert round(icc, 2) == 0.17


@pytest.mark.parametrize("name", ["shrout_fleiss", "retest_balanced"])
def test_as_many_swings_each_give_the_analysis_of_variance_of_r(name):
    expected = CASES[f"{name}_95"]["expected"]
    (icc, _, _), error = one_level(*balanced(name))
    assert icc == pytest.approx(expected["icc"][0], abs=1e-8)
    assert error == pytest.approx(expected["sem_oneway"], abs=1e-8)
    assert smallest_detectable_change(error) == pytest.approx(expected["mdc95_oneway"])


def test_the_interval_is_close_to_the_exact_one_of_f():
    expected = CASES["retest_balanced_95"]["expected"]
    (_, low, high), _ = one_level(*balanced("retest_balanced"))
    assert [low, high] == pytest.approx([expected["lower"][0], expected["upper"][0]], abs=0.03)


def test_published_error_from_spread_and_correlation():
    # Weir (2005), J. Strength Cond. Res. 19:231 (formulae from memory): SD 10, ICC 0.91.
    assert smallest_detectable_change(10 * np.sqrt(1 - 0.91)) == pytest.approx(8.315423, abs=1e-6)
    # The 90 % value is given with 1.645 for the normal quantile.
    assert smallest_detectable_change(3.0, 0.90) == pytest.approx(6.979144, abs=1e-3)


def test_individuality_is_within_over_between():
    assert individuality_index([3.0, 1.0], [6.0, 0.0]).tolist() == [0.5, np.inf]
