"""What leaves the store holds no recognisable golfer's own mean, and no interval is narrower."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.cohort.bands import bands_of
from norms.cohort.published_limits import published_bands
from norms.records import Cohort, CohortDefinition

PAIRS = (("curve_low_cm", "curve_high_cm"), ("feature_low", "feature_high"))


def cohort_of(n, seed=0, scale=5.0):
    rng = np.random.default_rng(seed)
    curves = rng.normal(scale=scale, size=(n, 3, 301)).cumsum(axis=2) / 10
    curves[:, :, 0] = 0.0  # every curve starts at zero
    features = rng.normal(scale=[scale, 0.01 * scale], size=(n, 2))
    return Cohort(
        definition=CohortDefinition(key="driver/all", club="driver"),
        golfers=tuple(f"Q{k:03d}" for k in range(n)),
        swing_counts=np.ones(n),
        curves_cm=curves,
        feature_names=("lift_low", "sway_top"),
        features=features,
    )


def published(n, **more):
    cohort = cohort_of(n, **more)
    bands = bands_of(cohort)
    return cohort, bands, published_bands(bands, cohort)


def own_numbers(values, means):
    """Which of the numbers shown are some golfer's exact mean; zeros, common to all, are not."""
    shown = np.isfinite(values) & (values != 0)
    own = (values[:, np.newaxis] == means[np.newaxis]).any(axis=1)
    return own[shown]


@pytest.mark.parametrize("n", [5, 6, 9])
def test_below_ten_golfers_no_number_is_a_golfers_own(n):
    cohort, bands, after = published(n)
    assert own_numbers(bands.curve_low_cm, cohort.curves_cm).all()
    for name in ("curve_cm", "curve_low_cm", "curve_high_cm"):
        assert not own_numbers(getattr(after, name), cohort.curves_cm).any()
    for name in ("feature", "feature_low", "feature_high"):
        assert not own_numbers(getattr(after, name), cohort.features).any()


@pytest.mark.parametrize("n", [10, 30, 60])
def test_from_ten_on_the_extreme_golfers_are_not_shown(n):
    cohort, bands, after = published(n)
    smallest, largest = cohort.curves_cm.min(axis=0), cohort.curves_cm.max(axis=0)
    inside = (slice(None), slice(None), slice(1, None))
    assert not (after.curve_low_cm == smallest)[inside].any()
    assert not (after.curve_high_cm == largest)[inside].any()
    np.testing.assert_array_equal(after.curve_cm, bands.curve_cm)


@given(n=st.integers(5, 40), seed=st.integers(0, 1000), scale=st.floats(1e-3, 1e3))
def test_intervals_only_become_wider_and_missing_stays_missing(n, seed, scale):
    _, bands, after = published(n, seed=seed, scale=scale)
    for low, high in PAIRS:
        before_low, before_high = getattr(bands, low), getattr(bands, high)
        after_low, after_high = getattr(after, low), getattr(after, high)
        tiny = 1e-12 * scale
        shown = ~np.isnan(before_low)
        assert (after_low[shown] <= before_low[shown] + tiny).all()
        assert (after_high[shown] >= before_high[shown] - tiny).all()
        np.testing.assert_array_equal(np.isnan(after_low), np.isnan(before_low))


def test_the_step_is_a_round_number_of_about_a_tenth_of_the_width():
    _, bands, after = published(6)
    axis = 0
    width = np.nanmean((bands.curve_high_cm - bands.curve_low_cm)[:, axis])
    values = after.curve_low_cm[~np.isnan(after.curve_low_cm[:, axis, 0]), axis]
    step = np.diff(np.unique(values)).min()
    assert width / 10 <= step * (1 + 1e-9) <= width / 3.9
    assert any(np.isclose(step / 10.0**k, m) for k in range(-4, 3) for m in (1, 2, 5))


def test_golfers_who_do_not_differ_are_shown_as_they_are():
    cohort = cohort_of(6, scale=0.0)
    after = published_bands(bands_of(cohort), cohort)
    np.testing.assert_array_equal(after.feature_low[2:5], 0.0 * after.feature_low[2:5])
