from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from norms.cohort.measurement_error import measurement_error
from norms.errors import CohortRefused
from norms.vocabulary import NODES


def codes(error) -> set[str]:
    return {notice.code for notice in error.notices}


def test_known_components_are_recovered(pool):
    error = measurement_error(pool(1, golfers=400, features=6), "driver")
    np.testing.assert_allclose(error.golfer_sd, 3.0, rtol=0.12)
    np.testing.assert_allclose(error.day_sd, 0.8, rtol=0.12)
    np.testing.assert_allclose(error.swing_sd, 1.2, rtol=0.05)
    assert error.notices == ()
    for estimates, truth in (
        (error.icc_within, (9 + 0.64) / (9 + 0.64 + 1.44)),
        (error.icc_between, 9 / (9 + 0.64 + 1.44)),
        (error.sem_within, 1.2),
        (error.sem_between, np.sqrt(0.64 + 1.44)),
    ):
        assert (estimates.low < estimates.value).all()
        assert (estimates.value < estimates.high).all()
        assert ((estimates.low <= truth) & (truth <= estimates.high)).mean() >= 5 / 6
    np.testing.assert_allclose(error.individuality, error.sem_between.value / error.golfer_sd)


def test_smallest_changes_follow_from_the_errors(pool):
    error = measurement_error(pool(2), "driver")
    factor = 1.959964 * np.sqrt(2)
    np.testing.assert_allclose(error.sdc_within, factor * error.swing_sd, rtol=1e-6)
    both = np.sqrt(error.day_sd**2 + error.swing_sd**2)
    np.testing.assert_allclose(error.sdc_between, factor * both, rtol=1e-6)


def test_nodes_carry_their_own_components(pool):
    error = measurement_error(pool(3, golfers=120, curves=True), "driver")
    height = np.sin(np.linspace(0, 3, NODES))
    for found, sd in (
        (error.golfer_node_sd_cm, 3.0),
        (error.day_node_sd_cm, 0.8),
        (error.swing_node_sd_cm, 1.2),
    ):
        assert found[:, 0].tolist() == [0.0, 0.0, 0.0]
        # Thrust of the pool is sway doubled, lift is sway mirrored.
        np.testing.assert_allclose(found[1:], found[0] * [[2.0], [1.0]], rtol=1e-4, atol=1e-6)
        np.testing.assert_allclose(found[0], found[0, 150] / height[150] * height, rtol=1e-4)
        assert found[0, 150] == pytest.approx(sd * height[150], rel=0.15)


def test_counts_are_of_golfers_days_and_swings(pool):
    visits = [(0, 0, "north"), (0, 1, "north"), (1, 0, "north"), (2, 0, "north"), (2, 0, "south")]
    drawn = pool(4, visits=visits, swings=(3, 3))
    features = drawn.features.copy()
    features[:3, 1] = np.nan
    error = measurement_error(replace(drawn, features=features), "driver")
    assert (error.golfers, error.days, error.swings) == (3, 5, 15)
    assert error.golfers_of_several_days == 2
    assert error.labs == ("north", "south")
    assert error.feature_golfers.tolist() == [3, 3, 3]
    assert error.feature_days.tolist() == [5, 4, 5]
    assert error.feature_swings.tolist() == [15, 12, 15]
    assert "few_days" in codes(error)


def test_golfers_of_one_swing_tell_nothing_of_the_spread_within(pool):
    drawn = pool(5, golfers=25)
    plus = pool(6, visits=[(100 + g, 0, "north") for g in range(30)], swings=(1, 1))
    joined = replace(
        drawn,
        **{
            name: getattr(drawn, name) + getattr(plus, name)
            for name in ("swings", "golfers", "clubs", "labs", "recorded_on")
        },
        curves_cm=np.concatenate([drawn.curves_cm, plus.curves_cm]),
        features=np.concatenate([drawn.features, plus.features]),
    )
    before, after = (measurement_error(p, "driver") for p in (drawn, joined))
    np.testing.assert_allclose(after.swing_sd, before.swing_sd, rtol=0.03)
    width_before, width_after = (e.sem_within.high - e.sem_within.low for e in (before, after))
    np.testing.assert_allclose(width_after, width_before, rtol=0.08)


def test_another_club_does_not_count(pool):
    drawn = pool(7)
    clubs = tuple("iron 7" if i % 5 == 0 else "driver" for i in range(len(drawn.swings)))
    mixed = replace(drawn, clubs=clubs)
    assert measurement_error(mixed, "driver").swings == clubs.count("driver")


def test_a_labs_offset_is_not_taken_for_golfers_or_days(pool):
    rng = np.random.default_rng(1)
    visits = [(g, d, str(rng.choice(["north", "south"]))) for g in range(150) for d in range(3)]
    plain = measurement_error(pool(8, visits=visits), "driver")
    moved = measurement_error(
        pool(8, visits=visits, change=lambda v, day, lab: v + 5 * (lab == "south")), "driver"
    )
    np.testing.assert_allclose(moved.golfer_sd, plain.golfer_sd, rtol=1e-5)
    np.testing.assert_allclose(moved.day_sd, plain.day_sd, rtol=1e-4)
    # Two labs 5 apart: their standard deviation is 5 / sqrt(2).
    np.testing.assert_allclose(moved.lab_sd, 5 / np.sqrt(2), rtol=0.1)
    assert (plain.lab_sd < 0.5).all()


