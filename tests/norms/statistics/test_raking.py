from itertools import product

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.statistics.raking import rake


def golfers(women_low, women_high, men_low, men_high):
    counts = (women_low, women_high, men_low, men_high)
    sex = np.repeat(["female", "female", "male", "male"], counts)
    level = np.repeat(["low", "high", "low", "high"], counts)
    return {"sex": list(sex), "level": list(level)}


def weighted_share(groups, weights, margin, category):
    return weights[np.array(groups[margin]) == category].sum() / weights.sum()


def test_one_margin_gives_the_hand_computed_weights_and_design_effect():
    raking = rake({"sex": ["f", "m", "m", "m"]}, {"sex": {"f": 50, "m": 50}})
    np.testing.assert_allclose(raking.weights, [2, 2 / 3, 2 / 3, 2 / 3])
    # Kish (1965): n sum(w^2) / (sum w)^2 = 4 (4 + 3 * 4/9) / 16
    assert raking.design_effect == pytest.approx(4 / 3)
    assert raking.effective_count == pytest.approx(3)
    assert raking.converged


@given(*[st.integers(1, 30)] * 4, st.floats(0.1, 0.9), st.floats(0.1, 0.9))
def test_weighted_margins_meet_their_targets(a, b, c, d, women, low):
    groups = golfers(a, b, c, d)
    targets = {
        "sex": {"female": women, "male": 1 - women},
        "level": {"low": low, "high": 1 - low},
    }
    raking = rake(groups, targets)
    assert raking.converged
    assert raking.weights.mean() == pytest.approx(1)
    assert (raking.weights > 0).all()
    assert weighted_share(groups, raking.weights, "sex", "female") == pytest.approx(women)
    assert weighted_share(groups, raking.weights, "level", "low") == pytest.approx(low)
    assert raking.design_effect >= 1 - 1e-12


@given(*[st.integers(1, 30)] * 4, st.floats(0.1, 0.9), st.floats(0.1, 0.9))
def test_raking_keeps_the_odds_ratio_of_the_golfers_at_hand(a, b, c, d, women, low):
    # What iterative proportional fitting is: margins of the target, association of the sample.
    targets = {"sex": {"female": women, "male": 1 - women}, "level": {"low": low, "high": 1 - low}}
    weights = rake(golfers(a, b, c, d), targets).weights
    first = np.cumsum([0, a, b, c])
    wa, wb, wc, wd = weights[first]
    assert wa * wd / (wb * wc) == pytest.approx(1, rel=1e-6)


def test_golfers_who_already_match_keep_equal_weights():
    raking = rake({"sex": ["f", "m"] * 5}, {"sex": {"f": 0.5, "m": 0.5}})
    assert (raking.weights == 1).all()
    assert raking.rounds == 0


def test_targets_that_cannot_be_met_together_are_told():
    # All women are low and all men high, so the two margins are one.
    groups = golfers(5, 0, 0, 5)
    targets = {"sex": {"female": 0.3, "male": 0.7}, "level": {"low": 0.6, "high": 0.4}}
    raking = rake(groups, targets, most_rounds=50)
    assert not raking.converged
    assert raking.rounds == 50
    assert raking.largest_gap > 0.01


@pytest.mark.parametrize(
    ("groups", "targets", "words"),
    [
        ({"sex": ["f"]}, {"sex": {"f": 1, "m": 1}}, "'m' has a target share and no golfer"),
        ({"sex": ["f", "m"]}, {"sex": {"f": 1}}, "golfers in 'm'"),
        ({"sex": ["f"]}, {"sex": {"f": 0}}, "must be positive"),
        ({"sex": ["f"]}, {"level": {"f": 1}}, "margins"),
        ({"sex": ["f"], "x": []}, {"sex": {"f": 1}, "x": {}}, "every golfer"),
    ],
)
def test_margins_without_golfers_or_targets_are_refused(groups, targets, words):
    with pytest.raises(ValueError, match=words):
        rake(groups, targets)


@given(
    st.lists(st.integers(1, 12), min_size=8, max_size=8),
    st.lists(st.floats(0.2, 0.8), min_size=3, max_size=3),
)
@settings(max_examples=20)
def test_three_margins_give_the_weights_of_a_log_linear_model_by_statsmodels(drawn, shares):
    # Deming and Stephan's table is the Poisson fit, with the sample as offset, to any table that
    # has the margins wanted: there likelihood equations and margins are the same.
    counts = np.array(drawn, dtype=float)
    cells = np.array(list(product("ab", repeat=3)))
    wanted = np.prod(
        [np.where(cells[:, m] == "a", share, 1 - share) for m, share in enumerate(shares)], axis=0
    )
    # An interaction of all three leaves every margin as it is, and the fit is not a perfect one.
    wanted = wanted + 0.3 * wanted.min() * np.prod(np.where(cells == "a", 1, -1), axis=1)
    design = np.column_stack([np.ones(8), cells == "a"]).astype(float)
    fit = sm.GLM(
        counts.sum() * wanted, design, family=sm.families.Poisson(), offset=np.log(counts)
    ).fit(tol=1e-14)
    groups = {str(m): list(np.repeat(cells[:, m], counts.astype(int))) for m in range(3)}
    targets = {str(m): {"a": share, "b": 1 - share} for m, share in enumerate(shares)}
    first = np.r_[0, np.cumsum(counts.astype(int))[:-1]]
    np.testing.assert_allclose(
        rake(groups, targets).weights[first], fit.fittedvalues / counts, rtol=1e-6
    )
