"""The pelvis centre: the midpoint of the two hip joint centres.

Hip joint centres come from the four iliac spine markers by a published regression, written in
the pelvis axes of the International Society of Biomechanics (Wu et al. 2002, J Biomech 35:543):
x anterior, y up, z to the right, with the origin of the regressions at the midpoint of the
anterior spines.
"""

import numpy as np

from norms.errors import SwingRefused
from norms.records import BoolArray, FloatArray, HipRegression
from norms.swing.hip_regressions import REGRESSIONS, PelvisSize


def pelvis_axes(
    left_asis: FloatArray,
    right_asis: FloatArray,
    left_psis: FloatArray,
    right_psis: FloatArray,
    *,
    mirrored: bool = False,
) -> tuple[FloatArray, FloatArray]:
    """Midpoint of the anterior spines and the pelvis axes.

    Parameters
    ----------
    left_asis, right_asis, left_psis, right_psis : ndarray, shape (t, 3)
    mirrored : bool
        True where the coordinates are left-handed, so that a cross product points the wrong way.

    Returns
    -------
    origin : ndarray, shape (t, 3)
    axes : ndarray, shape (t, 3, 3)
        Rows x anterior, y up, z right.
    """
    origin = (left_asis + right_asis) / 2.0
    z = _unit(right_asis - left_asis)
    forward = origin - (left_psis + right_psis) / 2.0
    x = _unit(forward - np.einsum("ij,ij->i", forward, z)[:, None] * z)
    y = np.cross(z, x)
    return origin, np.stack([x, -y if mirrored else y, z], axis=1)


def hip_joint_centres(
    left_asis: FloatArray,
    right_asis: FloatArray,
    left_psis: FloatArray,
    right_psis: FloatArray,
    *,
    method: HipRegression = "harrington",
    mirrored: bool = False,
    leg_length_cm: float | None = None,
    marker_radius_cm: float | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Left and right hip joint centres, each of shape (t, 3), in the markers' unit: cm.

    The pelvis does not change its size within a capture, so width and depth enter as medians
    over the samples and their noise does not reach the centres.

    Raises
    ------
    SwingRefused
        ``hip_regression`` if the method is not known; ``leg_length_missing`` or
        ``marker_radius_missing`` if it needs what is not declared.
    """
    if method not in REGRESSIONS:
        raise SwingRefused(
            f"hip regression '{method}' is not available; use one of {', '.join(REGRESSIONS)}",
            code="hip_regression",
        )
    origin, axes = pelvis_axes(left_asis, right_asis, left_psis, right_psis, mirrored=mirrored)
    posterior = (left_psis + right_psis) / 2.0
    size = PelvisSize(
        width_cm=float(np.median(np.linalg.norm(right_asis - left_asis, axis=1))),
        depth_cm=float(np.median(np.linalg.norm(origin - posterior, axis=1))),
        leg_length_cm=leg_length_cm,
        marker_radius_cm=marker_radius_cm,
    )
    x, y, z = REGRESSIONS[method](size)
    middle = origin + x * axes[:, 0] + y * axes[:, 1]
    aside = z * axes[:, 2]
    return middle - aside, middle + aside


def rebuild_from_rigid_body(points: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Rebuild one unseen marker of a rigid cluster from the others, sample by sample.

    Parameters
    ----------
    points : ndarray, shape (t, m, 3)
        Markers of one rigid segment; NaN where not seen. At least three must be seen.

    Returns
    -------
    rebuilt : ndarray, shape (t, m, 3)
    was_rebuilt : ndarray of bool, shape (t, m)

    Notes
    -----
    The shape of the cluster is the mean over samples in which all markers are seen, each turned
    onto the first of them; the pose of a sample with a missing marker is the least-squares
    rotation and translation of the seen ones (Kabsch 1976, Acta Cryst A32:922).
    """
    seen = np.asarray(np.asarray(np.isfinite(points)).all(axis=2))
    was_rebuilt = np.zeros(seen.shape, dtype=bool)
    whole = seen.all(axis=1)
    partial = ~whole & (seen.sum(axis=1) >= 3)
    if not whole.any() or not partial.any():
        return points, was_rebuilt
    shape = _mean_shape(points[whole])
    rebuilt = points.copy()
    for pattern in np.unique(seen[partial], axis=0):
        rows = partial & (seen == pattern).all(axis=1)
        rotation, shift = _rigid_fit(shape[pattern], points[rows][:, pattern])
        posed = np.einsum("tij,mj->tmi", rotation, shape[~pattern]) + shift[:, None]
        rebuilt[np.ix_(rows, ~pattern)] = posed
        was_rebuilt[np.ix_(rows, ~pattern)] = True
    return rebuilt, was_rebuilt


def _mean_shape(whole: FloatArray) -> FloatArray:
    reference = whole[0] - whole[0].mean(axis=0)
    rotation, shift = _rigid_fit(reference, whole)
    back = np.einsum("tji,tmj->tmi", rotation, whole - shift[:, None])
    return np.asarray(back.mean(axis=0))


def _rigid_fit(shape: FloatArray, observed: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rotation (t, 3, 3) and shift (t, 3) that carry ``shape`` (m, 3) onto ``observed``."""
    centre = shape.mean(axis=0)
    centres = observed.mean(axis=1)
    covariance = np.einsum("mi,tmj->tij", shape - centre, observed - centres[:, None])
    u, _, vt = np.linalg.svd(covariance)
    v = vt.transpose(0, 2, 1)
    sign = np.sign(np.linalg.det(v @ u.transpose(0, 2, 1)))
    v[:, :, 2] *= sign[:, None]
    rotation = v @ u.transpose(0, 2, 1)
    return rotation, centres - np.einsum("tij,j->ti", rotation, centre)


def _unit(vectors: FloatArray) -> FloatArray:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))
