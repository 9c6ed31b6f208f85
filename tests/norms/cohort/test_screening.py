import numpy as np
import pytest

from norms.cohort.screening import outlyingness, screen_cohort
from norms.errors import CohortRefused
from norms.records import Cohort, CohortDefinition
from norms.vocabulary import AXES

NODES = np.linspace(0, 1, 301)
RISE = np.minimum(NODES * 6, 1)


def clean(n=60, seed=1):
    rng = np.random.default_rng(seed)
    waves = np.stack([np.ones(301), np.sin(2 * NODES), np.sin(5 * NODES), np.sin(9 * NODES)])
    parts = rng.normal(size=(n, 3, 4)) * [1.0, 0.8, 0.4, 0.3]
    features = np.column_stack([rng.normal(5, 1, n), rng.gamma(20, 0.04, n)])
    return (parts @ waves) * RISE, features


def screened(curves, features):
    n = len(curves)
    cohort = Cohort(
        definition=CohortDefinition(key="driver/all", club="driver"),
        golfers=tuple(f"Q{i:04d}" for i in range(n)),
        swing_counts=np.full(n, 4),
        curves_cm=curves,
        feature_names=("sway_travel", "backswing_time"),
        features=features,
    )
    return screen_cohort(cohort, noise_cm=0.1, timing_features={"backswing_time"})


def flags_of(screening, golfer):
    return {(flag.subject, flag.reason) for flag in screening.flags if flag.golfer == golfer}


@pytest.mark.parametrize("a", range(3))
def test_a_shifted_curve_is_flagged_for_its_level(a):
    curves, features = clean()
    curves[7] *= 0.1
    curves[7, a] += 6 * curves[:, a].std(axis=0)
    found = flags_of(screened(curves, features), "Q0007")
    assert found == {(AXES[a], "level")}


@pytest.mark.parametrize("a", range(3))
def test_a_wave_of_its_own_is_flagged_for_its_shape(a):
    curves, features = clean()
    curves[7] *= 0.1
    curves[7, a] += 4 * np.sin(40 * NODES) * RISE
    found = flags_of(screened(curves, features), "Q0007")
    assert found == {(AXES[a], "shape")}


def test_a_short_spike_is_caught_by_the_functional_boxplot():
    curves, features = clean()
    curves[7] *= 0.1
    curves[7, 2, 250:254] += 20
    flags = [flag for flag in screened(curves, features).flags if flag.golfer == "Q0007"]
    assert [(flag.subject, flag.reason) for flag in flags] == [("lift", "shape")]


def test_a_late_golfer_is_flagged_for_timing_and_a_far_one_for_level():
    curves, features = clean()
    features[3, 1] = 3.0
    features[4, 0] = 20.0
    screening = screened(curves, features)
    assert ("backswing_time", "timing") in flags_of(screening, "Q0003")
    assert ("sway_travel", "level") in flags_of(screening, "Q0004")


def test_flags_carry_their_rule_and_nobody_is_removed():
    curves, features = clean()
    curves[7, 0] += 9 * RISE
    screening = screened(curves, features)
    assert len(screening.golfers) == len(screening.depth) == 60
    flag = next(flag for flag in screening.flags if flag.golfer == "Q0007")
    assert flag.value > flag.high
    assert "Tukey fences" in flag.method
    assert "look at the captures" in flag.message
    assert screening.depth[7] < np.quantile(screening.depth, 0.2)
    assert "Q0007" in screening.flagged()


def test_clean_cohorts_are_seldom_flagged():
    shares = []
    for seed in range(15):
        screening = screened(*clean(n=120, seed=seed))
        curve_flags = {f.golfer for f in screening.flags if f.subject in AXES}
        shares.append(len(curve_flags) / 120)
    assert 0 < np.mean(shares) < 0.06


def test_outlyingness_ignores_movement_below_the_noise():
    curves, _ = clean()
    level, shape = outlyingness(curves, 0.1)
    tiny_level, tiny_shape = outlyingness(curves * 1e-4, 0.1)
    assert np.abs(tiny_level).max() < 0.01 < np.abs(level).max()
    assert tiny_shape.max() < 0.01 < shape.max()


def test_golfers_without_a_feature_do_not_stop_the_others():
    curves, features = clean()
    features[:55, 0] = np.nan
    features[3, 1] = 3.0
    assert ("backswing_time", "timing") in flags_of(screened(curves, features), "Q0003")


def test_too_few_golfers_are_refused():
    curves, features = clean(n=7)
    with pytest.raises(CohortRefused, match="7 golfers are too few"):
        screened(curves, features)
