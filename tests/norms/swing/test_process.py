"""From capture to swing, against the exact truth of invented swings."""

import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from norms.errors import SwingRefused
from norms.records import LabAxes, Swing
from norms.swing.catalogue import BY_NAME
from norms.swing.process import process_capture
from norms.synthetic import SwingParameters, true_features, true_path

LENGTH_TOLERANCE_CM = 0.15
TOLERANCE = {"cm": LENGTH_TOLERANCE_CM, "cm_s": 4.0, "s": 0.035, "pct": 14.0, "ratio": 0.2}


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("rate", [120.0, 240.0])
def test_the_pelvis_path_is_recovered(make_capture, label, hand: str, rate: float) -> None:
    swing = SwingParameters()
    capture = make_capture(swing, rate_hz=rate, hand=hand, noise_cm=0.1, seed=3)
    done = process_capture(capture, label)
    truth = true_path(swing, done.curve.times_s).T
    rms_mm = 10 * np.sqrt(((done.curve.values_cm - truth) ** 2).mean(axis=1))
    assert rms_mm.max() < 2.0


@pytest.mark.parametrize("rate", [120.0, 240.0])
def test_features_come_near_the_exact_ones(make_capture, label, rate: float) -> None:
    swing = SwingParameters()
    done = process_capture(make_capture(swing, rate_hz=rate, noise_cm=0.05), label)
    truth = true_features(swing)
    assert not done.features.missing
    for name, value in done.features.values.items():
        # noise always lengthens a path, so its tolerance is wider
        allowed = 0.3 if name == "path_length" else TOLERANCE[BY_NAME[name].unit]
        assert value == pytest.approx(truth[name], abs=allowed), name


def alike(a: Swing, b: Swing, tolerance: float = 1e-9) -> None:
    np.testing.assert_allclose(a.curve.values_cm, b.curve.values_cm, atol=tolerance)
    assert a.features.missing == b.features.missing
    for name, value in a.features.values.items():
        assert b.features.values[name] == pytest.approx(value, abs=tolerance, rel=tolerance), name


turns = st.tuples(*[st.floats(-3, 3)] * 3).map(Rotation.from_rotvec)


@settings(max_examples=15)
@given(turns, st.tuples(*[st.floats(-300, 300)] * 3), st.booleans(), st.booleans())
def test_turned_moved_mirrored_laboratories_and_left_handers_give_the_same_swing(
    make_capture, label, turn: Rotation, shift, mirror: bool, left: bool
) -> None:
    plain = process_capture(make_capture(), label)
    capture = make_capture(hand="left" if left else "right")
    flip = np.array([1.0, -1.0 if mirror else 1.0, 1.0])

    def move(points: np.ndarray) -> np.ndarray:
        return turn.apply((points * flip).reshape(-1, 3)).reshape(points.shape)

    moved = make_capture(
        hand=capture.hand,
        axes=LabAxes(
            source="declared",
            up=tuple(move(np.array([[0.0, 0.0, 1.0]]))[0]),
            target=tuple(move(np.array([[1.0, 0.0, 0.0]]))[0]),
            mirrored=mirror,
        ),
        spoil=lambda paths: paths.update({k: move(v) + shift for k, v in paths.items()}),
    )
    alike(plain, process_capture(moved, label), 1e-9)


def test_feet_stand_in_for_the_target_line(make_capture, label) -> None:
    feet = make_capture(axes=LabAxes(source="feet_line", up=(0, 0, 1)))
    done = process_capture(feet, label)
    assert done.axes_source == "feet_line"
    alike(process_capture(make_capture(), label), done)


