"""The path of the pelvis centre in laboratory coordinates, from whatever the capture carries."""

from dataclasses import dataclass

import numpy as np

from norms.errors import SwingRefused
from norms.records import BoolArray, Capture, FloatArray
from norms.swing.condition import fill_gaps, seen_samples
from norms.swing.pelvis import hip_joint_centres, rebuild_from_rigid_body
from norms.vocabulary import CENTRE_ROLE, HIP_ROLES, PELVIS_ROLES

FEWEST_KNOWN = 40


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PelvisPath:
    """Pelvis centre over the samples where it is known.

    Attributes
    ----------
    path_cm : ndarray, shape (t, 3)
        Laboratory coordinates, not filtered; NaN where not known.
    filled : ndarray of bool, shape (t,)
        Whether any of its points was filled or rebuilt there.
    method : str
        How the hip joint centres came about.
    rebuilt : tuple of str
        Roles that were rebuilt from the other three markers for some samples.
    """

    path_cm: FloatArray
    filled: BoolArray
    method: str
    rebuilt: tuple[str, ...] = ()


def pelvis_path(capture: Capture) -> PelvisPath:
    """Given, midway between given hip joint centres, or by regression from the spine markers.

    Raises
    ------
    SwingRefused
        ``marker_missing`` or ``marker_dropped`` where the points do not give the centre,
        ``leg_length_missing`` or ``marker_radius_missing`` where a regression lacks its input.
    """
    longest = longest_gap(capture)
    if CENTRE_ROLE in capture.roles:
        path, filled = fill_gaps(_points(capture, (CENTRE_ROLE,))[:, 0], longest)
        return PelvisPath(path_cm=path, filled=filled, method=f"{capture.given_centres} centre")
    if set(HIP_ROLES) <= set(capture.roles):
        points = _points(capture, HIP_ROLES)
        (left, left_filled), (right, right_filled) = (
            fill_gaps(points[:, k], longest) for k in (0, 1)
        )
        return PelvisPath(
            path_cm=(left + right) / 2.0,
            filled=left_filled | right_filled,
            method=f"{capture.given_centres} hips",
        )
    return _from_markers(capture, longest)


def longest_gap(capture: Capture) -> int:
    """Samples of the longest gap that is filled."""
    return round(capture.conditioning.longest_gap_s * capture.rate_hz)


def _from_markers(capture: Capture, longest: int) -> PelvisPath:
    missing = [role for role in PELVIS_ROLES if role not in capture.roles]
    if missing:
        raise SwingRefused(
            f"the capture lacks {', '.join(missing)}; the pelvis centre needs four iliac spine "
            "markers, two hip joint centres, or the centre itself",
            code="marker_missing",
        )
    points = _points(capture, PELVIS_ROLES)
    filled = np.zeros(len(points), dtype=bool)
    rebuilt_roles: tuple[str, ...] = ()
    if not np.isfinite(points).all():
        parts = [fill_gaps(points[:, k], longest) for k in range(len(PELVIS_ROLES))]
        filled = np.any([part[1] for part in parts], axis=0)
        points, rebuilt = rebuild_from_rigid_body(np.stack([part[0] for part in parts], axis=1))
        filled |= rebuilt.any(axis=1)
        rebuilt_roles = tuple(role for k, role in enumerate(PELVIS_ROLES) if rebuilt[:, k].any())
    known = seen_samples(points)
    if known.sum() < FEWEST_KNOWN:
        worst = PELVIS_ROLES[int(np.argmin(np.isfinite(points).all(axis=2).sum(axis=0)))]
        raise SwingRefused(
            f"{worst} is hardly ever seen together with the other three pelvis markers, so its "
            "place among them is not known; label it, or leave the file out",
            code="marker_dropped",
        )
    left, right = hip_joint_centres(
        *(points[known, k] for k in range(len(PELVIS_ROLES))),
        method=capture.hip_regression,
        mirrored=capture.axes.mirrored,
        leg_length_cm=capture.leg_length_cm,
        marker_radius_cm=capture.marker_radius_cm,
    )
    path = np.full((len(points), 3), np.nan)
    path[known] = (left + right) / 2.0
    return PelvisPath(
        path_cm=path,
        filled=filled & known,
        method=capture.hip_regression,
        rebuilt=rebuilt_roles,
    )


def _points(capture: Capture, roles: tuple[str, ...]) -> FloatArray:
    """Paths of some roles, shape (t, len(roles), 3)."""
    points: FloatArray = capture.points_cm[:, [capture.roles.index(role) for role in roles]]
    return points
