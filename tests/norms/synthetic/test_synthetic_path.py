"""The kinematic model: stillness, smoothness, band, events and markers."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from norms.swing.catalogue import FEATURE_NAMES
from norms.synthetic import (
    Body,
    SwingParameters,
    capture_times,
    marker_paths,
    slow_wander,
    swing_truth,
    true_events,
    true_features,
    true_path,
    true_rate,
    white_noise,
    with_gap,
)
from norms.synthetic.club import club_angle, club_head_path, hands_angle
from norms.synthetic.steps import Step, rate_of_steps, sum_of_steps

SWING = SwingParameters(hands_lead_s=0.012)
BODY = Body()

swings = st.builds(
    SwingParameters,
    start_s=st.floats(0.5, 0.8),
    backswing_s=st.floats(0.6, 1.15),
    downswing_s=st.floats(0.21, 0.40),
    follow_through_s=st.floats(0.55, 1.0),
    sway_away_cm=st.floats(0.8, 12),
    sway_forward_cm=st.floats(3, 20),
    sway_lead_s=st.floats(-0.02, 0.18),
    thrust_late_cm=st.floats(0.4, 10),
    lift_rise_cm=st.floats(2, 12),
    turn_top_deg=st.floats(-65, -20),
    list_top_deg=st.floats(-15, 0),
    tilt_change_deg=st.floats(-25, 5),
    hands_lead_s=st.floats(0, 0.02),
    club_speed_mps=st.floats(18, 55),
)


def midpoint_by_regression(
    paths: dict[str, np.ndarray],
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Left and right hip joint centre and midpoint, cm, one frame at a time in millimetres.

    Written out again from Harrington et al. 2007, J Biomech 40:595-602 (one predictor for each
    coordinate), in axes after Wu et al. 2002, J Biomech 35:543, from mid-ASIS.
    """
    left, right, middle = [], [], []
    for la, ra, lp, rp in zip(
        *(10 * paths[r] for r in ("left_asis", "right_asis", "left_psis", "right_psis")),
        strict=True,
    ):
        front, rear = (la + ra) / 2, (lp + rp) / 2
        width, depth = np.linalg.norm(ra - la), np.linalg.norm(front - rear)
        z = (ra - la) / width
        x = (front - rear) - np.dot(front - rear, z) * z
        x /= np.linalg.norm(x)
        y = np.cross(z, x)
        ahead, up = -0.24 * depth - 9.9, -0.30 * width - 10.9
        out = 0.33 * width + 7.3
        left.append(front + ahead * x + up * y - out * z)
        right.append(front + ahead * x + up * y + out * z)
        middle.append((left[-1] + right[-1]) / 2)
    return np.array(left) / 10, np.array(right) / 10, np.array(middle) / 10


def shot_displacement(path: np.ndarray, hand: str) -> np.ndarray:
    """Sway, thrust, lift from canonical coordinates, zero at the first sample."""
    toward_ball = -1.0 if hand == "right" else 1.0
    return (path - path[0]) * np.array([1.0, toward_ball, 1.0])


def test_the_independent_regression_reproduces_published_numbers():
    # Harrington 2007, one predictor, PD 150 and PW 240 mm: right hip (-45.9, -82.9, 86.5) mm.
    markers = {
        "left_asis": [[0.0, 0.0, -12.0]],
        "right_asis": [[0.0, 0.0, 12.0]],
        "left_psis": [[-15.0, 0.0, -4.0]],
        "right_psis": [[-15.0, 0.0, 4.0]],
    }
    _, right, _ = midpoint_by_regression({k: np.array(v) for k, v in markers.items()})
    np.testing.assert_allclose(10 * right[0], (-45.9, -82.9, 86.5), atol=1e-9)


@pytest.mark.parametrize("hand", ["right", "left"])
@given(swing=swings)
@settings(max_examples=15, deadline=None)
def test_the_regression_on_the_markers_gives_the_true_path(swing, hand):
    times = capture_times(swing, 60.0)
    _, _, middle = midpoint_by_regression(marker_paths(swing, BODY, times, hand))
    np.testing.assert_allclose(
        shot_displacement(middle, hand), true_path(swing, times), rtol=0, atol=1e-9
    )


def test_the_markers_do_real_work_the_asis_midpoint_is_not_the_centre():
    times = capture_times(SWING, 120.0)
    paths = marker_paths(SWING, BODY, times)
    belly = (paths["left_asis"] + paths["right_asis"]) / 2
    error = shot_displacement(belly, "right") - true_path(SWING, times)
    assert (np.abs(error).max(axis=0) > 1.0).all()


