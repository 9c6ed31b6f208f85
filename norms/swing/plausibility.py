"""Does the geometry of a capture's points bear out what its profile and roster declare?

Units, sides and the golfer's hand are declared, never guessed. What is declared wrongly shows in
the anatomy: a pelvis has a width, a left and a right, and at address it faces the ball.
"""

from typing import Final

import numpy as np

from norms.errors import CaptureRefused
from norms.records import Capture, FloatArray
from norms.vocabulary import CENTRE_ROLE, FOOT_ROLES, HIP_ROLES, PELVIS_ROLES

FRONT: Final = ("left_asis", "right_asis")
BACK: Final = ("left_psis", "right_psis")
WIDTHS_CM: Final[dict[tuple[str, str], tuple[float, float]]] = {
    FRONT: (15.0, 40.0),
    HIP_ROLES: (8.0, 30.0),
}
"""Believed distance between the left and right point; wide limits, to tell a wrong unit from
an unusual golfer (common practice, no published source)."""
PATH_CM: Final = (2.0, 200.0)
"""Believed extent of the pelvis centre's path over a whole capture, along its longest side."""
ADDRESS_S: Final = 1.0
"""Length of the stretch at the start of a capture in which the golfer stands to the ball."""
ADDRESS_SAMPLES: Final = 32
FARTHEST_OFF_UP_DEG: Final = 45.0
"""From the feet the pelvis lies less than this off the vertical, and its left off the level."""
HIGHEST_FRONT_DEG: Final = 30.0
"""A pelvis bent over the ball points down; its front never rises by more than this. Wide limits,
to tell a wrong axis from an unusual golfer (common practice, no published source)."""


def check_plausible(capture: Capture) -> None:
    """Hold a capture's declared unit, sides and hand against its own points.

    Parameters
    ----------
    capture : Capture

    Raises
    ------
    CaptureRefused
        ``units`` if the pelvis is too narrow or too wide to be one; ``front_back_swapped`` or
        ``left_right_swapped`` if points have changed places; ``up_lies`` if the golfer would not
        stand upright along the declared up; ``faces_away`` if the pelvis has its back to the ball
        at address, which means that the hand or the axes are declared wrongly.

    Notes
    -----
    Sides are told from the signs of projections only, by the median over samples in which the
    points of a pair are seen together, so that noise and gaps do not matter.
    """
    _check_widths(capture)
    _check_up(capture)
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


def _check_widths(capture: Capture) -> None:
    """The ASIS lie wider apart than the PSIS, whatever the unit; and as wide as a pelvis is."""
    pairs = (*WIDTHS_CM, BACK)
    widths = {
        pair: _median(np.linalg.norm(_path(capture, pair[0]) - _path(capture, pair[1]), axis=1))
        for pair in pairs
        if set(pair) <= set(capture.roles)
    }
    front, back = (widths.get(pair, np.nan) for pair in (FRONT, BACK))
    if back > front:
        raise CaptureRefused(
            f"the ASIS points lie {front:.3g} cm apart and the PSIS points {back:.3g} cm, where a "
            "pelvis is wider in front: front and back have changed places; correct their labels",
            code="front_back_swapped",
        )
    for pair, (narrow, wide) in WIDTHS_CM.items():
        width = widths.get(pair)
        if width is not None and not narrow <= width <= wide:
            raise CaptureRefused(
                f"the points put the pelvis {width:.3g} cm wide, where {narrow:g} to {wide:g} "
                f"is believed{_unit_hint(width / (0.4 * (narrow + wide)))}; correct the unit "
                "that the profile declares",
                code="units",
            )
    _check_centre(capture)


def _check_up(capture: Capture) -> None:
    """At address the pelvis stands over the feet, level from left to right, its front not high."""
    places = _places_at_address(capture)
    up = np.asarray(capture.axes.up)
    pair = next((pair for pair in WIDTHS_CM if places.keys() >= set(pair)), None)
    if pair is None:
        return
    left, right = (places[role] for role in pair)
    if places.keys() >= set(FOOT_ROLES):
        feet = (places[FOOT_ROLES[0]] + places[FOOT_ROLES[1]]) / 2.0
        off = _degrees((left + right) / 2.0 - feet, up)
        if off > FARTHEST_OFF_UP_DEG:
            raise _lying(f"from the feet the pelvis lies {off:.0f} degrees off it")
    if abs(_degrees(left - right, up) - 90.0) > FARTHEST_OFF_UP_DEG:
        raise _lying("the left and the right of the pelvis lie above one another")
    if places.keys() >= set(PELVIS_ROLES):
        left_asis, right_asis, left_psis, right_psis = (places[role] for role in PELVIS_ROLES)
        rising = 90.0 - _degrees(left_asis + right_asis - left_psis - right_psis, up)
        if rising > HIGHEST_FRONT_DEG:
            raise _lying(f"the front of the pelvis points {rising:.0f} degrees upward")


def _lying(evidence: str) -> CaptureRefused:
    return CaptureRefused(
        f"the profile's up axis does not point up: at address {evidence}; correct up under [axes]",
        code="up_lies",
    )


def _places_at_address(capture: Capture) -> dict[str, FloatArray]:
    """Median place of each point that is seen, over a few samples of the first second."""
    count = max(2, round(ADDRESS_S * capture.rate_hz))
    still = capture.points_cm[: count : max(1, count // ADDRESS_SAMPLES)]
    finite = np.isfinite(still).all(axis=2)
    seen = np.flatnonzero(np.any(finite, axis=0))
    # The median that knows gaps takes ten times as long.
    median = np.median if finite.all() else np.nanmedian
    roles = [capture.roles[place] for place in seen]
    return dict(zip(roles, median(still[:, seen], axis=0), strict=True))


def _degrees(arrow: FloatArray, up: FloatArray) -> float:
    """Angle between an arrow and up."""
    cosine = float(arrow @ up) / max(float(np.linalg.norm(arrow)), 1e-12)
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _check_centre(capture: Capture) -> None:
    """A centre that stands alone moves as far as a pelvis does."""
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
        doubt = " (or the coordinates are mirrored, or the profile's axes are wrong)"
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
