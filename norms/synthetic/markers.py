"""All markers of a swing, in canonical shot coordinates.

Canonical coordinates: x toward the target, z up, y = z × x; centimetres. A right-hander's ball
lies toward −y, a left-hander's toward +y. The origin is on the ground between the feet.
"""

import numpy as np

from norms.synthetic.club import club_head_path, hand_paths
from norms.synthetic.parameters import Body, SwingParameters
from norms.synthetic.path import true_path
from norms.synthetic.pelvis_markers import pelvis_marker_paths
from norms.synthetic.steps import FloatArray
from norms.vocabulary import CLUB_ROLE, Hand

FOOT_HEIGHT_CM = 3.0
FROM_SHOT_AXES = np.array([1.0, -1.0, 1.0])
"""Sway, thrust, lift to canonical x, y, z of a right-hander."""


def marker_paths(
    swing: SwingParameters, body: Body, times_s: FloatArray, hand: Hand = "right"
) -> dict[str, FloatArray]:
    """Paths of every marker, without noise or gaps.

    Parameters
    ----------
    swing : SwingParameters
    body : Body
    times_s : ndarray, shape (t,)
    hand : {"right", "left"}, optional
        A left-hander is the right-hander's mirror image in the vertical plane that holds the
        target line: sway, thrust and lift are the same.

    Returns
    -------
    dict of str to ndarray, shape (t, 3)
        By role: four pelvis markers, both hands, club head, both feet; cm.
    """
    centre = np.array([0.0, 0.0, body.hip_height_cm]) + true_path(swing, times_s) * FROM_SHOT_AXES
    paths = pelvis_marker_paths(swing, body, centre, times_s)
    paths |= hand_paths(swing, body, times_s)
    paths[CLUB_ROLE] = club_head_path(swing, body, times_s)
    for role, side in (("left_foot", 1.0), ("right_foot", -1.0)):
        place = np.array([side * body.stance_cm / 2, 0.0, FOOT_HEIGHT_CM])
        paths[role] = np.tile(place, (len(times_s), 1))
    return paths if hand == "right" else _mirrored(paths)


def _mirrored(paths: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Mirror image: y changes sign, and what was on the left is on the right."""
    other = {"left": "right", "right": "left"}
    image = {}
    for role, path in paths.items():
        side, _, rest = role.partition("_")
        name = f"{other[side]}_{rest}" if side in other else role
        image[name] = path * FROM_SHOT_AXES
    return image