def test_a_single_lab_has_no_spread_between_labs(pool):
    assert np.isnan(measurement_error(pool(9), "driver").lab_sd).all()


def test_golfers_seen_on_one_day_leave_change_between_sessions_unknown(pool):
    drawn = pool(10, visits=[(g, 0, "north") for g in range(30)])
    error = measurement_error(drawn, "driver")
    assert "day_unknown" in codes(error)
    for unknown in (error.day_sd, error.sdc_between, error.icc_between.value, error.individuality):
        assert np.isnan(unknown).all()
    # By the analysis of variance, group sizes unequal (Searle 1971).
    own = pd.Series(drawn.features[:, 0]).groupby(np.array(drawn.golfers))
    sizes, golfers, swings = own.size(), own.ngroups, len(drawn.golfers)
    within = (own.var() * (sizes - 1)).sum() / (swings - golfers)
    between = (sizes * (own.mean() - drawn.features[:, 0].mean()) ** 2).sum() / (golfers - 1)
    typical = (swings - (sizes**2).sum() / swings) / (golfers - 1)
    icc = (between - within) / (between + (typical - 1) * within)
    assert error.icc_within.value[0] == pytest.approx(icc, abs=0.02)
    assert error.sem_within.value[0] == pytest.approx(np.sqrt(within), rel=0.01)


def test_one_swing_a_day_leaves_the_session_unknown_but_not_the_change_between(pool):
    visits = [(g, d, "north") for g in range(60) for d in range(4)]
    error = measurement_error(pool(11, visits=visits, swings=(1, 1)), "driver")
    assert "swing_unknown" in codes(error)
    assert np.isnan(error.sdc_within).all()
    np.testing.assert_allclose(error.sem_between.value, np.sqrt(0.64 + 1.44), rtol=0.15)


def test_days_no_different_from_swings_are_set_to_zero_with_a_word(pool):
    error = measurement_error(pool(12, sds=(3.0, 0.0, 1.2), features=12), "driver")
    zero = error.day_sd == 0
    assert zero.any()
    (notice,) = (n for n in error.notices if n.code == "day_at_zero")
    named = [name for name in error.feature_names if name in notice.message]
    assert named == list(np.array(error.feature_names)[zero])
    np.testing.assert_allclose(error.sdc_between[zero], error.sdc_within[zero])


def test_a_feature_that_no_swing_has_is_said_to_be_without_error(pool):
    drawn = pool(13)
    features = drawn.features.copy()
    features[:, 2] = np.nan
    error = measurement_error(replace(drawn, features=features), "driver")
    assert "no_repeats" in codes(error)
    assert np.isnan([error.golfer_sd[2], error.swing_sd[2], error.sdc_within[2]]).all()
    assert np.isfinite(error.sdc_between[:2]).all()


@pytest.mark.parametrize(
    ("visits", "swings"),
    [
        ([(0, 0, "north"), (0, 1, "north")], (3, 3)),
        ([(0, 0, "north"), (1, 0, "north")], (1, 1)),
    ],
)
def test_too_little_to_tell_an_error_is_refused(pool, visits, swings):
    with pytest.raises(CohortRefused, match="measurement error, driver"):
        measurement_error(pool(14, visits=visits, swings=swings), "driver")


def test_a_club_that_nobody_swung_is_refused(pool):
    with pytest.raises(CohortRefused, match="0 swings of 0 golfers"):
        measurement_error(pool(15), "putter")


def test_errors_scale_with_the_unit(pool):
    drawn = pool(16)
    error = measurement_error(drawn, "driver")
    inches = measurement_error(replace(drawn, features=drawn.features / 2.54 + 7), "driver")
    np.testing.assert_allclose(inches.sdc_between, error.sdc_between / 2.54, rtol=1e-5)
    np.testing.assert_allclose(inches.icc_between.low, error.icc_between.low, atol=1e-5)
    np.testing.assert_allclose(inches.individuality, error.individuality, rtol=1e-5)


def test_kept_calibration_covers_for_golfers_of_any_shape():
    path = Path(__file__).parents[3] / "calibration" / "results" / "noise_budget.csv"
    table = pd.read_csv(path)
    ordinary = table[table.case != "normal, very unequally steady"]
    assert len(ordinary) == 72
    error = 2 * ordinary.standard_error_pct
    assert (ordinary.covered_pct >= 92 - error).all()
    assert (ordinary.covered_pct <= 97 + error).all()


def test_intervals_allow_for_golfers_unequally_steady(pool):
    """Few golfers hold most of the unsteadiness: a chi-square of all swings is far too sure."""
    even = measurement_error(pool(21, golfers=40, features=8), "driver")
    drawn = pool(21, golfers=40, features=8)
    names, golfer = np.unique(drawn.golfers, return_inverse=True)
    steady = np.exp(0.8 * np.random.default_rng(1).normal(size=len(names)))[golfer, None]
    means = pd.DataFrame(drawn.features).groupby(golfer).transform("mean").to_numpy()
    uneven = replace(drawn, features=means + steady * (drawn.features - means))
    widths = [
        np.median(np.log(one.sem_within.high / one.sem_within.low))
        for one in (even, measurement_error(uneven, "driver"))
    ]
    assert widths[1] > 2 * widths[0]
