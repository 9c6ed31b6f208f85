from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr
from scipy.stats import norm

from norms.cohort.centile_cross_check import cross_check
from norms.cohort.centiles import (
    centile_chart,
    curve_centiles,
    place_by_handicap,
)
from norms.cohort.fit_centiles import fit_curve_centiles, fit_feature_centiles
from norms.cohort.median_handicap import handicaps_with_median
from norms.errors import CohortRefused
from norms.records.centiles import CentilePlan
from norms.statistics.location_scale_shape import sinh_arcsinh


def academy(n=400, seed=3):
    """Handicaps, a feature with known centiles, whether female."""
    rng = np.random.default_rng(seed)
    handicap = np.round(np.clip(rng.normal(16, 11, n), -5, 40), 1)
    female = (rng.random(n) < 0.35) * 1.0
    value = sinh_arcsinh.value_at(rng.normal(size=n), truth(handicap, female))
    return handicap, value, female


def truth(handicap, female):
    h = np.asarray(handicap, dtype=float)
    zero = np.zeros_like(h)
    return (-3 + 0.1 * h - 0.0012 * h * h + 0.8 * female, 0.1 + 0.01 * h, 0.5 + zero, zero)


def fitted(n=400, seed=3, plan=None):
    handicap, value, _ = academy(n, seed)
    centiles, withheld = fit_feature_centiles(value[:, None], ["sway_top"], handicap, plan=plan)
    assert not withheld
    return centiles["sway_top"]


@pytest.fixture(scope="module")
def plain():
    return fitted()


@pytest.fixture(scope="module")
def by_sex():
    handicap, value, female = academy(800)
    centiles, _ = fit_feature_centiles(
        np.column_stack([value, np.exp(value)]),
        ["sway_top", "path_length"],
        handicap,
        covariates=female[:, None],
        covariate_names=["female"],
    )
    return centiles


def test_true_centiles_are_recovered_within_their_intervals(by_sex):
    grid = np.array([0.0, 10.0, 20.0, 30.0])
    for female in (0.0, 1.0):
        chart = centile_chart(by_sex["sway_top"], grid, covariates=[female], confidence=0.999)
        for place, z in ((0, -1.6449), (3, 0.0), (6, 1.6449)):
            true = sinh_arcsinh.value_at(np.full(4, z), truth(grid, female))
            assert (chart.low[0, place] <= true).all()
            assert (chart.high[0, place] >= true).all()
            assert np.abs(chart.value[0, place] - true).max() < 0.6


def test_the_skewed_form_is_chosen_for_skewed_golfers_and_the_criterion_is_kept(by_sex):
    chosen = by_sex["sway_top"]
    assert chosen.form == min(chosen.criterion, key=chosen.criterion.get)
    assert chosen.form != "normal"
    assert chosen.family == "sinh_arcsinh"
    assert {"lms"}.isdisjoint(chosen.criterion)


def test_a_positive_feature_may_take_the_lms_family():
    rng = np.random.default_rng(5)
    handicap = np.linspace(-4, 40, 500)
    tempo = (1 + 1.2 * 0.25 * rng.normal(size=500).clip(-3, 3)) ** (1 / 1.2) * (3 + 0.02 * handicap)
    swift = 2.0 * np.exp(0.3 * rng.normal(size=500) + 0.01 * handicap)
    centiles, _ = fit_feature_centiles(np.c_[tempo, swift], ["tempo", "path_length"], handicap)
    assert "lms" in centiles["tempo"].criterion
    assert centiles["path_length"].family == "lms"
    chart = centile_chart(centiles["path_length"], [10.0], percents=[5.0, 50.0, 95.0])
    np.testing.assert_allclose(
        chart.value[0, :, 0], 2 * np.exp(0.1 + np.array([-1.645, 0, 1.645]) * 0.3), rtol=0.12
    )
    refused = place_by_handicap(centiles["path_length"], -1.0, 10.0)
    assert refused.z is None
    assert "positive" in refused.withheld


