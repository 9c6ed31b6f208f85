from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.simultaneous_bands import build_whole_curve_bands
from norms.placement.peers import peers_of
from norms.placement.whole_curve import joint_excursions, place_whole_curve
from norms.records import PhaseCurve
from norms.vocabulary import NODES

TIMES = np.interp(np.arange(NODES), [0, 100, 200, 300], [0.5, 1.5, 1.8, 2.6])


def curve(values):
    return PhaseCurve(values_cm=values, times_s=TIMES)


@pytest.fixture(scope="module")
def bands(small_academy):
    return build_whole_curve_bands(small_academy.edition.cell("driver/all").cohort, noise_cm=0.1)


def test_the_mean_curve_of_the_peers_never_leaves_the_band(bands):
    place = place_whole_curve(curve(bands.mean_cm), bands, level=0.9, peers=96)
    assert place.excursions == ()
    assert place.outside_s == 0.0
    assert place.deviation_sd == 0.0
    assert place.peers == 96


def test_where_and_how_long_the_curve_is_outside(bands):
    low, high = bands.joint_limits_cm()
    values = bands.mean_cm.copy()
    values[0, 120:141] = high[0, 120:141] + 0.5
    values[0, 130] = high[0, 130] + 2.0
    values[2, 290:] = low[2, 290:] - 1.0
    first, second = joint_excursions(curve(values), bands)
    assert (first.axis, first.first_node, first.last_node) == ("sway", 120, 140)
    assert first.worst_node == 130
    assert first.beyond_cm == pytest.approx(2.0)
    # Twenty-one nodes of the downswing, 3 ms apart, each standing for its own stretch.
    assert first.seconds == pytest.approx(21 * 0.003)
    assert (second.axis, second.first_node, second.last_node) == ("lift", 290, 300)
    assert second.beyond_cm == pytest.approx(-1.0)
    assert second.seconds == pytest.approx(10.5 * 0.008)


def test_time_outside_counts_two_curves_at_once_only_once(bands):
    _, high = bands.joint_limits_cm()
    values = bands.mean_cm.copy()
    values[:2, 50:60] = high[:2, 50:60] + 1.0
    place = place_whole_curve(curve(values), bands, level=0.9, peers=96)
    assert len(place.excursions) == 2
    assert place.outside_s == pytest.approx(10 * 0.01)
    assert place.deviation_sd > place.bands.joint_factor


def test_a_curve_inside_by_its_deviation_has_no_excursion(bands):
    for share in (0.999, 1.001):
        values = bands.mean_cm + share * bands.joint_factor * bands.sd_cm
        found = joint_excursions(curve(values), bands)
        assert bool(found) == (share > 1)


def test_why_there_is_no_band_is_carried_on():
    place = place_whole_curve(curve(np.zeros((3, NODES))), "7 peers", level=0.9, peers=7)
    assert (place.bands, place.excursions, place.withheld) == (None, (), "7 peers")


def test_too_few_peers_have_no_band_and_the_number_is_said(small_academy):
    cell = small_academy.edition.cell("driver/all")
    few = replace(
        cell,
        cohort=cell.cohort.of_golfers(np.arange(len(cell.cohort.golfers)) < 7),
    )
    for smallest_cell, said in ((5, "9 are needed"), (8, "8 are needed")):
        rules = {**small_academy.edition.parameters, "smallest_cell": smallest_cell}
        edition = replace(small_academy.edition, parameters=rules)
        assert said in peers_of(few, edition, "Q9999").whole_curve
