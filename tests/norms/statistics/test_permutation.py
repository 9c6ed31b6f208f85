import csv
import json
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from norms.statistics.permutation import max_t_between_groups, max_t_within_golfers

REFERENCE = Path(__file__).parents[2] / "reference" / "functional"
CASES = {
    case["id"]: case["expected"]
    for case in json.loads((REFERENCE / "functional.json").read_text())["cases"]
}


def sway(group):
    with (REFERENCE / "curves.csv").open() as lines:
        rows = [r for r in csv.DictReader(lines) if r["axis"] == "sway" and r["group"] == group]
    return np.array([[float(row[f"p{k}"]) for k in range(101)] for row in rows])


def rng():
    return np.random.default_rng(11)


def test_enumerated_test_equals_the_reference():
    case = CASES["permutation_maxT_6v6"]
    test = max_t_between_groups(sway("low")[:6], sway("high")[:6], rng())
    assert test.exact
    assert test.relabellings == case["n_perm"]
    np.testing.assert_allclose(test.t[1:], case["obs_t"], atol=1e-9)
    assert np.isnan(test.t[0])  # zero at the start by definition
    assert test.largest == pytest.approx(case["obs_max_abs"], abs=1e-9)
    assert test.p_value == pytest.approx(case["p_maxT"], abs=1e-12)
    assert test.critical == pytest.approx(case["crit_95_higher"], abs=1e-9)
    np.testing.assert_allclose(test.node_p_values[1:], case["p_pointwise_adjusted"], atol=1e-12)


def test_twenty_relabellings_by_hand():
    case = CASES["permutation_maxT_small"]
    test = max_t_between_groups(np.array(case["A"]), np.array(case["B"]), rng())
    np.testing.assert_allclose(test.t, case["obs_t"], atol=1e-9)
    assert test.p_value == pytest.approx(case["p_maxT"])
    assert test.relabellings == 20


def test_t_equals_an_independent_package_at_every_node():
    between = max_t_between_groups(sway("low"), sway("high"), rng(), relabellings=19)
    np.testing.assert_allclose(between.t[1:], CASES["spm_ttest2_synth"]["z"], atol=1e-8)
    within = max_t_within_golfers(sway("low"), rng(), relabellings=19)
    np.testing.assert_allclose(within.t[1:], CASES["spm_ttest1_synth"]["z"], atol=1e-8)


def test_sampled_p_value_counts_the_observed_labels():
    test = max_t_between_groups(
        np.arange(30.0)[:, None], np.arange(100.0, 130)[:, None], rng(), relabellings=99
    )
    assert not test.exact
    assert test.p_value == 1 / 100
    assert test.relabellings == 100


def test_sampled_p_value_is_near_the_enumerated_one():
    first, second = sway("low")[:6], sway("high")[:6]
    exact = max_t_between_groups(first, second, rng())
    sampled = max_t_between_groups(first, second, rng(), exact_limit=0)
    error = np.sqrt(exact.p_value * (1 - exact.p_value) / 9999)
    assert sampled.p_value == pytest.approx(exact.p_value, abs=5 * error + 1e-4)


def test_enumerated_signs_equal_a_plain_loop():
    differences = np.random.default_rng(2).normal(0.4, 1, (8, 15))
    largest = [
        np.abs(stats.ttest_1samp(differences * np.array(signs)[:, None], 0).statistic).max()
        for signs in product((1, -1), repeat=8)
    ]
    test = max_t_within_golfers(differences, rng())
    assert test.relabellings == 256
    assert test.p_value == np.mean(np.array(largest) >= test.largest - 1e-9)


def test_same_seed_same_answer():
    first, second = sway("low"), sway("high")
    tests = [max_t_between_groups(first, second, rng(), relabellings=199) for _ in range(2)]
    assert tests[0].p_value == tests[1].p_value
    assert tests[0].critical == tests[1].critical


def test_groups_without_inner_spread_have_an_infinite_t():
    test = max_t_between_groups(np.zeros((4, 2)), np.ones((4, 2)), rng())
    assert test.largest == np.inf
    assert test.p_value == pytest.approx(2 / 70)


def test_curves_that_cannot_be_tested_are_refused():
    with pytest.raises(ValueError, match="at least 2"):
        max_t_between_groups(np.zeros((1, 3)), np.ones((4, 3)), rng())
    with pytest.raises(ValueError, match="nothing to test"):
        max_t_between_groups(np.zeros((3, 3)), np.zeros((3, 3)), rng())
    with pytest.raises(ValueError, match="finite"):
        max_t_within_golfers(np.full((3, 3), np.nan), rng())
