"""Unit, axes and hand of a capture, from how a golfer stands and swings."""

from typing import Final

import numpy as np

from norms.records import FloatArray
from norms.units import CM_PER_UNIT
from norms.vocabulary import FOOT_ROLES, HAND_ROLES, HIP_ROLES, PELVIS_ROLES
from pipelines.collect.to_capture import UNIT_WORDS
from pipelines.draft.address import (
    ADDRESS_S,
    ALONG_AXIS,
    Guesses,
    direction,
    nearest_axis,
    places_of,
)
from pipelines.draft.statement import Statement, Sure

WIDTHS_CM: Final = {("left_asis", "right_asis"): (18.0, 34.0), HIP_ROLES: (12.0, 25.0)}
"""Usual distances between left and right (common practice, no published source)."""

LIKELY_AXIS: Final = 0.94
"""Cosine of 20 degrees: a golfer stands bent over the ball, but no farther off than that."""


def unit_statement(guesses: Guesses, points: FloatArray, stated: str | None) -> Statement:
    """The unit that the file states, held against the pelvis; or the one that the pelvis tells."""
    told = UNIT_WORDS.get(stated.strip().lower()) if stated else None
    width, pair, limits = _pelvis_width(guesses, points)
    fitting = [
        unit for unit, cm in CM_PER_UNIT.items() if width and limits[0] <= width * cm <= limits[1]
    ]
    if told is not None:
        evidence = f"the file states '{stated}'"
        if not width:
            return _unit(told, "likely", evidence)
        evidence += f"; {pair} lie {width * CM_PER_UNIT[told]:.3g} cm apart in it"
        return _unit(told, "sure" if told in fitting else "unsure", evidence)
    if len(fitting) == 1:
        cm = width * CM_PER_UNIT[fitting[0]]
        evidence = f"the file states none; {pair} lie {width:.3g} apart, {cm:.3g} cm in this unit"
        return _unit(fitting[0], "likely", evidence)
    evidence = "the file states none"
    if fitting:
        evidence += f"; {pair} lie {width:.3g} apart, which fits {' and '.join(fitting)}"
    return _unit(fitting[0] if fitting else "mm", "unsure", evidence)


def _unit(unit: str, sure: Sure, evidence: str) -> Statement:
    return Statement(
        section="units",
        line=f'length = "{unit}"',
        sure=sure,
        evidence=evidence,
    )


def axes_statements(guesses: Guesses, points: FloatArray, rate_hz: float) -> list[Statement]:
    """Lines of ``[axes]``; the evidence tells from which side this capture's golfer plays."""
    still = points[: max(2, round(ADDRESS_S * rate_hz))]
    up, up_statement = _up(guesses, still)
    feet = places_of(guesses, still, FOOT_ROLES)
    blow = _blow(guesses, points)
    if up is None or feet is None or blow is None:
        why = "up is not known" if up is None else "there are no feet, or no hand or club"
        return [
            _axes('source = "declared"', "unsure", f"the target line is not told: {why}"),
            up_statement,
            _axes('target = "+x"', "unsure", f"not told: {why}"),
            _axes('ball = "-y"', "unsure", "follows from target and up"),
        ]
    line = feet[0] - feet[1]
    line = line - (line @ up) * up
    plays_right = bool(line @ blow > 0)
    toward = line if plays_right else -line
    target, cosine = nearest_axis(toward)
    lead, hand = ("left", "right") if plays_right else ("right", "left")
    told = (
        f"at its fastest, {_mover_words(guesses)} moves toward the {lead} foot, so this golfer "
        f"plays from the {hand}; the line through the feet lies {_degrees(cosine)} from {target}"
    )
    if cosine < ALONG_AXIS:
        return [_axes('source = "feet_line"', "likely", told), up_statement]
    return [
        _axes('source = "declared"', "likely", "up and target lie along axes of the file"),
        up_statement,
        _axes(f'target = "{target}"', "likely", told),
        *_ball(guesses, still, up, target, plays_right),
    ]


def _degrees(cosine: float) -> str:
    return f"{np.degrees(np.arccos(min(cosine, 1.0))):.0f} degrees"


