"""Hip joint centres against the published regressions and a real frame."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from norms.errors import SwingRefused
from norms.swing.pelvis import (
    bell,
    harrington,
    hip_joint_centres,
    pelvis_axes,
    rebuild_from_rigid_body,
)

# One frame of open sample data (Apache-2.0 gait model tests), cm; axes expected by that
# project's own test, hip centres recomputed from the published equations.
LASI = np.array([[14.531594849, 40.579052734, 103.081445312]])
RASI = np.array([[35.790066528, 37.769210815, 103.497253418]])
LPSI = np.array([[18.915231323, 21.486122131, 105.273486328]])
RPSI = np.array([[27.400466919, 20.564402771, 105.176452637]])


def test_harrington_one_predictor_at_240_and_150_mm() -> None:
    # Harrington et al. 2007, J Biomech 40:595
    assert harrington(24.0, 15.0) == pytest.approx((-4.59, -8.29, 8.65), abs=1e-9)


def test_bell_at_240_mm() -> None:
    # Bell et al. 1990, J Biomech 23:617
    assert bell(24.0, 15.0) == pytest.approx((-4.56, -7.20, 8.64), abs=1e-9)


def test_pelvis_axes_of_a_real_frame() -> None:
    origin, axes = pelvis_axes(LASI, RASI, LPSI, RPSI)
    np.testing.assert_allclose(origin[0], [25.1608307, 39.1741318, 103.2893494], atol=1e-6)
    want = [
        [0.132329, 0.985629, -0.104993],
        [-0.005354, 0.106634, 0.994284],
        [0.991191, -0.131011, 0.019387],
    ]
    np.testing.assert_allclose(axes[0], want, atol=1e-6)


@pytest.mark.parametrize(
    ("method", "centre", "width"),
    [
        ("harrington", (24.4869661, 33.0526218, 96.3747581), 15.6152803),
        ("bell", (24.6560337, 34.4715831, 97.3197559), 15.4421240),
    ],
)
def test_pelvis_centre_of_a_real_frame(
    method: str, centre: tuple[float, float, float], width: float
) -> None:
    left, right = hip_joint_centres(LASI, RASI, LPSI, RPSI, method=method)
    np.testing.assert_allclose((left[0] + right[0]) / 2, centre, atol=2e-6)
    assert np.linalg.norm(right - left) == pytest.approx(width, abs=1e-6)


def test_unknown_regression_is_refused_by_name() -> None:
    with pytest.raises(SwingRefused, match="davis"):
        hip_joint_centres(LASI, RASI, LPSI, RPSI, method="davis")


rotations = st.tuples(*[st.floats(-3, 3)] * 3).map(Rotation.from_rotvec)


@given(rotations, st.tuples(*[st.floats(-200, 200)] * 3))
def test_centres_move_rigidly_with_the_markers(
    rotation: Rotation, shift: tuple[float, float, float]
) -> None:
    markers = [LASI, RASI, LPSI, RPSI]
    moved = [rotation.apply(m) + shift for m in markers]
    for before, after in zip(hip_joint_centres(*markers), hip_joint_centres(*moved), strict=True):
        np.testing.assert_allclose(rotation.apply(before) + shift, after, atol=1e-9)


def test_mirrored_coordinates_give_mirrored_centres() -> None:
    flip = np.array([1.0, -1.0, 1.0])
    plain = hip_joint_centres(LASI, RASI, LPSI, RPSI)
    mirrored = hip_joint_centres(LASI * flip, RASI * flip, LPSI * flip, RPSI * flip, mirrored=True)
    for a, b in zip(plain, mirrored, strict=True):
        np.testing.assert_allclose(a * flip, b, atol=1e-12)


@given(st.integers(0, 3), st.integers(0, 1000))
def test_an_unseen_marker_is_rebuilt_from_the_other_three(lost: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    shape = np.concatenate([LASI, RASI, LPSI, RPSI])
    turns = Rotation.from_rotvec(np.cumsum(rng.normal(scale=0.05, size=(40, 3)), axis=0))
    truth = np.stack([turn.apply(shape) for turn in turns]) + rng.normal(size=(40, 1, 3))
    broken = truth.copy()
    broken[10:30, lost] = np.nan
    rebuilt, was_rebuilt = rebuild_from_rigid_body(broken)
    np.testing.assert_allclose(rebuilt, truth, atol=1e-9)
    assert was_rebuilt.sum() == 20


def test_two_unseen_markers_stay_unseen() -> None:
    points = np.repeat(np.concatenate([LASI, RASI, LPSI, RPSI])[None], 20, axis=0)
    points[5:10, :2] = np.nan
    rebuilt, was_rebuilt = rebuild_from_rigid_body(points)
    assert np.isnan(rebuilt[5:10, :2]).all()
    assert not was_rebuilt.any()