@pytest.mark.parametrize("hand", ["right", "left"])
def test_pelvis_markers_are_rigid_and_upright_and_face_the_ball(hand):
    times = capture_times(SWING, 120.0)
    paths = marker_paths(SWING, BODY, times, hand)
    width = np.linalg.norm(paths["right_asis"] - paths["left_asis"], axis=1)
    np.testing.assert_allclose(width, BODY.pelvis_width_mm / 10, atol=1e-9)
    across = np.linalg.norm(paths["right_asis"] - paths["left_psis"], axis=1)
    np.testing.assert_allclose(across, across[0], atol=1e-9)
    right = paths["right_asis"][0] - paths["left_asis"][0]
    ahead = paths["left_asis"][0] - paths["left_psis"][0]
    assert np.cross(right, ahead)[2] > 0  # up, for right- and left-handers alike
    ball = paths["club_head"][0] - paths["left_foot"][0]
    assert ahead[1] * ball[1] > 0
    # A right-hander's lead side, toward the target, is the left.
    lead = "left" if hand == "right" else "right"
    assert paths[f"{lead}_asis"][0, 0] > 0


def test_at_the_top_the_pelvis_has_turned_away_from_the_target_and_at_impact_toward_it():
    times = np.array([0.0, SWING.top_s, SWING.impact_s])
    paths = marker_paths(SWING, BODY, times)
    ahead = paths["left_asis"] + paths["right_asis"] - paths["left_psis"] - paths["right_psis"]
    turn = np.degrees(np.arctan2(ahead[:, 0], -ahead[:, 1]))
    assert turn[0] == pytest.approx(0.0, abs=1e-9)
    assert -55 < turn[1] < -35
    assert 20 < turn[2] < 50


def test_everything_is_still_before_the_start_and_after_the_finish():
    times = np.arange(0.0, SWING.end_s, 1e-3)
    for role, path in marker_paths(SWING, BODY, times).items():
        before = path[times <= SWING.start_s]
        after = path[times >= SWING.finish_s]
        assert np.ptp(before, axis=0).max() == 0.0, role
        assert np.ptp(after, axis=0).max() < 1e-9, role
    assert (true_path(SWING, times[times <= SWING.start_s]) == 0.0).all()


@given(swing=swings)
@settings(max_examples=20, deadline=None)
def test_the_rate_is_the_derivative_of_the_path_and_jumps_nowhere(swing):
    times = np.arange(swing.start_s, swing.finish_s, 1e-4)
    numeric = np.gradient(true_path(swing, times), times, axis=0)
    rate = true_rate(swing, times)
    np.testing.assert_allclose(numeric[1:-1], rate[1:-1], atol=0.02)
    assert np.abs(np.diff(rate, n=2, axis=0)).max() < 1e-3  # acceleration is continuous


def test_a_step_is_flat_to_the_third_derivative_at_both_ends():
    ends = np.array([0.0, 1e-3, 1.0 - 1e-3, 1.0])
    steps = (Step(0.0, 1.0, 1.0),)
    np.testing.assert_allclose(sum_of_steps(steps, ends), [0, 35e-12, 1, 1], atol=1e-12)
    np.testing.assert_allclose(rate_of_steps(steps, ends), [0, 140e-9, 140e-9, 0], rtol=0.01)


def test_the_pelvis_moves_below_six_hertz():
    times = np.arange(0.0, SWING.end_s, 1 / 1000)
    rate = true_rate(SWING, times)
    power = np.abs(np.fft.rfft(rate, axis=0)) ** 2
    hz = np.fft.rfftfreq(len(times), 1e-3)
    assert (power[hz > 6].sum(axis=0) / power.sum(axis=0) < 0.01).all()


@given(swing=swings)
@settings(max_examples=25, deadline=None)
def test_the_club_leaves_at_start_reverses_at_top_and_meets_the_ball_at_impact(swing):
    events = true_events(swing)
    fine = np.linspace(-0.02, 0.02, 4001)
    top = events["top"] + fine
    assert top[club_angle(swing, BODY, top).argmin()] == pytest.approx(events["top"], abs=2e-5)
    rest, at_impact = club_head_path(swing, BODY, np.array([0.0, events["impact"]]))
    np.testing.assert_allclose(at_impact, rest, atol=1e-9)
    around = events["impact"] + fine
    heights = club_head_path(swing, BODY, around)[:, 2]
    assert around[heights.argmin()] == pytest.approx(events["impact"], abs=2e-5)
    early = events["start"] + np.array([0.0, 0.02, 0.04])
    away = -club_head_path(swing, BODY, early)[:, 0]
    assert away[0] == pytest.approx(0.0, abs=1e-9)
    assert 0 < away[1] < away[2]
    hands = events["top"] - swing.hands_lead_s + fine
    assert hands[hands_angle(swing, hands).argmin()] == pytest.approx(
        events["top"] - swing.hands_lead_s, abs=2e-5
    )


@given(swing=swings)
@settings(max_examples=20, deadline=None)
def test_the_club_is_fastest_at_impact_with_the_speed_asked_for(swing):
    # Below a tempo of 1.83 the law that turns smoothly at the top peaks shortly before impact.
    assume(swing.backswing_s / swing.downswing_s > 1.85)
    times = np.linspace(swing.start_s, swing.impact_s, 20001)
    step = np.diff(club_head_path(swing, BODY, times), axis=0)
    speed = np.linalg.norm(step, axis=1) / np.diff(times) / 100
    assert speed.argmax() >= len(speed) - 2
    assert speed[-1] == pytest.approx(swing.club_speed_mps, rel=0.002)
    backswing = club_angle(swing, BODY, np.linspace(swing.start_s, swing.top_s, 500))
    assert (np.diff(backswing) < 0).all()


