"""Does the geometry of a capture's points bear out what its profile and roster declare?

Units, sides and the golfer's hand are declared, never guessed. What is declared wrongly shows in
the anatomy: a pelvis has a width, a left and a right, and at address it faces the ball.
"""

from typing import Final

import numpy as np

from norms.errors import CaptureRefused
from norms.records import Capture, FloatArray
from norms.vocabulary import CENTRE_ROLE, FOOT_ROLES, HIP_ROLES, PELVIS_ROLES

WIDTHS_CM: Final[dict[tuple[str, str], tuple[float, float]]] = {
    ("left_asis", "right_asis"): (15.0, 40.0),
    HIP_ROLES: (8.0, 30.0),
}
"""Believed distance between the left and right point; wide limits, to tell a wrong unit from
an unusual golfer (common practice, no published source)."""
PATH_CM: Final = (2.0, 200.0)
"""Believed extent of the pelvis centre's path over a whole capture, along its longest side."""
ADDRESS_S: Final = 1.0
"""Length of the stretch at the start of a capture in which the golfer stands to the ball."""


def check_plausible(capture: Capture) -> None:
    """Hold a capture's declared unit, sides and hand against its own points.

    Parameters
    ----------
    capture : Capture

    Raises
    ------
    CaptureRefused
        ``units`` if the pelvis is too narrow or too wide to be one; ``left_right_swapped`` if left
        and right points have changed places; ``faces_away`` if the pelvis has its back to the ball
        at address, which means that the hand or the axes are declared wrongly.

    Notes
    -----
    Sides are told from the signs of projections only, by the median over samples in which the
    points of a pair are seen together, so that noise and gaps do not matter.
    """
    _check_unit(capture)
    sides = 1.0 if not capture.axes.mirrored else -1.0
    up = np.asarray(capture.axes.up)
    if set(PELVIS_ROLES) <= set(capture.roles):
        forward = _forward(capture)
        _check_sides(capture, forward, up, sides)
        ball = _toward_ball(capture, up, sides)
        if ball is not None and _at_address(capture, forward @ ball) < 0:
            raise CaptureRefused(
                f"at address the pelvis has its back to the ball of a {capture.hand}-handed "
                "golfer; correct the golfer's hand in the roster or the axes in the profile",
                code="faces_away",
            )
    elif set(HIP_ROLES) <= set(capture.roles):
        _check_hips(capture, up)


def _check_unit(capture: Capture) -> None:
    for (left, right), (narrow, wide) in WIDTHS_CM.items():
        if {left, right} <= set(capture.roles):
            width = _median(np.linalg.norm(_path(capture, left) - _path(capture, right), axis=1))
            if not narrow <= width <= wide:
                raise CaptureRefused(
                    f"the points put the pelvis {width:.3g} cm wide, where {narrow:g} to {wide:g} "
                    f"is believed{_unit_hint(width / (0.4 * (narrow + wide)))}; correct the unit "
                    "that the profile declares",
                    code="units",
                )
    if CENTRE_ROLE in capture.roles and not {*PELVIS_ROLES, *HIP_ROLES} & set(capture.roles):
        path = _path(capture, CENTRE_ROLE)
        path = path[np.isfinite(path).all(axis=1)]
        extent = float(np.ptp(path, axis=0).max()) if len(path) else 0.0
        if not PATH_CM[0] <= extent <= PATH_CM[1]:
            raise CaptureRefused(
                f"the pelvis centre moves {extent:.3g} cm in all, where {PATH_CM[0]:g} to "
                f"{PATH_CM[1]:g} is believed{_unit_hint(extent / 20.0)}; correct the unit that the "
                "profile declares",
                code="units",
            )


def _unit_hint(ratio: float) -> str:
    """Name the mistake that a ratio of found to believed length looks like."""
    mistakes = {
        1e-3: "metres declared as millimetres",
        1e-2: "metres declared as centimetres",
        1e-1: "centimetres declared as millimetres",
        1e1: "millimetres declared as centimetres",
        1e2: "centimetres declared as metres",
        1e3: "millimetres declared as metres",
    }
    if ratio > 0:
        for factor, words in mistakes.items():
            if abs(np.log10(ratio / factor)) < 0.3:
                return f": as if {words}"
    return ""


