import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from statsmodels.stats.proportion import proportion_confint

from norms.statistics.proportions import standing, wilson_interval


# Newcombe (1998), Stat. Med. 17:857, Table I, method 3 (limits from memory; statsmodels agrees).
@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_published_intervals_are_reproduced(successes, trials, low, high):
    found = wilson_interval(successes, trials, 0.95)
    assert found == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 2000), st.floats(0, 1), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_it_agrees_with_an_independent_implementation(trials, share, confidence):
    successes = round(share * trials * 2) / 2
    expected = proportion_confint(successes, trials, alpha=1 - confidence, method="wilson")
    np.testing.assert_allclose(wilson_interval(successes, trials, confidence), expected, atol=1e-12)


@given(st.integers(1, 500), st.integers(0, 500))
def test_counting_from_the_other_end_mirrors_the_interval(trials, successes):
    successes = min(successes, trials)
    low, high = wilson_interval(successes, trials)
    other_low, other_high = wilson_interval(trials - successes, trials)
    np.testing.assert_allclose((low, high), (1 - other_high, 1 - other_low), atol=1e-12)
    assert 0 <= low <= successes / trials <= high <= 1


@pytest.mark.parametrize(("successes", "trials"), [(-1, 5), (6, 5), (0, 0)])
def test_what_is_no_proportion_is_refused(successes, trials):
    with pytest.raises(ValueError, match="successes"):
        wilson_interval(successes, trials)


def test_a_mid_rank_counts_half_of_the_ties():
    found = standing([3.0, 0.5], [[1.0, 1.0], [3.0, 2.0], [3.0, np.nan], [7.0, 4.0]])
    assert found.counted.tolist() == [4, 3]
    assert found.below.tolist() == [1, 0]
    assert found.equal.tolist() == [2, 0]
    assert found.percentile.tolist() == [50.0, 0.0]


def test_a_missing_value_has_no_percentile_but_its_peers_are_counted():
    found = standing([np.nan, 1.0], [[1.0, np.nan], [2.0, np.nan]])
    assert found.counted.tolist() == [2, 0]
    assert np.isnan(found.percentile).all()


@given(arrays(float, (12, 1), elements=st.integers(-5, 5)), st.integers(-6, 6))
def test_the_sign_of_the_scale_mirrors_the_percentile(values, value):
    up, down = standing([value], values), standing([-value], -values)
    assert up.percentile[0] + down.percentile[0] == pytest.approx(100.0)


@given(arrays(float, (9, 1), elements=st.floats(-9, 9)), st.floats(-9, 9), st.floats(0, 5))
def test_a_larger_value_never_has_a_smaller_percentile(values, value, more):
    assert standing([value], values).percentile <= standing([value + more], values).percentile


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="does not fit"):
        standing([1.0], [[1.0, 2.0]])
