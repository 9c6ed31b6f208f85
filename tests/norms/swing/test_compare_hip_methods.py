"""What hip methods differ by, and the bound that geometry sets."""

import numpy as np
import pytest

from norms.errors import SwingRefused
from norms.swing.compare_hip_methods import compare_hip_methods
from norms.swing.hip_regressions import REGRESSIONS, PelvisSize
from norms.synthetic import SwingParameters, true_path

SIZE = PelvisSize(width_cm=24.0, depth_cm=15.0, leg_length_cm=88.0, marker_radius_cm=0.7)


def test_every_regression_is_held_against_the_captures_own(make_capture, label) -> None:
    capture = make_capture(leg_length_cm=88.0, marker_radius_cm=0.7)
    comparison = compare_hip_methods(capture, label)
    assert comparison.own.pelvis_method == "harrington"
    assert {d.method for d in comparison.differences} == set(REGRESSIONS) - {"harrington"}
    assert comparison.refused == {}
    for difference in comparison.differences:
        # Displacement changes by at most twice the offset between the centres (times the sine of
        # half the turn, at most 1).
        offset = np.subtract(REGRESSIONS[difference.method](SIZE), REGRESSIONS["harrington"](SIZE))
        apart = np.linalg.norm(difference.curve_cm, axis=0).max()
        assert 0.0 < apart <= 2.0 * np.linalg.norm(offset[:2]) + 0.01
        sway = comparison.own.features.values["sway_top"] + difference.features["sway_top"]
        assert sway == pytest.approx(
            comparison.own.curve.values_cm[0, 100] + difference.curve_cm[0, 100], abs=1e-9
        )


def test_methods_without_their_inputs_are_named(make_capture, label) -> None:
    comparison = compare_hip_methods(make_capture(), label)
    assert set(comparison.refused) == {"harrington_full", "harrington_leg", "davis"}
    assert all("leg_length_cm" in reason for reason in comparison.refused.values())


def test_functional_centres_in_the_capture_are_held_against_regressions(
    make_capture, label
) -> None:
    def add_hips(paths: dict[str, np.ndarray]) -> None:
        t = np.arange(len(paths["club_head"])) / 240.0
        centre = true_path(SwingParameters(), t) * [1.0, -1.0, 1.0] + [0.0, 0.0, 88.0]
        aside = np.array([8.0, 0.0, 0.0])
        paths["left_hip"], paths["right_hip"] = centre + aside, centre - aside

    comparison = compare_hip_methods(
        make_capture(spoil=add_hips, given_centres="functional"), label
    )
    assert comparison.own.pelvis_method == "functional hips"
    (harrington,) = [d for d in comparison.differences if d.method == "harrington"]
    # the invented markers sit where Harrington's regression gives the true centre
    assert harrington.largest_cm.max() < 0.05


def test_a_capture_with_one_method_says_so(make_capture, label) -> None:
    def only_hips(paths: dict[str, np.ndarray]) -> None:
        for role in ("left_asis", "right_asis", "left_psis", "right_psis"):
            centre = paths.pop(role)
        paths["left_hip"], paths["right_hip"] = centre, centre + 1.0

    with pytest.raises(SwingRefused) as refused:
        compare_hip_methods(make_capture(spoil=only_hips), label)
    assert refused.value.code == "one_method_only"
