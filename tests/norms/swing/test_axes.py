"""The axes of the shot for right- and left-handers, plain and mirrored laboratories."""

import numpy as np
import pytest

from norms.errors import SwingRefused
from norms.records import LabAxes
from norms.swing.axes import shot_axes

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def test_right_hander_has_the_ball_on_the_right_of_the_target_line() -> None:
    # Common practice: a right-handed golfer faces the ball with the target on the left.
    axes = shot_axes(LabAxes(source="declared", up=Z, target=X), "right")
    np.testing.assert_allclose(axes, [X, (0, -1, 0), Z])


def test_left_hander_faces_the_other_way() -> None:
    axes = shot_axes(LabAxes(source="declared", up=Z, target=X), "left")
    np.testing.assert_allclose(axes, [X, Y, Z])


def test_mirrored_laboratory_turns_the_ball_side_round() -> None:
    axes = shot_axes(LabAxes(source="declared", up=Z, target=X, mirrored=True), "right")
    np.testing.assert_allclose(axes, [X, Y, Z])


def test_a_tilted_target_is_levelled() -> None:
    axes = shot_axes(LabAxes(source="declared", up=(0, 0, 2.0), target=(1.0, 0, 0.3)), "right")
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(axes[0], X)


def test_feet_give_the_target_line_from_trail_to_lead() -> None:
    lab = LabAxes(source="feet_line", up=Y)
    left, right = np.array([20.0, 5.0, 1.0]), np.array([-20.0, 9.0, 1.0])
    toward = shot_axes(lab, "right", left_foot_cm=left, right_foot_cm=right)[0]
    np.testing.assert_allclose(toward, X)
    other = shot_axes(lab, "left", left_foot_cm=left, right_foot_cm=right)[0]
    np.testing.assert_allclose(other, [-1, 0, 0])


def test_missing_feet_are_named() -> None:
    with pytest.raises(SwingRefused, match="feet"):
        shot_axes(LabAxes(source="feet_line", up=Y), "right")
    with pytest.raises(SwingRefused, match="same way"):
        shot_axes(LabAxes(source="declared", up=Y, target=Y), "right")
