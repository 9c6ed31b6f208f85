"""What is declared wrongly shows in the anatomy; what is declared rightly passes."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.errors import CaptureRefused
from norms.records import Capture, LabAxes
from norms.swing.plausibility import check_plausible
from norms.vocabulary import FOOT_ROLES, HIP_ROLES, PELVIS_ROLES

RATE_HZ = 100.0
# A golfer at address in sway, thrust, lift of a right-hander: target, ball, up. The left side is
# toward the target, the front toward the ball.
RIGHT_HANDED = {
    "left_asis": (12, 9, 96),
    "right_asis": (-12, 9, 96),
    "left_psis": (4.5, -7, 98),
    "right_psis": (-4.5, -7, 98),
    "left_hip": (9, 4, 88),
    "right_hip": (-9, 4, 88),
    "left_foot": (25, 15, 5),
    "right_foot": (-25, 15, 5),
}
DECLARED = LabAxes(source="declared", up=(0, 0, 1), target=(1, 0, 0))
MIRRORED = LabAxes(source="declared", up=(0, 0, 1), target=(1, 0, 0), mirrored=True)
FEET_LINE = LabAxes(source="feet_line", up=(0, 0, 1))
MARKERS = (*PELVIS_ROLES, *FOOT_ROLES)


def golfer(roles=MARKERS, *, hand="right", axes=DECLARED, scale=1.0, labels=None, turn_deg=-40.0):
    """Still for a second, then the body turns by ``turn_deg`` about the vertical.

    Laboratory axes: x target, z up; the ball of a right-hander lies at −y (x × z = −y), that of a
    left-hander at +y; in mirrored coordinates the other way round.
    """
    turn = np.radians(np.concatenate([np.zeros(100), np.linspace(0, turn_deg, 100)]))
    toward_ball = -1.0 if (hand == "right") != axes.mirrored else 1.0
    points = np.zeros((200, len(roles), 3))
    for i, role in enumerate(roles):
        role = (labels or {}).get(role, role)
        side = 1.0 if hand == "right" else -1.0
        sway, thrust, lift = RIGHT_HANDED[role]
        x, y = side * sway, toward_ball * thrust
        points[:, i] = np.stack(
            [
                x * np.cos(turn) - y * np.sin(turn),
                x * np.sin(turn) + y * np.cos(turn),
                np.full(200, lift),
            ],
            axis=1,
        )
    return Capture(points_cm=scale * points, roles=roles, rate_hz=RATE_HZ, axes=axes, hand=hand)


def with_other_hand(capture):
    hand = "left" if capture.hand == "right" else "right"
    return Capture(
        points_cm=capture.points_cm,
        roles=capture.roles,
        rate_hz=RATE_HZ,
        axes=capture.axes,
        hand=hand,
    )


def refusal(capture) -> CaptureRefused:
    with pytest.raises(CaptureRefused) as caught:
        check_plausible(capture)
    return caught.value


@pytest.mark.parametrize("roles", [MARKERS, (*HIP_ROLES, *FOOT_ROLES), HIP_ROLES])
@pytest.mark.parametrize("axes", [DECLARED, MIRRORED, FEET_LINE])
@pytest.mark.parametrize("hand", ["right", "left"])
def test_what_is_declared_rightly_passes(roles, axes, hand):
    check_plausible(golfer(roles, hand=hand, axes=axes))


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        (1e-3, "metres declared as millimetres"),
        (1e-1, "centimetres declared as millimetres"),
        (1e1, "millimetres declared as centimetres"),
        (1e3, "millimetres declared as metres"),
    ],
)
@pytest.mark.parametrize("roles", [PELVIS_ROLES, HIP_ROLES])
def test_a_wrong_unit_shows_in_the_width_of_the_pelvis(roles, scale, words):
    fault = refusal(golfer(roles, scale=scale))
    assert fault.code == "units"
    assert f"as if {words}" in fault.message


@pytest.mark.parametrize("scale", [1e-3, 1e3])
def test_a_wrong_unit_shows_in_the_path_of_a_lone_centre(scale):
    path = np.linspace([0, 0, 95], [15, 3, 92], 150)[:, None]
    sound = {"roles": ("pelvis_centre",), "rate_hz": RATE_HZ, "axes": DECLARED, "hand": "right"}
    check_plausible(Capture(points_cm=path, **sound))
    assert refusal(Capture(points_cm=scale * path, **sound)).code == "units"


def lying(roles, up, target):
    """A sound golfer whose profile declares another axis of the laboratory as up."""
    sound = golfer(roles)
    axes = LabAxes(source="declared", up=up, target=target)
    return Capture(
        points_cm=sound.points_cm, roles=sound.roles, rate_hz=RATE_HZ, axes=axes, hand="right"
    )


@pytest.mark.parametrize("roles", [MARKERS, (*HIP_ROLES, *FOOT_ROLES)])
@pytest.mark.parametrize(
    ("up", "target"),
    [
        ((0, -1, 0), (1, 0, 0)),
        ((0, 1, 0), (1, 0, 0)),
        ((1, 0, 0), (0, 1, 0)),
        ((-1, 0, 0), (0, 0, 1)),
        ((0, 0, -1), (1, 0, 0)),
    ],
)
def test_an_up_axis_that_lies_down_is_refused_with_the_angle_from_the_feet(roles, up, target):
    fault = refusal(lying(roles, up, target))
    assert fault.code == "up_lies"
    told = re.search(r"from the feet the pelvis lies (\d+) degrees off", fault.message)
    assert told is not None
    assert float(told[1]) == pytest.approx(180 if up[2] < 0 else 90, abs=9)


@pytest.mark.parametrize(
    ("up", "target", "words"),
    [
        ((0, -1, 0), (1, 0, 0), "the front of the pelvis points 83 degrees upward"),
        ((1, 0, 0), (0, 1, 0), "above one another"),
        ((-1, 0, 0), (0, 0, 1), "above one another"),
    ],
)
def test_without_feet_the_pelvis_itself_shows_that_up_lies_down(up, target, words):
    fault = refusal(lying(PELVIS_ROLES, up, target))
    assert fault.code == "up_lies"
    assert words in fault.message


@pytest.mark.parametrize("scale", [1.0, 0.001])
def test_front_and_back_that_changed_places_are_named_whatever_the_unit(scale):
    labels = {
        f"{side}_{one}": f"{side}_{other}"
        for side in ("left", "right")
        for one, other in (("asis", "psis"), ("psis", "asis"))
    }
    fault = refusal(golfer(PELVIS_ROLES, labels=labels, scale=scale))
    assert fault.code == "front_back_swapped"
    assert "wider in front" in fault.message


SWAP_ASIS = {"left_asis": "right_asis", "right_asis": "left_asis"}
SWAP_PSIS = {"left_psis": "right_psis", "right_psis": "left_psis"}


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("axes", [DECLARED, MIRRORED, FEET_LINE])
@pytest.mark.parametrize(
    ("labels", "named"),
    [
        (SWAP_ASIS, "right ASIS"),
        (SWAP_PSIS, "right PSIS"),
        (SWAP_ASIS | SWAP_PSIS, "ASIS and PSIS"),
    ],
)
def test_swapped_left_and_right_markers_are_named(hand, axes, labels, named):
    fault = refusal(golfer(hand=hand, axes=axes, labels=labels))
    assert fault.code == "left_right_swapped"
    assert named in fault.message


@pytest.mark.parametrize("axes", [DECLARED, FEET_LINE])
def test_swapped_hips_are_found(axes):
    labels = {"left_hip": "right_hip", "right_hip": "left_hip"}
    roles = (*HIP_ROLES, *FOOT_ROLES)
    assert refusal(golfer(roles, axes=axes, labels=labels)).code == "left_right_swapped"


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_wrong_hand_shows_in_the_back_turned_to_the_ball(hand):
    fault = refusal(with_other_hand(golfer(hand=hand)))
    assert fault.code == "faces_away"
    assert "roster" in fault.message


def test_a_target_axis_of_the_wrong_sign_shows_in_the_back_turned_to_the_ball():
    wrong = LabAxes(source="declared", up=(0, 0, 1), target=(-1, 0, 0))
    sound = golfer()
    capture = Capture(
        points_cm=sound.points_cm, roles=sound.roles, rate_hz=RATE_HZ, axes=wrong, hand="right"
    )
    assert refusal(capture).code == "faces_away"


def test_markers_that_are_never_seen_together_are_refused():
    sound = golfer(PELVIS_ROLES)
    points = sound.points_cm.copy()
    points[::2, 0] = np.nan
    points[1::2, 1] = np.nan
    capture = Capture(
        points_cm=points, roles=PELVIS_ROLES, rate_hz=RATE_HZ, axes=DECLARED, hand="right"
    )
    assert refusal(capture).code == "marker_dropped"


@given(
    seed=st.integers(0, 2**32 - 1),
    noise_cm=st.floats(0, 0.5),
    gap=st.integers(0, 90),
    turn_deg=st.floats(-60, 120),
    hand=st.sampled_from(["right", "left"]),
)
def test_noise_gaps_and_the_turn_of_a_swing_do_not_matter(seed, noise_cm, gap, turn_deg, hand):
    sound = golfer(hand=hand, turn_deg=turn_deg)
    points = sound.points_cm + np.random.default_rng(seed).normal(0, noise_cm, (200, 6, 3))
    points[10 : 10 + gap, 1] = np.nan
    check_plausible(
        Capture(points_cm=points, roles=sound.roles, rate_hz=RATE_HZ, axes=DECLARED, hand=hand)
    )