def test_given_hips_and_a_given_centre_agree_with_the_markers(make_capture, label) -> None:
    markers = process_capture(make_capture(), label)
    swing = SwingParameters()

    def centre_only(paths: dict[str, np.ndarray]) -> None:
        times = np.arange(len(paths["club_head"])) / 240.0
        paths["pelvis_centre"] = true_path(swing, times) * [1.0, -1.0, 1.0] + 90.0

    given_centre = process_capture(make_capture(spoil=centre_only), label)
    assert given_centre.pelvis_method == "given centre"
    # filtering markers and filtering their midpoint differ by second-order terms only
    alike(markers, given_centre, 0.02)


def test_a_short_gap_is_filled_counted_and_said(make_capture, label) -> None:
    swing = SwingParameters()
    hidden = slice(int(swing.top_s * 240) + 5, int(swing.top_s * 240) + 25)

    def hide(paths: dict[str, np.ndarray]) -> None:
        paths["left_asis"][hidden] = np.nan

    done = process_capture(make_capture(swing, spoil=hide), label)
    assert done.warned
    assert [n.code for n in done.notices] == ["gap_filled"]
    assert done.filled_share[0] == 0.0
    assert done.filled_share[1] == pytest.approx(20 / (swing.downswing_s * 240), abs=0.03)
    truth = true_path(swing, done.curve.times_s).T
    assert np.abs(done.curve.values_cm - truth).max() < 0.2


def test_a_long_gap_in_one_marker_is_rebuilt_from_the_other_three(make_capture, label) -> None:
    swing = SwingParameters()

    def hide(paths: dict[str, np.ndarray]) -> None:
        paths["right_psis"][140:350] = np.nan

    done = process_capture(make_capture(swing, spoil=hide), label)
    assert done.filled_share.max() == 1.0
    truth = true_path(swing, done.curve.times_s).T
    assert np.abs(done.curve.values_cm - truth).max() < 0.1


def test_a_long_gap_in_two_markers_is_refused_with_its_place(make_capture, label) -> None:
    def hide(paths: dict[str, np.ndarray]) -> None:
        paths["right_psis"][200:290] = paths["left_asis"][200:290] = np.nan

    with pytest.raises(SwingRefused, match=r"between 0.83 and 1.21 s") as refused:
        process_capture(make_capture(spoil=hide), label)
    assert refused.value.code == "gap_too_long"


def test_a_marker_never_seen_is_named(make_capture, label) -> None:
    def hide(paths: dict[str, np.ndarray]) -> None:
        paths["left_psis"][:] = np.nan

    with pytest.raises(SwingRefused, match="left_psis"):
        process_capture(make_capture(spoil=hide), label)
    with pytest.raises(SwingRefused, match="left_psis"):
        process_capture(make_capture(leave_out=("left_psis",)), label)


def test_a_pelvis_that_moves_at_address_is_said(make_capture, label) -> None:
    def drift(paths: dict[str, np.ndarray]) -> None:
        settling = np.minimum(np.arange(len(paths["club_head"])) / 144 - 1.0, 0.0) * 3.0
        for role in ("left_asis", "right_asis", "left_psis", "right_psis"):
            paths[role] += settling[:, None]

    done = process_capture(make_capture(spoil=drift), label)
    assert "moving_at_address" in [n.code for n in done.notices]


def test_too_few_samples_and_too_low_a_rate_are_refused(make_capture, label) -> None:
    with pytest.raises(SwingRefused, match="at least 50"):
        process_capture(make_capture(rate_hz=30.0), label)
    with pytest.raises(SwingRefused, match="samples"):
        process_capture(make_capture(end_s=0.1), label)


def test_the_zero_is_address_and_the_filter_leaves_it_there(make_capture, label) -> None:
    done = process_capture(make_capture(noise_cm=0.05), label)
    assert np.abs(done.curve.values_cm[:, 0]).max() < 0.1


def test_a_swing_survives_the_way_between_processes(make_capture, label) -> None:
    done = process_capture(make_capture(), label)
    alike(done, pickle.loads(pickle.dumps(done)), 0.0)
    with pytest.raises(ValueError, match="read-only"):
        done.curve.values_cm[0, 0] = 1.0