def _check_sides(capture: Capture, forward: FloatArray, up: FloatArray, sides: float) -> None:
    """Left is up × forward in a right-handed frame."""
    leftward = sides * np.cross(up, forward)
    swapped = []
    for words, (left, right) in (
        ("ASIS", ("left_asis", "right_asis")),
        ("PSIS", ("left_psis", "right_psis")),
    ):
        across = _path(capture, left) - _path(capture, right)
        if _median(np.einsum("ta,ta->t", across, leftward)) < 0:
            swapped.append(words)
    if swapped:
        # Front and back exchanged, or a mirrored frame, turn both pairs at once.
        doubt = " (or front and back have, or the profile's axes are wrong)"
        raise CaptureRefused(
            f"the left and right {' and '.join(swapped)} points have changed places"
            f"{doubt if len(swapped) == 2 else ''}; correct their labels",
            code="left_right_swapped",
        )


def _check_hips(capture: Capture, up: FloatArray) -> None:
    """Hip joint centres alone have no front, but the lead hip lies toward the target."""
    target = _toward_target(capture, up)
    if target is None:
        return
    lead, trail = _lead_and_trail(capture, *HIP_ROLES)
    if _at_address(capture, (lead - trail) @ target) < 0:
        raise CaptureRefused(
            "at address the trail hip lies nearer to the target than the lead hip: left and right "
            "have changed places, or the golfer's hand or the profile's axes are wrong",
            code="left_right_swapped",
        )


def _forward(capture: Capture) -> FloatArray:
    """From the middle of the PSIS to the middle of the ASIS, shape (t, 3)."""
    left_asis, right_asis, left_psis, right_psis = (_path(capture, r) for r in PELVIS_ROLES)
    forward: FloatArray = (left_asis + right_asis - left_psis - right_psis) / 2.0
    return forward


def _toward_ball(capture: Capture, up: FloatArray, sides: float) -> FloatArray | None:
    """Direction toward the ball: target × up for a right-handed golfer, else the opposite."""
    target = _toward_target(capture, up)
    if target is None:
        return None
    hand = 1.0 if capture.hand == "right" else -1.0
    ball: FloatArray = hand * sides * np.cross(target, up)
    return ball


def _toward_target(capture: Capture, up: FloatArray) -> FloatArray | None:
    """The declared target direction, or trail foot to lead foot at address."""
    if capture.axes.target is not None:
        return np.asarray(capture.axes.target)
    if not set(FOOT_ROLES) <= set(capture.roles):
        return None
    lead, trail = _lead_and_trail(capture, *FOOT_ROLES)
    line = np.array([_at_address(capture, (lead - trail)[:, axis]) for axis in range(3)])
    line -= (line @ up) * up
    length = float(np.linalg.norm(line))
    return line / length if length > 0 else None


def _lead_and_trail(capture: Capture, left: str, right: str) -> tuple[FloatArray, FloatArray]:
    """Paths of the lead and the trail side: left leads for a right-handed golfer."""
    pair = (_path(capture, left), _path(capture, right))
    return pair if capture.hand == "right" else (pair[1], pair[0])


def _path(capture: Capture, role: str) -> FloatArray:
    path = capture.point(role)
    assert path is not None
    return path


def _at_address(capture: Capture, values: FloatArray) -> float:
    """Median over the first second, or over the first half where nothing is seen in that."""
    count = max(2, round(ADDRESS_S * capture.rate_hz))
    first = values[:count]
    return _median(first if np.isfinite(first).any() else values[: len(values) // 2])


def _median(values: FloatArray) -> float:
    """Median of the finite values; a refusal where there are none."""
    finite = values[np.isfinite(values)]
    if not finite.size:
        raise CaptureRefused(
            "the points of the pelvis are never seen together; label them, or leave the file out",
            code="marker_dropped",
        )
    return float(np.median(finite))
