"""Which is which of pelvis markers: front and back by the hands, left and right by the feet."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from norms.records import FloatArray
from norms.vocabulary import PELVIS_ROLES

APART_ENOUGH: Final = 0.15
"""Least difference that tells front from back and left from right, share of the span."""
OFF_THE_MIDDLE: Final = 0.1
"""A marker nearer to the middle than that is none of a pair: one over the sacrum."""
# Limits are common practice, without a published source.
HOLD: Final = "four points hold together"


@dataclass(frozen=True, slots=True, kw_only=True)
class PelvisFinding:
    """What the geometry says of the pelvis markers.

    Attributes
    ----------
    places : dict of str to int
        Place in the file of the point of each of the four roles; empty where nothing is told.
    evidence : str
        Why, or why not.
    """

    places: Mapping[str, int]
    evidence: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Address:
    """How the golfer stands: medians of the first moments, in the file's own terms."""

    left_foot: FloatArray
    right_foot: FloatArray
    hands: FloatArray

    @property
    def feet(self) -> FloatArray:
        """The middle of the feet."""
        return np.asarray((self.left_foot + self.right_foot) / 2.0)


def nothing_told(why: str) -> PelvisFinding:
    """That geometry does not tell the markers, and why."""
    return PelvisFinding(places={}, evidence=why)


def arranged(
    four: tuple[int, ...], medians: FloatArray, stance: Address, up: FloatArray
) -> PelvisFinding:
    """Which of four points is which; nothing where two witnesses disagree.

    Parameters
    ----------
    four : tuple of int
        Places in the file.
    medians : ndarray, shape (m, 3)
        Of every point at address.
    stance : Address
    up : ndarray, shape (3,)
        A unit vector.
    """
    places = medians[list(four)]
    span = _span(places)
    axes = _forward_and_left(places, stance, up)
    if axes is None:
        return nothing_told(f"{HOLD}, but the hands hang neither in front nor behind")
    forward, left = axes
    order = np.argsort(places @ forward)[::-1]
    front, back = order[:2], order[2:]
    gap = float((places[front] @ forward).min() - (places[back] @ forward).max())
    sides = [sorted(pair, key=lambda k: float(-places[k] @ left)) for pair in (front, back)]
    widths = [float((places[one] - places[other]) @ left) for one, other in sides]
    if gap < APART_ENOUGH * span or min(widths) < APART_ENOUGH * span:
        return nothing_told(f"{HOLD}, but not as a left and a right pair")
    if widths[0] <= widths[1]:
        return nothing_told(f"{HOLD}, but the pair toward the hands is the narrower")
    if np.cross(up, forward) @ left <= 0:
        return nothing_told(
            f"{HOLD}, but left and right of the feet do not fit the way they face: the frame is "
            "mirrored, or labels of the feet have changed places"
        )
    roles = zip(PELVIS_ROLES, (*sides[0], *sides[1]), strict=True)
    said = (
        f"{HOLD} at hip height; the pair toward the hands is the wider one, and left and right "
        "follow the feet and the way they face"
    )
    return PelvisFinding(places={role: four[k] for role, k in roles}, evidence=said)


def arranged_of_many(
    bone: tuple[int, ...], medians: FloatArray, stance: Address, up: FloatArray
) -> PelvisFinding:
    """As ``arranged``, of more than four points on one pelvis: which four, and which is which.

    The ASIS are the two farthest toward the hands and the ground, half way between the two: an
    iliac crest comes near them in front where the pelvis is bent over the ball, but stands higher.
    The PSIS are the two farthest back of those that are not in the middle, where a marker over
    the sacrum is. Either pair must have a point on each side and stand clear of those between.
    """
    places = medians[list(bone)]
    span = _span(places)
    many = f"{len(bone)} points without a role hold together"
    axes = _forward_and_left(places, stance, up)
    if axes is None:
        return nothing_told(f"{many}, but the hands hang neither in front nor behind")
    forward, left = (places @ axis for axis in axes)
    fore_and_low = (forward - places @ up) / np.sqrt(2.0)
    front, others = np.split(np.argsort(fore_and_low)[::-1], [2])
    middle = float(left[front].mean())
    beside = others[np.abs(left[others] - middle) > OFF_THE_MIDDLE * span]
    back, between = np.split(beside[np.argsort(forward[beside])], [2])
    pairs = len(back) == 2 and all(np.prod(left[pair] - middle) < 0 for pair in (front, back))
    clear = APART_ENOUGH * span
    if (
        not pairs
        or fore_and_low[front].min() - fore_and_low[others].max() < clear
        or (len(between) and forward[between].min() - forward[back].max() < clear)
    ):
        return nothing_told(f"{many}, and which of them are the four does not stand out")
    found = arranged(tuple(bone[k] for k in (*front, *back)), medians, stance, up)
    if not found.places:
        return found
    said = (
        f"{many} at hip height; the two foremost and lowest and the two farthest back beside the "
        "middle are taken, the others left out; the front pair is the wider one, and left and "
        "right follow the feet and the way they face"
    )
    return PelvisFinding(places=found.places, evidence=said)


def _forward_and_left(
    places: FloatArray, stance: Address, up: FloatArray
) -> tuple[FloatArray, FloatArray] | None:
    """Level unit vectors toward the hands and toward the left foot; None where they are one."""
    left = _level(stance.left_foot - stance.right_foot, up)
    left = left / np.linalg.norm(left)
    forward = _level(stance.hands - places.mean(axis=0), up)
    forward = forward - (forward @ left) * left
    length = float(np.linalg.norm(forward))
    return (forward / length, left) if length > APART_ENOUGH * _span(places) else None


def _span(places: FloatArray) -> float:
    return max(float(np.linalg.norm(a - b)) for a, b in combinations(places, 2))


def _level(vector: FloatArray, up: FloatArray) -> FloatArray:
    return np.asarray(vector - (vector @ up) * up)
