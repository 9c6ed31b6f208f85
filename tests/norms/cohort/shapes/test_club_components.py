import numpy as np
import pytest

from norms.cohort.club_components import (
    fit_club_components,
    golfer_levels,
    score_noise,
)
from norms.cohort.profile_parts import QUANTITIES
from norms.errors import CohortRefused
from norms.records import Cohort
from norms.records.plain import put_together, take_apart
from norms.statistics.covariances import positive_part


def test_number_of_components_follows_the_stated_rule(four_patterns):
    found = four_patterns.components
    assert found.held >= 0.90 or len(found.eigenvalues) == 6
    without_last = found.eigenvalues[:-1].sum() / (found.eigenvalues.sum() / found.held)
    assert without_last < 0.90


def test_scores_of_means_are_uncorrelated_and_centred(four_patterns):
    found = four_patterns.components
    scores = found.scores(four_patterns.cohort.curves_cm)
    np.testing.assert_allclose(scores.mean(axis=0), 0.0, atol=1e-9)
    np.testing.assert_allclose(np.cov(scores.T), np.diag(found.eigenvalues), atol=1e-9)


def test_curves_of_scores_are_the_curves_up_to_what_is_left_out(four_patterns):
    found, curves = four_patterns.components, four_patterns.cohort.curves_cm
    again = found.curve_cm(found.scores(curves))
    left = ((curves - again) ** 2).mean() / ((curves - found.mean_cm) ** 2).mean()
    assert left < 0.15


def test_effect_runs_through_the_mean(four_patterns):
    minus, plus = four_patterns.components.effect_cm(0)
    np.testing.assert_allclose((minus + plus) / 2, four_patterns.components.mean_cm, atol=1e-9)


def test_noise_within_a_golfer_is_recovered_by_moments():
    rng = np.random.default_rng(3)
    golfers, sessions, swings = 400, 3, 4
    golfer = np.repeat(np.arange(golfers), sessions * swings)
    session = np.repeat(np.arange(golfers * sessions), swings)
    day_root, swing_root = np.array([[1.0, 0.0], [0.5, 0.3]]), np.array([[0.8, 0.0], [-0.2, 0.6]])
    scores = (
        rng.normal(size=(golfers, 2))[golfer]
        + (rng.normal(size=(golfers * sessions, 2)) @ day_root.T)[session]
        + rng.normal(size=(len(golfer), 2)) @ swing_root.T
    )
    day, swing = score_noise(scores, golfer, session)
    np.testing.assert_allclose(day, day_root @ day_root.T, atol=0.12)
    np.testing.assert_allclose(swing, swing_root @ swing_root.T, atol=0.04)


def test_noise_without_repeats():
    golfer, session = np.array([0, 1, 2]), np.array([0, 1, 2])
    day, swing = score_noise(np.eye(3), golfer, session)
    assert not day.any()
    assert not swing.any()
    # One swing a day: what differs between days is taken as the swing's.
    day, swing = score_noise(np.array([[0.0], [2.0]]), np.array([0, 0]), np.array([0, 1]))
    assert (day[0, 0], swing[0, 0]) == (0.0, 2.0)


def test_positive_part_is_the_matrix_where_it_is_one_already():
    matrix = np.array([[2.0, 0.5], [0.5, 1.0]])
    np.testing.assert_allclose(positive_part(matrix), matrix)
    assert np.linalg.eigvalsh(positive_part(np.array([[1.0, 0.0], [0.0, -1.0]]))).min() >= -1e-12


def test_a_level_of_few_golfers_is_drawn_toward_none(four_patterns):
    found = four_patterns.components
    levels = golfer_levels(four_patterns.swings)
    scores = found.scores(four_patterns.cohort.curves_cm)
    for place, level in enumerate(found.levels):
        mean = scores[[one == level for one in levels]].mean(axis=0)
        shift = found.level_shift(level)
        assert (np.abs(shift) <= np.abs(mean) + 1e-12).all()
        assert (shift * mean >= -1e-12).all()
        np.testing.assert_array_equal(shift, found.level_shifts[place])
    assert not found.level_shift("unknown").any()


def test_parts_of_the_map_have_a_noise(four_patterns):
    found = four_patterns.components
    assert found.part_names == QUANTITIES
    assert (found.part_swing_sd_cm > 0).all()


def test_record_survives_being_taken_apart(four_patterns):
    document, arrays = take_apart(four_patterns.components)
    again = put_together(type(four_patterns.components), document, arrays)
    np.testing.assert_array_equal(again.functions, four_patterns.components.functions)
    assert again.trend is not None
    assert again.trend.golfers == 100


def test_too_few_golfers_and_flat_axes_are_refused(four_patterns):
    cohort = four_patterns.cohort
    few = Cohort(
        definition=cohort.definition,
        golfers=cohort.golfers[:10],
        swing_counts=cohort.swing_counts[:10],
        curves_cm=cohort.curves_cm[:10],
        feature_names=cohort.feature_names,
        features=cohort.features[:10],
    )
    with pytest.raises(CohortRefused, match="components need 20"):
        fit_club_components(few, four_patterns.swings, {})
    flat = Cohort(
        definition=cohort.definition,
        golfers=cohort.golfers,
        swing_counts=cohort.swing_counts,
        curves_cm=cohort.curves_cm * np.array([1.0, 0.0, 1.0])[:, None],
        feature_names=cohort.feature_names,
        features=cohort.features,
    )
    with pytest.raises(CohortRefused, match="agree on one axis"):
        fit_club_components(flat, four_patterns.swings, {})
