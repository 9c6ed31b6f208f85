"""The exact test of a single case, and conformal p values."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from norms.statistics.conformal import conformal_p, more_unusual_than
from norms.statistics.single_case import single_case


def test_formula_of_crawford_and_howell():
    group = np.array([[10.0], [12.0], [14.0], [16.0], [18.0]])
    found = single_case([20.0], group)
    # Mean 14, sd sqrt(10): t = 6 / (sqrt(10) sqrt(6 / 5)), 4 degrees of freedom.
    t = 6.0 / (np.sqrt(10.0) * np.sqrt(1.2))
    assert found.t[0] == pytest.approx(t)
    assert found.p[0] == pytest.approx(2 * stats.t.sf(t, 4))
    assert found.percent_below[0] == pytest.approx(100 * stats.t.cdf(t, 4))
    assert found.members[0] == 5


def test_it_is_the_two_sample_t_test_with_one_case():
    rng = np.random.default_rng(0)
    group, case = rng.normal(size=12), 1.3
    # One observation has no spread of its own, so the pooled test uses the group's alone.
    other = stats.ttest_ind([case], group, equal_var=True)
    assert single_case([case], group[:, None]).p[0] == pytest.approx(other.pvalue)


def test_missing_values_count_by_measure():
    group = np.array([[1.0, np.nan], [2.0, 5.0], [3.0, np.nan], [4.0, 6.0]])
    found = single_case([2.5, 5.5], group)
    assert found.members.tolist() == [4, 2]
    assert found.p[0] == pytest.approx(1.0)
    assert np.isnan(found.p[1])


def test_a_group_without_spread_says_nothing():
    assert np.isnan(single_case([1.0], np.ones((9, 1))).p[0])


def test_extra_variance_makes_a_case_less_unusual():
    group = np.random.default_rng(1).normal(size=(20, 1))
    assert single_case([3.0], group, [1.0]).p[0] > single_case([3.0], group).p[0]


@settings(deadline=None)
@given(st.lists(st.floats(-5, 5), min_size=1, max_size=40), st.floats(-6, 6))
def test_conformal_p_and_count_fit_together(others, score):
    p, more = conformal_p(score, others), more_unusual_than(score, others)
    n = len(others)
    assert 1 / (n + 1) <= p <= 1
    assert p == pytest.approx((n - more + 1) / (n + 1))


def test_conformal_p_is_exact_among_equals():
    scores = np.arange(19.0)
    ps = [conformal_p(score, np.delete(scores, place)) for place, score in enumerate(scores)]
    np.testing.assert_allclose(sorted(ps), np.arange(1, 20) / 19)