@pytest.mark.parametrize(
    "change", [{"fewest_each_side": 4}, {"window_strokes": 0.0}, {"scale_segments": 0}]
)
def test_a_plan_that_shows_too_few_golfers_or_makes_no_sense_is_refused(change):
    with pytest.raises(ValueError, match="needed"):
        CentilePlan(**change)


def test_a_record_of_centiles_cannot_be_changed_or_hold_a_wrong_shape(plain):
    with pytest.raises(ValueError, match="read-only"):
        plain.coefficients[0, 0] = 1.0
    with pytest.raises(ValueError, match="inverse_information"):
        replace(plain, inverse_information=plain.inverse_information[:, :-1])
    assert plain.plan == CentilePlan()


def test_centiles_do_not_cross_anywhere(plain, by_sex):
    percents = np.arange(1.0, 100.0)
    for centiles, row in ((plain, []), (by_sex["sway_top"], [1.0]), (by_sex["path_length"], [0.0])):
        chart = centile_chart(
            centiles, np.arange(-10, 54.1, 0.5), covariates=row, percents=percents
        )
        supported = np.isfinite(chart.value[0, 0])
        assert supported.sum() > 60
        assert (np.diff(chart.value[0][:, supported], axis=0) > 0).all()


@given(st.floats(0.0, 30.0), st.floats(2.0, 98.0))
def test_the_centile_of_a_centile_is_itself(plain, handicap, percent):
    value = centile_chart(plain, [handicap], percents=[percent]).value[0, 0, 0]
    place = place_by_handicap(plain, float(value), handicap)
    assert place.percentile == pytest.approx(percent, abs=1e-6)
    assert place.percentile_low < percent < place.percentile_high
    assert 100 * ndtr(place.z) == pytest.approx(percent, abs=1e-6)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.05, 20.0), st.floats(-30.0, 30.0))
def test_a_change_of_unit_and_zero_changes_no_percentile(factor, shift):
    handicap, value, _ = academy(150)
    ours = fit_feature_centiles(value[:, None], ["x"], handicap)[0]["x"]
    theirs = fit_feature_centiles(factor * value[:, None] + shift - 200, ["x"], handicap)[0]["x"]
    a = centile_chart(ours, [5.0, 20.0])
    b = centile_chart(theirs, [5.0, 20.0])
    np.testing.assert_allclose(b.value, factor * a.value + shift - 200, atol=1e-3 * factor)
    np.testing.assert_allclose(b.high - b.low, factor * (a.high - a.low), rtol=1e-2)


def test_no_centile_where_there_are_no_golfers_and_the_nearest_range_is_named(plain):
    chart = centile_chart(plain, [-9.0, 15.0, 50.0])
    assert np.isnan(chart.value[0, :, [0, 2]]).all()
    assert np.isfinite(chart.value[0, :, 1]).all()
    place = place_by_handicap(plain, 0.0, 50.0)
    assert place.z is None
    assert place.percentile is None
    ends = plain.support.handicaps[plain.support.supported[0]]
    assert f"is +{-ends[0]:.1f} to {ends[-1]:.1f}." in place.withheld
    assert "no centile at handicap 50.0" in place.withheld


def test_a_gap_between_two_groups_of_golfers_has_no_centiles():
    rng = np.random.default_rng(6)
    handicap = np.r_[rng.uniform(-3, 5, 80), rng.uniform(25, 36, 80)]
    centiles, _ = fit_feature_centiles(rng.normal(size=(160, 1)), ["x"], handicap)
    chart = centile_chart(centiles["x"], [2.0, 15.0, 30.0])
    assert np.isfinite(chart.value[0, 0]).tolist() == [True, False, True]
    enough = [
        h
        for h in np.arange(-10, 20, 0.5)
        if (np.abs(handicap - h) <= 4).sum() >= 20
        and ((handicap >= h - 4) & (handicap <= h)).sum() >= 5
        and ((handicap <= h + 4) & (handicap >= h)).sum() >= 5
    ]
    reason = place_by_handicap(centiles["x"], 0.0, 13.0).withheld
    assert f"0 are near; the nearest range with enough is +{-enough[0]} to {enough[-1]}." in reason