def test_the_hands_come_to_rest_at_the_finish_and_not_earlier():
    times = np.array([-0.05, -1e-4, 0.0, 0.05]) + SWING.finish_s
    paths = marker_paths(SWING, BODY, times)
    for role in ("left_hand", "right_hand"):
        moved = np.linalg.norm(paths[role] - paths[role][2], axis=1)
        assert moved[0] > 0.3
        assert moved[1] > 0
        assert moved[3] < 1e-9


@given(swing=swings)
@settings(max_examples=10, deadline=None)
def test_a_left_hander_is_the_mirror_image(swing):
    times = capture_times(swing, 60.0)
    right = marker_paths(swing, BODY, times, "right")
    left = marker_paths(swing, BODY, times, "left")
    flip = np.array([1.0, -1.0, 1.0])
    np.testing.assert_array_equal(left["right_asis"], right["left_asis"] * flip)
    np.testing.assert_array_equal(left["right_hand"], right["left_hand"] * flip)
    np.testing.assert_array_equal(left["club_head"], right["club_head"] * flip)
    assert left["club_head"][0, 1] > 0 > right["club_head"][0, 1]
    assert left["right_foot"][0, 0] > left["left_foot"][0, 0]


def test_the_feet_line_is_the_target_line():
    paths = marker_paths(SWING, BODY, np.zeros(1))
    line = paths["left_foot"][0] - paths["right_foot"][0]
    np.testing.assert_allclose(line, [BODY.stance_cm, 0.0, 0.0], atol=1e-12)


def test_features_have_the_names_of_the_catalogue_and_obey_their_definitions():
    features = true_features(SWING)
    assert tuple(features) == FEATURE_NAMES
    assert features["sway_travel"] == pytest.approx(features["sway_impact"] - features["sway_back"])
    assert features["turn_order"] == pytest.approx(
        features["lift_low_after_top"] + features["sway_turn_lead"]
    )
    assert features["tempo"] == pytest.approx(0.80 / 0.27)
    coarse = true_features(SWING, rate_hz=1000.0)
    for name in ("sway_travel", "lift_rise", "thrust_late_rise", "path_length"):
        assert coarse[name] == pytest.approx(features[name], abs=0.001)


def test_a_single_step_has_the_features_that_arithmetic_gives():
    still = dict.fromkeys(
        ("sway_away_cm", "sway_settle_cm", "thrust_back_cm", "thrust_sit_cm", "thrust_late_cm"), 0.0
    )
    lifts = dict.fromkeys(
        ("lift_drop_cm", "lift_dip_cm", "lift_rise_cm", "lift_settle_cm", "thrust_follow_cm"), 0.0
    )
    # One forward step of 10 cm from 0.1 s before the top to impact: a septic step is half way and
    # fastest, at 35/16 of its mean rate, in its middle.
    swing = replace(
        SWING, **still, **lifts, sway_forward_cm=10.0, sway_lead_s=0.04, sway_carry_s=0.0
    )
    features = true_features(swing)
    length_s = 0.37
    assert features["sway_impact"] == pytest.approx(10.0)
    assert features["sway_rate_max"] == pytest.approx(35 / 16 * 10.0 / length_s, rel=1e-6)
    assert features["sway_rate_max_at"] == pytest.approx(
        100 * (length_s / 2 - 0.1) / 0.27, abs=0.05
    )
    assert features["sway_slowing"] == pytest.approx(1.0)
    assert features["path_length"] == pytest.approx(10.0)
    assert "sway_turn_lead" not in features  # it never goes back, so it never turns
    assert "lift_rate_max_at" not in features


def test_the_truth_record_gathers_what_the_functions_say():
    times = capture_times(SWING, 240.0)
    truth = swing_truth(SWING, times)
    assert truth.path_cm.shape == (len(times), 3)
    assert not truth.path_cm.flags.writeable
    assert truth.events_s == true_events(SWING)
    assert times[-1] <= SWING.end_s < times[-1] + 1 / 240


def test_noise_has_the_size_asked_for_and_gaps_lie_where_asked():
    rng = np.random.default_rng(3)
    assert white_noise(rng, (20000, 3), 0.04).std() == pytest.approx(0.04, rel=0.02)
    wander = slow_wander(rng, np.arange(0, 30, 0.01), 200, 0.05)
    assert wander.std() == pytest.approx(0.05, rel=0.05)
    assert np.abs(np.diff(wander, axis=0)).max() < 0.02
    path = np.ones((10, 3))
    gapped = with_gap(path, 4, 2)
    assert np.flatnonzero(np.isnan(gapped).all(axis=1)).tolist() == [4, 5]
    assert not np.isnan(path).any()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"start_s": 0.3}, "start_s"),
        ({"still_s": 0.1}, "still_s"),
        ({"downswing_s": 0.0}, "durations"),
        ({"lift_rise_cm": -1.0}, "lift_rise_cm"),
    ],
)
def test_impossible_parameters_are_refused(change, words):
    with pytest.raises(ValueError, match=words):
        SwingParameters(**change)
