import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from norms.cohort.profile_parts import (
    PARTS,
    QUANTITIES,
    deviation_index,
    overall_deviation,
    parts_of,
    quantities_of,
)
from norms.cohort.typicality import fit_typicality, swings_seen
from norms.errors import CohortRefused

CURVES = arrays(float, (3, 301), elements=st.floats(-20, 20))


@pytest.mark.parametrize(("overall", "index"), [(5.35, 100.0), (6.96, 90.0), (10.0, 76.2)])
def test_index_on_bakers_published_constants(overall, index):
    # Baker et al. 2009: mean 1.677 and spread 0.263 of the natural logarithm.
    assert deviation_index(overall, 1.677, 0.263) == pytest.approx(index, abs=0.05)


@settings(deadline=None)
@given(arrays(float, 9, elements=st.floats(0, 50)))
def test_squared_distance_is_parts_times_nodes_times_square_of_overall(distances):
    nodes = 101
    squared = (distances**2 * nodes).sum()
    assert squared == pytest.approx(9 * nodes * overall_deviation(distances) ** 2, abs=1e-9)


@settings(deadline=None)
@given(CURVES)
def test_distance_splits_into_sign_and_shape(departures):
    parts = parts_of(departures)
    np.testing.assert_allclose(
        parts.distance**2, parts.signed**2 + parts.shape**2, rtol=1e-9, atol=1e-7
    )
    assert (np.abs(parts.signed) <= parts.distance + 1e-9).all()


@settings(deadline=None)
@given(CURVES, st.floats(0.1, 5))
def test_parts_scale_with_the_departures_and_turn_with_their_sign(departures, factor):
    parts, scaled = parts_of(departures), parts_of(-factor * departures)
    np.testing.assert_allclose(scaled.distance, factor * parts.distance, atol=1e-8)
    np.testing.assert_allclose(scaled.signed, -factor * parts.signed, atol=1e-8)


def test_a_constant_departure_in_one_part_is_there_alone():
    departures = np.zeros((3, 301))
    departures[1, 110:190] = 2.0
    parts = parts_of(departures)
    place = PARTS.index(("thrust", "downswing"))
    assert np.flatnonzero(parts.distance).tolist() == [place]
    assert parts.signed[place] == pytest.approx(2.0 * 80 / 101)
    assert parts.overall == pytest.approx(parts.distance[place] / 3)
    assert quantities_of(departures)[QUANTITIES.index("overall")] == parts.overall


def test_typicality_ranks_golfers_without_themselves(one_cloud):
    club = one_cloud
    found = fit_typicality(club.cohort, club.swings, smallest_cell=5, seed=1)
    n = len(club.cohort.golfers)
    assert found.overall_cm.shape == (4, n)
    # A mean of five swings lies nearer, on the whole, than a single swing.
    assert np.median(found.overall_cm[3]) < np.median(found.overall_cm[0])
    curves = club.cohort.curves_cm
    usual = [
        parts_of(curves[i] - np.delete(curves, i, axis=0).mean(axis=0)).overall for i in range(n)
    ]
    assert found.log_mean == pytest.approx(np.log(usual).mean())
    assert found.log_sd == pytest.approx(np.log(usual).std(ddof=1))


def test_typicality_of_few_golfers_is_refused(one_cloud):
    with pytest.raises(CohortRefused, match="are needed to say how unusual"):
        fit_typicality(one_cloud.cohort, one_cloud.swings, smallest_cell=100, seed=1)


def test_peers_are_seen_by_no_more_swings_than_the_newcomer():
    assert [swings_seen(m) for m in (1, 2, 3, 4, 5, 9)] == [0, 1, 2, 2, 3, 3]


def test_first_few_swings_come_from_the_largest_session(one_cloud):
    rng = np.random.default_rng(0)
    swings = one_cloud.swings
    everything = swings.first_few(99, rng)
    np.testing.assert_allclose(everything, one_cloud.cohort.curves_cm, atol=1e-9)
    three = swings.first_few(3, rng)
    own = swings.golfer == 0
    sessions = np.unique(swings.session[own])
    means = [swings.curves_cm[swings.session == one].mean(axis=0) for one in sessions]
    assert any(np.allclose(three[0], mean) for mean in means)