def test_a_group_without_golfers_at_a_handicap_has_no_centile_there():
    handicap, value, _ = academy(600)
    female = ((handicap > 15) & (np.arange(600) % 2 == 0)) * 1.0
    centiles, _ = fit_feature_centiles(
        value[:, None], ["x"], handicap, covariates=female[:, None], covariate_names=["female"]
    )
    assert np.isfinite(centile_chart(centiles["x"], [5.0], covariates=[0.0]).value).all()
    assert np.isnan(centile_chart(centiles["x"], [5.0], covariates=[1.0]).value).all()
    assert place_by_handicap(centiles["x"], 0.0, 5.0, covariates=[1.0]).withheld


def test_the_place_of_a_mean_of_few_swings_holds_the_golfers_own_long_run_place(plain):
    """Of newcomers measured with an error, 90 % of the intervals hold what is truly theirs."""
    rng = np.random.default_rng(41)
    handicaps = rng.uniform(0, 30, 600)
    z = rng.normal(size=600)
    long_run = sinh_arcsinh.value_at(z, truth(handicaps, 0.0))
    own = place_by_handicap(plain, float(long_run[0]), float(handicaps[0]))
    assert own.value_error is None
    held, error = 0, 0.8
    for value, handicap in zip(long_run, handicaps, strict=True):
        true = place_by_handicap(plain, float(value), float(handicap)).percentile
        seen = place_by_handicap(
            plain, float(value + error * rng.normal()), float(handicap), value_error=error
        )
        held += seen.percentile_low <= true <= seen.percentile_high
    assert 0.87 <= held / 600 <= 0.97


@given(value=st.floats(-10, 10), error=st.floats(0, 5), handicap=st.floats(5, 25))
def test_an_error_of_the_value_widens_the_interval_and_moves_nothing(plain, value, error, handicap):
    known = place_by_handicap(plain, value, handicap)
    seen = place_by_handicap(plain, value, handicap, value_error=error)
    assert seen.percentile == known.percentile
    assert seen.percentile_low <= known.percentile_low <= known.percentile_high
    assert known.percentile_high <= seen.percentile_high
    assert seen.z_error >= known.z_error


def test_an_error_that_reaches_past_zero_is_cut_for_positive_features(by_sex):
    centiles = by_sex["path_length"]
    seen = place_by_handicap(centiles, 0.5, 10.0, covariates=[1.0], value_error=3.0)
    assert 0.0 <= seen.percentile_low < seen.percentile < seen.percentile_high <= 100.0


def test_the_handicap_of_a_median_is_where_the_median_is_that_value(plain):
    median = float(centile_chart(plain, [12.0], percents=[50.0]).value[0, 0, 0])
    met = min(handicaps_with_median(plain, median), key=lambda one: abs(one.handicap - 12.0))
    assert met.handicap == pytest.approx(12.0, abs=1e-3)
    ends = centile_chart(plain, [met.low, met.high], percents=[50.0])
    assert met.low < 12.0 < met.high
    assert (ends.low[0, 0] <= median).all()
    assert (median <= ends.high[0, 0]).all()
    assert handicaps_with_median(plain, 1000.0) == ()


def test_a_median_that_turns_is_met_twice():
    rng = np.random.default_rng(8)
    handicap = np.linspace(0, 36, 500)
    value = -((handicap - 18) ** 2) / 50 + 0.3 * rng.normal(size=500)
    centiles, _ = fit_feature_centiles(value[:, None], ["x"], handicap)
    met = handicaps_with_median(centiles["x"], -2.0)
    np.testing.assert_allclose([one.handicap for one in met], [8.0, 28.0], atol=1.0)
    assert met[0].high < met[1].low


