"""The axes of the shot, fixed to the ground: toward the target, toward the ball, up."""

import numpy as np

from norms.errors import SwingRefused
from norms.records import FloatArray, LabAxes
from norms.vocabulary import Hand


def shot_axes(
    axes: LabAxes,
    hand: Hand,
    *,
    left_foot_cm: FloatArray | None = None,
    right_foot_cm: FloatArray | None = None,
) -> FloatArray:
    """Unit vectors toward the target, toward the ball and up, in laboratory coordinates.

    A right-handed golfer faces the ball with the target on the left, so that ball = target × up;
    a left-handed golfer faces the other way. In left-handed laboratory coordinates the cross
    product changes its sign.

    Parameters
    ----------
    axes : LabAxes
    hand : {"right", "left"}
    left_foot_cm, right_foot_cm : ndarray, shape (3,), optional
        Feet at address; needed where ``axes.source`` is ``"feet_line"``.

    Returns
    -------
    ndarray, shape (3, 3)
        Rows sway, thrust, lift.

    Raises
    ------
    SwingRefused
        If the feet are needed and absent, or target and up do not span a plane.
    """
    up = np.asarray(axes.up, dtype=float) / np.linalg.norm(axes.up)
    if axes.target is not None:
        toward = np.asarray(axes.target, dtype=float)
    elif left_foot_cm is not None and right_foot_cm is not None:
        lead_minus_trail = left_foot_cm - right_foot_cm
        toward = lead_minus_trail if hand == "right" else -lead_minus_trail
    else:
        raise SwingRefused(
            "the profile takes the target line from the feet, but the capture has no feet; "
            "map left_foot and right_foot in the profile, or declare the target axis",
            code="no_feet",
        )
    target = toward - (toward @ up) * up
    length = float(np.linalg.norm(target))
    if not length > 1e-6:
        raise SwingRefused(
            "target and up point the same way; check the axes of the profile", code="axes"
        )
    target = target / length
    facing = 1.0 if hand == "right" else -1.0
    if axes.mirrored:
        facing = -facing
    return np.stack([target, facing * np.cross(target, up), up])
