"""One planned swing → one C3D file, with the errors of a real lab or with one deliberate fault."""

from pathlib import Path

import numpy as np

from demo_data.calendar import ASKEW_DEG
from demo_data.golfers import PlannedSwing
from demo_data.labs import FloatArray, Lab, load_lab, write_capture
from norms.synthetic import capture_times, marker_paths, slow_wander, white_noise, with_gap
from norms.vocabulary import CLUB_ROLE, FOOT_ROLES, HAND_ROLES, PELVIS_ROLES, Hand

WHITE_CM = {
    **dict.fromkeys(PELVIS_ROLES, 0.04),
    **dict.fromkeys(HAND_ROLES, 0.06),
    **dict.fromkeys(FOOT_ROLES, 0.03),
    CLUB_ROLE: 0.08,
}
WANDER_CM = 0.04
"""Skin sliding over the pelvis; small, because the truth is the bone."""
GAPPY_SHARE = 0.04
LONGEST_GAP_S = 0.07


def noisy_points(
    swing: PlannedSwing, hand: Hand, rng: np.random.Generator
) -> dict[str, FloatArray]:
    """Marker paths of a capture with noise and, now and then, a short gap; canonical, cm."""
    times = capture_times(swing.parameters, load_lab(swing.lab).rate_hz)
    points = marker_paths(swing.parameters, swing.body, times, hand)
    for role in points:
        points[role] = points[role] + white_noise(rng, points[role].shape, WHITE_CM[role])
    wander = slow_wander(rng, times, 3 * len(PELVIS_ROLES), WANDER_CM)
    for place, role in enumerate(PELVIS_ROLES):
        points[role] += wander[:, 3 * place : 3 * place + 3]
    if rng.random() < GAPPY_SHARE:
        _open_gap(points, times, rng)
    return points


def _open_gap(points: dict[str, FloatArray], times: FloatArray, rng: np.random.Generator) -> None:
    """Hide one pelvis or hand marker for a moment somewhere inside the capture."""
    role = str(rng.choice([*PELVIS_ROLES, *HAND_ROLES]))
    longest = int(LONGEST_GAP_S / times[1])
    samples = int(rng.integers(2, longest + 1))
    first = int(rng.integers(10, len(times) - samples - 10))
    points[role] = with_gap(points[role], first, samples)


def write_swing(
    file: Path,
    swing: PlannedSwing,
    hand: Hand,
    seed: np.random.SeedSequence,
    *,
    fault: str | None = None,
    askew: bool = False,
) -> None:
    """Write a swing's capture.

    Parameters
    ----------
    file : pathlib.Path
    swing : PlannedSwing
    hand : {"right", "left"}
    seed : numpy.random.SeedSequence
        Of the noise.
    fault : str or None, optional
        A fault of motion from `demo_data.faults`, worked into the capture.
    askew : bool, optional
        Whether the lab's axes were set askew that day.
    """
    lab = load_lab(swing.lab)
    points = noisy_points(swing, hand, np.random.default_rng(seed))
    if askew:
        points = {role: _turned(path) for role, path in points.items()}
    impact_s: float | None = swing.parameters.impact_s
    if fault == "dropped_marker":
        points["left_psis"] = np.full_like(points["left_psis"], np.nan)
    if fault == "swapped_sides":
        for left, right in (("left_asis", "right_asis"), ("left_psis", "right_psis")):
            points[left], points[right] = points[right], points[left]
    if fault == "ends_before_impact":
        last_s = swing.parameters.top_s + 0.6 * swing.parameters.downswing_s
        samples = int(last_s * lab.rate_hz)
        points = {role: path[:samples] for role, path in points.items()}
        impact_s = None
    labelled = _in_lab(lab, points)
    unit = lab.unit
    if fault == "metres_as_millimetres":
        to_metres = {"mm": 0.001, "m": 1.0}[lab.unit]
        labelled = {label: path * to_metres for label, path in labelled.items()}
        unit = "mm"
    write_capture(file, lab, labelled, unit=unit, impact_s=impact_s)


def _turned(path: FloatArray) -> FloatArray:
    """Canonical points, shape (t, 3), as axes turned by `ASKEW_DEG` about the vertical see them."""
    cos, sin = np.cos(np.radians(ASKEW_DEG)), np.sin(np.radians(ASKEW_DEG))
    turn = np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(path @ turn)


def _in_lab(lab: Lab, points: dict[str, FloatArray]) -> dict[str, FloatArray]:
    return {label: lab.coordinates(points[role]) for role, label in lab.labels.items()}