def test_the_range_about_a_median_covers_the_true_handicap():
    """Over simulated cohorts the 90 % range holds the handicap whose median the value truly is."""
    held = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        handicap = rng.uniform(0, 30, 150)
        value = 0.3 * handicap + rng.normal(size=150)
        centiles, _ = fit_feature_centiles(value[:, None], ["x"], handicap)
        met = handicaps_with_median(centiles["x"], 4.5)
        held += any(one.low <= 15.0 <= one.high for one in met)
    assert held >= 49  # of 60; 90 % less three standard errors would be 47


def test_leaving_a_golfer_out_agrees_with_fitting_without_them():
    handicap, value, _ = academy(120)
    value[7] += 4.0  # far out: its own pull on the fit is large
    plan = CentilePlan(fewest_near=10)
    ours = fit_feature_centiles(value[:, None], ["x"], handicap, plan=plan)[0]["x"]
    kept = np.arange(120) != 7
    other = fit_feature_centiles(value[kept][:, None], ["x"], handicap[kept], plan=plan)[0]["x"]
    assert ours.form == other.form
    own_row = (value[7], float(handicap[7]))
    # The swing that is placed need not be like the golfer's mean in the fit.
    for placed, at in (own_row, (value[7] - 2.0, float(handicap[7]) + 1.5)):
        with_them = place_by_handicap(ours, placed, at).z
        without = place_by_handicap(ours, placed, at, own_row=own_row).z
        refitted = place_by_handicap(other, placed, at).z
        assert with_them < without
        assert abs(without - refitted) < 0.15 * abs(with_them - refitted)


def test_missing_values_leave_a_golfer_out_of_that_feature_only():
    handicap, value, _ = academy(200)
    holes = value.copy()
    holes[::4] = np.nan
    table = np.c_[holes, value]
    centiles, _ = fit_feature_centiles(table, ["holes", "whole"], handicap)
    kept = np.isfinite(holes)
    alone = fit_feature_centiles(holes[kept][:, None], ["x"], handicap[kept])[0]["x"]
    assert centiles["holes"].golfers[0] == 150
    assert centiles["whole"].golfers[0] == 200
    a = centile_chart(centiles["holes"], [10.0, 20.0]).value
    np.testing.assert_allclose(a, centile_chart(alone, [10.0, 20.0]).value, atol=0.05)


def test_weights_move_the_centiles_and_cost_effective_golfers():
    rng = np.random.default_rng(9)
    handicap = rng.uniform(0, 36, 600)
    kind = rng.random(600) < 0.5
    value = np.where(kind, 2.0, 0.0) + rng.normal(size=600)
    weights = np.where(kind, 3.0, 1.0)
    centiles, _ = fit_feature_centiles(value[:, None], ["x"], handicap, weights=weights)
    median = centile_chart(centiles["x"], [18.0], percents=[50.0]).value[0, 0, 0]
    assert median > 1.25
    squared = weights.sum() ** 2 / (weights**2).sum()
    assert centiles["x"].effective_golfers[0] == pytest.approx(squared)
    assert centiles["x"].robust_covariance is not None


def test_two_rows_of_one_golfer_make_wider_intervals_than_two_golfers():
    handicap, value, _ = academy(200)
    twice = np.repeat(np.arange(200), 2)
    rows = value[twice][:, None]
    clustered = fit_feature_centiles(rows, ["x"], handicap[twice], clusters=list(twice))[0]["x"]
    naive = fit_feature_centiles(rows, ["x"], handicap[twice])[0]["x"]
    assert clustered.golfers[0] == 200
    once = fitted(200).support
    np.testing.assert_array_equal(clustered.support.golfers, once.golfers)
    np.testing.assert_array_equal(clustered.support.supported, once.supported)
    wide = centile_chart(clustered, [15.0])
    narrow = centile_chart(naive, [15.0])
    assert ((wide.high - wide.low) > 1.2 * (narrow.high - narrow.low)).all()