def _axes(line: str, sure: Sure, evidence: str) -> Statement:
    return Statement(section="axes", line=line, sure=sure, evidence=evidence)


def _up(guesses: Guesses, still: FloatArray) -> tuple[FloatArray | None, Statement]:
    """The axis along which the pelvis stands above the feet."""
    feet = places_of(guesses, still, FOOT_ROLES)
    pelvis = _pelvis_place(guesses, still)
    if feet is None or pelvis is None:
        spread = np.nanmedian(still, axis=0)
        axis = "xyz"[int(np.argmax(np.nanmax(spread, axis=0) - np.nanmin(spread, axis=0)))]
        said = f"no feet and pelvis to tell; the points spread most along {axis}"
        return None, _axes(f'up = "+{axis}"', "unsure", said)
    rise = pelvis - feet.mean(axis=0)
    name, cosine = nearest_axis(rise)
    said = f"the pelvis stands above the feet along {name}, {_degrees(cosine)} off"
    sure: Sure = "sure" if cosine > ALONG_AXIS else "likely" if cosine > LIKELY_AXIS else "unsure"
    hands = [places_of(guesses, still, (role,)) for role in HAND_ROLES]
    heights = [float((hand[0] - feet.mean(axis=0)) @ rise) for hand in hands if hand is not None]
    if heights and min(heights) > 0:
        said += ", and so do the hands"
    elif heights:
        said, sure = f"{said}, but the hands do not", "unsure"
    return (direction(name) if sure != "unsure" else None), _axes(f'up = "{name}"', sure, said)


def _ball(
    guesses: Guesses, still: FloatArray, up: FloatArray, target: str, plays_right: bool
) -> list[Statement]:
    """Toward the ball of a right-hander, and whether the frame is mirrored, from the pelvis."""
    ball = np.cross(direction(target), up)
    name, _ = nearest_axis(ball)
    places = places_of(guesses, still, PELVIS_ROLES)
    if places is None:
        said = "follows from target and up in a right-handed frame; no pelvis markers to check it"
        return [_axes(f'ball = "{name}"', "likely", said)]
    facing = places[0] + places[1] - places[2] - places[3]
    if facing @ ball * (1.0 if plays_right else -1.0) > 0:
        return [_axes(f'ball = "{name}"', "sure", "the pelvis of this golfer faces the ball there")]
    opposite, _ = nearest_axis(-ball)
    said = (
        "the pelvis has its back to the ball of a right-handed frame: the frame is mirrored, or "
        "left and right, or front and back, have changed places"
    )
    lines = (f'ball = "{opposite}"', "mirrored = true")
    return [_axes(line, "unsure", said) for line in lines]


def _mover_words(guesses: Guesses) -> str:
    return "the club head" if "club_head" in guesses else "the hand"


def _blow(guesses: Guesses, points: FloatArray) -> FloatArray | None:
    """Velocity, per sample, of the club head or a hand where it is fastest."""
    for role in ("club_head", *HAND_ROLES):
        if role in guesses:
            steps = np.diff(points[:, guesses[role].place], axis=0)
            speed = np.linalg.norm(steps, axis=1)
            if np.isfinite(speed).any():
                return np.asarray(steps[int(np.nanargmax(speed))])
    return None


def _pelvis_width(guesses: Guesses, points: FloatArray) -> tuple[float, str, tuple[float, float]]:
    for (left, right), limits in WIDTHS_CM.items():
        if left in guesses and right in guesses:
            distance = np.linalg.norm(
                points[:, guesses[left].place] - points[:, guesses[right].place], axis=1
            )
            if np.isfinite(distance).any():
                return float(np.nanmedian(distance)), f"{left} and {right}", limits
    return 0.0, "", (0.0, 0.0)


def _pelvis_place(guesses: Guesses, still: FloatArray) -> FloatArray | None:
    for roles in (PELVIS_ROLES, HIP_ROLES, ("pelvis_centre",)):
        places = places_of(guesses, still, roles)
        if places is not None:
            return np.asarray(places.mean(axis=0))
    return None
