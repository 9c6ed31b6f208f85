from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from norms.cohort.simultaneous_bands import (
    build_whole_curve_bands,
    golfers_for_whole_curves,
    leave_one_out_maxima,
)
from norms.errors import CohortRefused
from norms.records import Cohort, CohortDefinition

RISE = np.minimum(np.arange(301) / 60, 1)
NODES = np.linspace(0, 1, 301)


def curves_of(n, rng):
    """Smooth curves that start at zero."""
    parts = rng.normal(size=(n, 3, 4))
    waves = np.stack([np.sin((k + 1) * NODES * 2 + k) for k in range(4)])
    return (parts @ waves + 0.2) * RISE


def cohort_of(curves, swings=3):
    n = len(curves)
    return Cohort(
        definition=CohortDefinition(key="driver/all", club="driver"),
        golfers=tuple(f"Q{i:04d}" for i in range(n)),
        swing_counts=np.full(n, swings),
        curves_cm=curves,
        feature_names=(),
        features=np.empty((n, 0)),
    )


def test_closed_form_equals_leaving_each_golfer_out_by_hand():
    curves = curves_of(12, np.random.default_rng(1))
    by_hand = np.empty((12, 3))
    for i in range(12):
        others = np.delete(curves, i, axis=0)
        spread = np.maximum(others.std(axis=0, ddof=1), 0.1)
        by_hand[i] = (np.abs(curves[i] - others.mean(axis=0)) / spread).max(axis=-1)
    np.testing.assert_allclose(leave_one_out_maxima(curves, 0.1), by_hand, rtol=1e-9)


def test_factor_is_the_stated_order_statistic():
    curves = curves_of(30, np.random.default_rng(2))
    bands = build_whole_curve_bands(cohort_of(curves), noise_cm=0.1)
    maxima = leave_one_out_maxima(curves, 0.1)
    assert bands.joint_factor == np.sort(maxima.max(axis=1))[27]  # ceil(31 * 0.9) = 28th
    np.testing.assert_array_equal(bands.axis_factors, np.sort(maxima, axis=0)[27])
    assert (bands.axis_factors <= bands.joint_factor).all()
    assert bands.swings == 90


def test_band_of_numbers_equals_normal_theory_at_many_golfers():
    # Curves that are one number each: the factor tends to the normal quantile.
    heights = stats.norm.ppf((np.arange(4000) + 0.5) / 4000)
    curves = heights[:, None, None] * np.ones((3, 301))
    bands = build_whole_curve_bands(cohort_of(curves), noise_cm=0.01)
    assert bands.joint_factor == pytest.approx(1.6449, abs=0.01)


def test_spread_at_the_start_is_the_floor_and_the_band_has_width():
    bands = build_whole_curve_bands(
        cohort_of(curves_of(20, np.random.default_rng(3))), noise_cm=0.12
    )
    assert (bands.sd_cm[:, 0] == 0.12).all()
    low, high = bands.axis_limits_cm("thrust")
    assert high[0] - low[0] == pytest.approx(2 * bands.axis_factors[1] * 0.12)
    joint_low, joint_high = bands.joint_limits_cm()
    assert joint_low.shape == (3, 301)
    assert (joint_low[1] <= low).all()
    assert (joint_high[1] >= high).all()


def test_one_golfer_with_200_swings_moves_no_band():
    curves = curves_of(20, np.random.default_rng(4))
    few = build_whole_curve_bands(cohort_of(curves), noise_cm=0.1)
    cohort = cohort_of(curves)
    many = Cohort(
        definition=cohort.definition,
        golfers=cohort.golfers,
        swing_counts=[200] + [3] * 19,
        curves_cm=curves,
        feature_names=(),
        features=np.empty((20, 0)),
    )
    moved = build_whole_curve_bands(many, noise_cm=0.1)
    assert moved.joint_factor == few.joint_factor
    assert (moved.mean_cm == few.mean_cm).all()


def test_deviations_tell_who_is_inside():
    bands = build_whole_curve_bands(
        cohort_of(curves_of(40, np.random.default_rng(5))), noise_cm=0.1
    )
    low, high = bands.joint_limits_cm()
    inside, outside = (low + high) / 2, high.copy()
    outside[2, 150] += 0.01
    deviations = bands.deviations(np.stack([inside, outside]))
    assert deviations.shape == (2, 3)
    assert deviations[0].max() == pytest.approx(0, abs=1e-12)
    assert deviations[1].max() > bands.joint_factor


def test_more_golfers_make_the_share_held_surer():
    rng = np.random.default_rng(6)
    few, many = (
        build_whole_curve_bands(cohort_of(curves_of(n, rng)), noise_cm=0.1) for n in (30, 300)
    )
    assert few.share_low < many.share_low < 0.9 < many.share_high < few.share_high
    assert (few.share_low, few.share_high) == pytest.approx(stats.beta.ppf([0.05, 0.95], 28, 3))


def test_too_few_golfers_and_wrong_choices_are_refused():
    assert golfers_for_whole_curves(0.90) == 9
    curves = curves_of(9, np.random.default_rng(7))
    assert build_whole_curve_bands(cohort_of(curves), noise_cm=0.1).golfers == 9
    with pytest.raises(CohortRefused, match=r"8 golfers are too few.*9 are needed"):
        build_whole_curve_bands(cohort_of(curves[:8]), noise_cm=0.1)
    with pytest.raises(CohortRefused, match="positive floor"):
        build_whole_curve_bands(cohort_of(curves), noise_cm=0.0)
    with pytest.raises(CohortRefused, match=r"level 1\.0"):
        build_whole_curve_bands(cohort_of(curves), noise_cm=0.1, level=1.0)


def test_kept_calibration_holds_88_to_92_percent_of_new_golfers():
    path = Path(__file__).parents[2] / "calibration" / "results" / "whole_curve_bands.csv"
    header, *rows = [line.split(",") for line in path.read_text().splitlines()]
    joint = [float(row[header.index("leave_one_out_joint_pct")]) for row in rows]
    assert len(joint) >= 16
    assert all(88 <= share <= 92 for share in joint)