def test_diagnostics_find_nothing_in_a_true_model_and_something_in_a_wrong_one(by_sex):
    seen = by_sex["sway_top"].diagnostics
    overall = seen.share_below_pct[0, 0]
    np.testing.assert_allclose(overall, seen.percents, atol=2.0)
    assert (np.abs(seen.share_below_pct[0, 1:] - seen.percents) < 4.5).all()
    assert (seen.q_p[0] > 0.001).all()
    assert np.abs(seen.worm_cubic[0, :, 0]).max() < 0.25


def test_quantile_regression_agrees_with_the_model_and_not_with_a_wrong_one():
    handicap, value, _ = academy(1000, seed=4)
    centiles = fit_feature_centiles(value[:, None], ["x"], handicap)[0]["x"]
    told = cross_check(centiles, value, handicap)
    assert told.percents == (10.0, 50.0, 90.0)
    assert told.agrees
    assert max(told.gap_sd) < 0.3
    off = cross_check(centiles, value + 3.0, handicap)
    assert not off.agrees
    assert min(off.gap_sd) > 0.8


def test_two_humps_that_no_form_of_the_family_has_are_noticed():
    rng = np.random.default_rng(3)
    handicap = rng.uniform(0, 30, 900)
    value = np.where(rng.random(900) < 0.6, -3.0, 3.0) + 0.3 * rng.normal(size=900)
    centiles = fit_feature_centiles(value[:, None], ["x"], handicap)[0]["x"]
    assert not cross_check(centiles, value, handicap).agrees


def test_the_cross_check_reads_both_at_the_golfers_own_covariates(by_sex):
    handicap, value, female = academy(800)
    told = cross_check(by_sex["sway_top"], value, handicap, female[:, None])
    assert told.golfers <= 800
    assert told.agrees
    swapped = cross_check(by_sex["sway_top"], value, handicap, 1.0 - female[:, None])
    assert max(swapped.gap_sd) > max(told.gap_sd)


def test_the_cross_checks_own_sampling_distance_is_that_of_koenker_and_bassett():
    """A regression quantile's mean variance over the design is c p (1 - p) / (n f^2)."""
    rng = np.random.default_rng(12)
    handicap, value = rng.uniform(0, 30, 600), rng.normal(size=600)
    centiles = fit_feature_centiles(value[:, None], ["x"], handicap)[0]["x"]
    told = cross_check(centiles, value, handicap)
    share = np.array(told.percents) / 100.0
    expected = np.sqrt(6 * share * (1 - share) / 600) / norm.pdf(norm.ppf(share))
    np.testing.assert_allclose(told.sampling_sd, expected, rtol=0.15)


def test_too_few_golfers_for_a_quantile_regression_are_refused(plain):
    with pytest.raises(CohortRefused, match="too few"):
        cross_check(plain, np.zeros(10), np.linspace(5, 20, 10))


def curves_of(handicap, seed=0):
    rng = np.random.default_rng(seed)
    t = np.linspace(0, 1, 301)
    own = rng.normal(size=(len(handicap), 3, 2))
    shapes = np.stack([np.sin(2 * np.pi * t), t**2])
    trend = np.multiply.outer(handicap, 0.1 * t)[:, None, :]
    return np.einsum("nak,kt->nat", own, shapes) + trend


@pytest.fixture(scope="module")
def whole_curves():
    handicap = np.linspace(-4, 36, 150)
    return handicap, curves_of(handicap), fit_curve_centiles(curves_of(handicap), handicap)


def test_whole_curves_have_smooth_centiles_and_none_at_address(whole_curves):
    _, _, axes = whole_curves
    assert len(axes) == 3
    sway = axes[0]
    assert "sway@0" in sway.withheld
    assert "spread" in sway.withheld["sway@0"]
    curves = curve_centiles(sway, 10.0)
    assert curves.shape == (7, 301)
    seen = np.isfinite(curves[0])
    assert seen.sum() == len(sway.names) > 280
    assert (np.diff(curves[:, seen], axis=0) > 0).all()
    t = np.linspace(0, 1, 301)
    spread = np.sqrt(np.sin(2 * np.pi * t) ** 2 + t**4)
    np.testing.assert_allclose(curves[3, seen], t[seen], atol=0.35)
    np.testing.assert_allclose(curves[6, seen], (t + 1.645 * spread)[seen], atol=0.6)
    assert np.abs(np.diff(curves[:, seen], n=2, axis=1)).max() < 0.02
    assert np.isnan(curve_centiles(sway, 50.0)).all()


