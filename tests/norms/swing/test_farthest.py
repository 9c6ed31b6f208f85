"""Where curves are farthest, against the truth of invented swings."""

import numpy as np
import pytest

from norms.swing.farthest import farthest_places
from norms.swing.process import process_capture
from norms.synthetic import SwingParameters, true_path
from norms.vocabulary import AXES, AXIS_ENDS

SWING = SwingParameters()


@pytest.fixture(scope="module")
def places(make_capture, label):
    return farthest_places(process_capture(make_capture(SWING), label))


def test_each_curve_has_both_its_ends_in_the_order_of_time(places) -> None:
    assert {(p.axis, p.toward) for p in places} == {
        (axis, end) for axis in AXES for end in AXIS_ENDS[axis]
    }
    assert [p.time_s for p in places] == sorted(p.time_s for p in places)


def test_value_second_and_node_are_those_of_the_true_path(places) -> None:
    seconds = np.linspace(SWING.start_s, SWING.finish_s, 200_001)
    path = true_path(SWING, seconds)
    bounds = (SWING.start_s, SWING.top_s, SWING.impact_s, SWING.finish_s)
    for place in places:
        curve = path[:, AXES.index(place.axis)] - path[0, AXES.index(place.axis)]
        positive = place.toward == AXIS_ENDS[place.axis][0]
        at = int(np.argmax(curve if positive else -curve))
        assert place.value_cm == pytest.approx(curve[at], abs=0.05), place
        if 0 < at < len(seconds) - 1:  # at rest, the very second is no matter of truth
            assert place.time_s == pytest.approx(seconds[at], abs=0.02), place
            assert place.node == pytest.approx(
                np.interp(seconds[at], bounds, (0, 100, 200, 300)), abs=3.0
            ), place
