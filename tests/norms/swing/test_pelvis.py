"""Hip joint centres against the published regressions and a real frame."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from norms.errors import SwingRefused
from norms.swing import hip_regressions
from norms.swing.hip_regressions import REGRESSIONS, PelvisSize
from norms.swing.pelvis import hip_joint_centres, pelvis_axes, rebuild_from_rigid_body

# One frame of open sample data (Apache-2.0 gait model tests), cm; axes expected by that
# project's own test, hip centres recomputed from the published equations.
LASI = np.array([[14.531594849, 40.579052734, 103.081445312]])
RASI = np.array([[35.790066528, 37.769210815, 103.497253418]])
LPSI = np.array([[18.915231323, 21.486122131, 105.273486328]])
RPSI = np.array([[27.400466919, 20.564402771, 105.176452637]])


ADULT = PelvisSize(width_cm=24.0, depth_cm=15.0, leg_length_cm=88.0, marker_radius_cm=0.7)


@pytest.mark.parametrize(
    ("method", "expected_mm"),
    [
        # Harrington et al. 2007, J Biomech 40:595, with all predictors and with one for each
        ("harrington_full", (-45.9, -80.7, 88.3)),
        ("harrington", (-45.9, -82.9, 86.5)),
        # Sangeux 2015, Gait Posture 42:402
        ("harrington_width", (-43.52, -84.1, 86.5)),
        ("harrington_leg", (-42.38, -80.94, 82.312)),
        # Bell et al. 1990, J Biomech 23:617
        ("bell", (-45.6, -72.0, 86.4)),
        # Davis et al. 1991, Hum Mov Sci 10:575
        ("davis", (-44.9208, -94.0460, 79.1439)),
    ],
)
def test_regressions_give_their_published_values(method, expected_mm) -> None:
    tolerance = 1e-4 if method == "davis" else 1e-10
    found_mm = [10 * value for value in REGRESSIONS[method](ADULT)]
    assert found_mm == pytest.approx(expected_mm, abs=10 * tolerance)


@pytest.mark.parametrize(
    ("method", "code"),
    [
        ("harrington_full", "leg_length_missing"),
        ("harrington_leg", "leg_length_missing"),
        ("davis", "leg_length_missing"),
    ],
)
def test_a_regression_without_its_input_is_refused_by_name(method, code) -> None:
    with pytest.raises(SwingRefused, match="leg_length_cm") as refused:
        hip_joint_centres(LASI, RASI, LPSI, RPSI, method=method)
    assert refused.value.code == code


def test_davis_without_a_marker_radius_is_refused_by_name() -> None:
    with pytest.raises(SwingRefused, match="marker_radius_cm") as refused:
        hip_joint_centres(LASI, RASI, LPSI, RPSI, method="davis", leg_length_cm=94.0)
    assert refused.value.code == "marker_radius_missing"


def test_davis_on_a_real_frame_is_what_an_open_gait_model_asserts(monkeypatch) -> None:
    # Its test holds L (182.57097863, 339.43231855, 935.52900126) and R (308.38050472,
    # 322.80342417, 937.98979061) mm, with angles of 0.5 and 0.314 rad. It takes the width from
    # the subject's measures, which the midpoint of the two does not depend on.
    monkeypatch.setattr(hip_regressions, "DAVIS_THETA_RAD", 0.500000178813934)
    monkeypatch.setattr(hip_regressions, "DAVIS_BETA_RAD", 0.314000427722931)
    left, right = hip_joint_centres(
        LASI, RASI, LPSI, RPSI, method="davis", leg_length_cm=94.0, marker_radius_cm=0.7
    )
    asserted_mm = np.array(
        [
            [182.57097863, 339.43231855, 935.52900126],
            [308.38050472, 322.80342417, 937.98979061],
        ]
    )
    want = asserted_mm.mean(axis=0) / 10.0
    np.testing.assert_allclose((left[0] + right[0]) / 2, want, atol=1e-6)


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
        ("harrington_full", (24.4889863, 33.0123820, 95.9995503), 18.7255351),
        ("bell", (24.6560337, 34.4715831, 97.3197559), 15.4421240),
    ],
)
def test_pelvis_centre_of_a_real_frame(
    method: str, centre: tuple[float, float, float], width: float
) -> None:
    left, right = hip_joint_centres(LASI, RASI, LPSI, RPSI, method=method, leg_length_cm=94.0)
    np.testing.assert_allclose((left[0] + right[0]) / 2, centre, atol=2e-6)
    assert np.linalg.norm(right - left) == pytest.approx(width, abs=1e-6)


def test_unknown_regression_is_refused_by_name() -> None:
    with pytest.raises(SwingRefused, match="guess"):
        hip_joint_centres(LASI, RASI, LPSI, RPSI, method="guess")


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