def test_a_node_of_a_curve_is_placed_by_name(whole_curves):
    _, _, axes = whole_curves
    place = place_by_handicap(axes[2], 1.0, 10.0, name="lift@200")
    assert place.name == "lift@200"
    assert 0 < place.percentile < 100
    with pytest.raises(KeyError, match="spread"):
        place_by_handicap(axes[2], 1.0, 10.0, name="lift@0")
    with pytest.raises(ValueError, match="name"):
        place_by_handicap(axes[2], 1.0, 10.0)


def test_curves_in_the_wrong_unit_are_refused():
    handicap = np.linspace(0, 30, 80)
    with pytest.raises(CohortRefused, match="check the curves' unit"):
        fit_curve_centiles(curves_of(handicap) * 1e-3, handicap)
    with pytest.raises(ValueError, match="finite"):
        fit_curve_centiles(np.full((80, 3, 301), np.nan), handicap)


def test_too_few_golfers_are_refused_with_what_to_do():
    handicap, value, _ = academy(59)
    with pytest.raises(CohortRefused, match=r"need 60 golfers and there are 59; widen"):
        fit_feature_centiles(value[:, None], ["x"], handicap)
    with pytest.raises(CohortRefused, match="there are 59"):
        fit_feature_centiles(
            np.r_[value, value][:, None],
            ["x"],
            np.r_[handicap, handicap],
            clusters=[*range(59)] * 2,
        )


def test_features_that_cannot_be_fitted_are_withheld_with_a_reason():
    handicap, value, _ = academy(100)
    table = np.c_[value, np.where(np.arange(100) < 30, value, np.nan), np.ones(100)]
    centiles, withheld = fit_feature_centiles(table, ["good", "rare", "same"], handicap)
    assert list(centiles) == ["good"]
    assert withheld["rare"] == "30 golfers have it and 60 are needed"
    assert "same value" in withheld["same"]


def test_a_covariate_that_is_the_same_for_all_is_refused():
    handicap, value, _ = academy(100)
    with pytest.raises(CohortRefused, match="female: every golfer has the same value"):
        fit_feature_centiles(
            value[:, None],
            ["x"],
            handicap,
            covariates=np.ones((100, 1)),
            covariate_names=["female"],
        )


@pytest.mark.parametrize(
    "change",
    [
        {"handicaps": np.full(100, 60.0)},
        {"handicaps": np.full(99, 6.0)},
        {"weights": np.zeros(100)},
        {"clusters": [1, 2]},
        {"covariates": np.ones((100, 2)), "covariate_names": ["one"]},
    ],
)
def test_impossible_input_is_refused(change):
    handicap, value, _ = academy(100)
    given_to_it = {"values": value[:, None], "names": ["x"], "handicaps": handicap} | change
    with pytest.raises(ValueError, match=r"fit|needed|clusters"):
        fit_feature_centiles(**given_to_it)


def test_a_covariate_outside_the_golfers_range_has_no_place():
    handicap, value, _ = academy(300)
    height = np.linspace(150, 195, 300)
    centiles, _ = fit_feature_centiles(
        value[:, None], ["x"], handicap, covariates=height[:, None], covariate_names=["height_cm"]
    )
    assert place_by_handicap(centiles["x"], 0.0, 10.0, covariates=[170.0]).z is not None
    far = place_by_handicap(centiles["x"], 0.0, 10.0, covariates=[210.0])
    assert "height_cm 210 is outside" in far.withheld
    with pytest.raises(ValueError, match="height_cm"):
        place_by_handicap(centiles["x"], 0.0, 10.0)
