import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.statistics.reliability import (
    individuality_index,
    one_way_reliability,
    smallest_detectable_change,
    spearman_brown,
    two_way_reliability,
)

REFERENCE = Path(__file__).parents[2] / "reference" / "icc"
CASES = {case["id"]: case for case in json.loads((REFERENCE / "icc.json").read_text())["cases"]}
# Shrout and Fleiss (1979), Psychol. Bull. 86:420, table 2: 6 targets, 4 judges.
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
)


def retest_table() -> np.ndarray:
    rows = pd.read_csv(REFERENCE / "retest_balanced.csv")
    return rows.pivot(index="golfer", columns="session", values="sway_cm").to_numpy()


def test_published_correlations_of_the_table_of_shrout_and_fleiss():
    icc = two_way_reliability(SHROUT_FLEISS).icc
    assert np.round(icc, 2).tolist() == [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]


@pytest.mark.parametrize("percent", [95, 90])
@pytest.mark.parametrize("name", ["shrout_fleiss", "retest_balanced"])
def test_six_correlations_intervals_and_errors_equal_those_of_r(name, percent):
    table = SHROUT_FLEISS if name == "shrout_fleiss" else retest_table()
    expected = CASES[f"{name}_{percent}"]["expected"]
    found = two_way_reliability(table, percent / 100)
    np.testing.assert_allclose(found.icc, expected["icc"], atol=1e-9)
    np.testing.assert_allclose(found.low, expected["lower"], atol=1e-6)
    np.testing.assert_allclose(found.high, expected["upper"], atol=1e-6)
    assert found.between_targets == pytest.approx(expected["MS_between"])
    assert found.between_measurements == pytest.approx(expected["MS_raters"])
    assert found.error == pytest.approx(expected["MS_error"])
    assert found.within_targets == pytest.approx(expected["MS_within"])
    assert found.sem_consistency == pytest.approx(expected["sem_consistency"])
    assert found.sem_agreement == pytest.approx(expected["sem_agreement"])
    change = smallest_detectable_change([found.sem_consistency, found.sem_agreement])
    assert change == pytest.approx([expected["mdc95_consistency"], expected["mdc95_agreement"]])


def test_negative_correlations_are_kept_and_limits_that_do_not_exist_are_nan():
    case = CASES["negative_icc"]
    found = two_way_reliability(case["wide"])
    np.testing.assert_allclose(found.icc[:3], case["expected"]["icc"][:3], atol=1e-9)
    assert np.isnan(found.low[[1, 4]]).all()


def test_unequal_groups_give_the_analysis_of_variance_of_r():
    rows = pd.read_csv(REFERENCE / "swings_unbalanced.csv")
    expected = CASES["swings_unbalanced_oneway"]["expected"]
    found = one_way_reliability(rows.sway_cm, rows.golfer)
    assert found.icc == pytest.approx(expected["icc_anova"], abs=1e-9)
    assert found.low == pytest.approx(expected["lower_F"], abs=1e-9)
    assert found.high == pytest.approx(expected["upper_F"], abs=1e-9)
    assert found.effective_size == pytest.approx(expected["k0"])
    assert (found.groups, found.observations) == (30, 125)
    assert found.sem == pytest.approx(expected["sem"])
    assert smallest_detectable_change(found.sem) == pytest.approx(expected["mdc95"])
    assert spearman_brown(found.icc, 3) == pytest.approx(expected["icc_mean_of_3"])


def test_equal_groups_give_the_one_way_form_of_shrout_and_fleiss():
    table = retest_table()
    groups = np.repeat(np.arange(len(table)), table.shape[1])
    one, two = one_way_reliability(table.ravel(), groups), two_way_reliability(table)
    assert [one.icc, one.low, one.high] == pytest.approx([two.icc[0], two.low[0], two.high[0]])


def test_values_that_never_vary_within_a_group_are_perfectly_reliable():
    found = one_way_reliability([1.0, 1.0, 2.0, 2.0], ["a", "a", "b", "b"])
    assert (found.icc, found.low, found.high, found.sem) == (1.0, 1.0, 1.0, 0.0)


def test_published_error_from_spread_and_correlation():
    # Weir (2005), J. Strength Cond. Res. 19:231 (formulae from memory): SD 10, ICC 0.91.
    assert smallest_detectable_change(10 * np.sqrt(1 - 0.91)) == pytest.approx(8.315423, abs=1e-6)
    # The 90 % value is given with 1.645 for the normal quantile.
    assert smallest_detectable_change(3.0, 0.90) == pytest.approx(6.979144, abs=1e-3)


def test_individuality_is_within_over_between():
    assert individuality_index([3.0, 1.0], [6.0, 0.0]).tolist() == [0.5, np.inf]


@pytest.mark.parametrize(("values", "groups"), [([1.0, 2.0], ["a", "a"]), ([1.0, 2.0], ["a", "b"])])
def test_groups_without_repeats_or_company_are_refused(values, groups):
    with pytest.raises(ValueError, match="measured twice"):
        one_way_reliability(values, groups)


@pytest.mark.parametrize("table", [[[1.0, 2.0]], [[1.0], [2.0]], [[1.0, np.nan], [2.0, 3.0]]])
def test_incomplete_tables_are_refused(table):
    with pytest.raises(ValueError, match="finite n by k table"):
        two_way_reliability(table)


@given(
    seed=st.integers(0, 2**32 - 1),
    shift=st.floats(-100, 100),
    scale=st.floats(0.01, 100) | st.floats(-100, -0.01),
)
def test_correlations_ignore_unit_and_zero_and_order_of_rows_and_columns(seed, shift, scale):
    rng = np.random.default_rng(seed)
    table = rng.normal(size=(7, 1)) + rng.normal(size=(7, 3))
    before = two_way_reliability(table)
    moved = shift + scale * table[rng.permutation(7)][:, rng.permutation(3)]
    after = two_way_reliability(moved)
    np.testing.assert_allclose(after.icc, before.icc, rtol=1e-6, atol=1e-8)
    assert after.sem_consistency == pytest.approx(abs(scale) * before.sem_consistency, rel=1e-6)
    groups = np.repeat(np.arange(7), 3)
    one = one_way_reliability(moved.ravel(), groups[::-1])
    assert one.icc == pytest.approx(before.icc[0], rel=1e-6, abs=1e-8)
