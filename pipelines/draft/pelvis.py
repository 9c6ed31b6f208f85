"""The four pelvis markers of a capture by its geometry, whatever their labels say.

Four points are a pelvis where their distances hold throughout the swing and they stand at hip
height over the feet. At address the hands hang in front of it, and the left foot is on its left.
Two witnesses are heard for each: the front pair, toward the hands, is the wider one; and left is
up × forward, as in a right-handed frame. Where they disagree nothing is told.
"""

from collections.abc import Mapping
from itertools import combinations
from typing import Final

import numpy as np

from norms.records import FloatArray
from norms.vocabulary import FOOT_ROLES, HAND_ROLES, PELVIS_ROLES
from pipelines.draft.address import (
    ADDRESS_S,
    ALONG_AXIS,
    Guesses,
    direction,
    nearest_axis,
    places_of,
    trusted,
)
from pipelines.draft.arrange import (
    Address,
    PelvisFinding,
    arranged,
    arranged_of_many,
    nothing_told,
)
from pipelines.draft.roles import RIGID_SHARE, RoleGuess, words_of
from pipelines.draft.statement import Sure

MOST_POINTS: Final = 120
"""More points than that are not searched for four that hold together."""
FRAMES: Final = 200
"""Frames at which distances are compared; more tell no more."""
APART: Final = (0.04, 0.6)
"""Distances between pelvis markers, shares of their height over the feet."""
SPAN: Final = (0.15, 0.5)
"""Largest distance between pelvis markers, share of their height over the feet."""
HANDS_HEIGHT: Final = (0.65, 1.2)
"""Height of the hands over the feet at address, shares of the pelvis' height: a cluster on the
head or the chest stands higher, one on a shank lower."""
OFF_CENTRE: Final = 0.25
"""The pelvis stands between the feet to this share of the stance; a cluster on a thigh does not."""
OTHER_PELVIS_WORDS: Final = ("sacrum", "sacral", "sacr", "crest", "trochanter")
"""Words for markers on the pelvis that are none of the four."""
MOST_BACKSWING_DEG: Final = 70.0
"""A pelvis turns less than this to one of the two sides; a chest turns farther to both."""
# All of these limits are common practice, wide on purpose, without a published source.


def find_pelvis(
    labels: tuple[str, ...], guesses: Guesses, points: FloatArray, rate_hz: float
) -> PelvisFinding:
    """Search the points without a role for the four pelvis markers, among others of one bone.

    Parameters
    ----------
    labels : tuple of str
        Of all points; words that name other places of the pelvis count.
    guesses : Mapping of str to RoleGuess
        What the labels name; feet and hands among them.
    points : ndarray, shape (t, m, 3)
        In the file's own unit and axes.
    rate_hz : float
    """
    still = points[: max(2, round(ADDRESS_S * rate_hz))]
    stance = _address(guesses, still)
    if stance is None:
        return nothing_told("labels name no feet and no hands, so that front and left are not told")
    named = {guess.place for guess in guesses.values()}
    free = [
        place
        for place in range(points.shape[1])
        if place not in named and not _names_another_place(labels[place])
    ]
    if len(free) > MOST_POINTS:
        return nothing_told(f"more than {MOST_POINTS} points have no role")
    medians = _medians(still)
    found = [
        (four, up)
        for four in _rigid_fours(points, medians, free, stance)
        if (up := _up_of(medians[list(four)], stance)) is not None
        and _turns_as_a_pelvis(points[:, list(four)], up)
    ]
    if len(found) == 1:
        return arranged(found[0][0], medians, stance, found[0][1])
    bone = tuple(sorted({place for four, _ in found for place in four}))
    if found and _one_bone(points, bone) and all((up == found[0][1]).all() for _, up in found):
        return arranged_of_many(bone, medians, stance, found[0][1])
    count = "none" if not found else f"{len(found)} sets"
    return nothing_told(f"of the points without a role {count} of four hold together at hip height")


def arrange_pelvis(guesses: Guesses, points: FloatArray, rate_hz: float) -> PelvisFinding:
    """Which is which of four points that labels name as pelvis markers, by geometry alone."""
    still = points[: max(2, round(ADDRESS_S * rate_hz))]
    stance, medians = _address(guesses, still), _medians(still)
    four = tuple(guesses[role].place for role in PELVIS_ROLES)
    if stance is None or len(set(four)) < 4 or not np.isfinite(medians[list(four)]).all():
        return nothing_told("no feet and no hands to hold them against")
    up = _up_of(medians[list(four)], stance)
    if up is None:
        return nothing_told("they do not stand at hip height over the feet")
    return arranged(four, medians, stance, up)


def pelvis_guesses(
    finding: PelvisFinding, labels: tuple[str, ...]
) -> tuple[dict[str, RoleGuess], Sure, str]:
    """The finding as guesses, how sure, and the evidence with what the labels add to it."""
    four = {role: labels[place] for role, place in finding.places.items()}
    guesses = {
        role: RoleGuess(label=label, place=finding.places[role], plain=False)
        for role, label in four.items()
    }
    if len(set(four.values())) < 4 or any(labels.count(label) > 1 for label in four.values()):
        return {}, "unsure", f"{finding.evidence}; but a label is repeated"
    says_pelvis = all(any(w.startswith("pelv") for w in words_of(t)) for t in four.values())
    letters = _letters(four)
    if letters is False:
        return {}, "unsure", f"{finding.evidence}; but letters of the labels say otherwise"
    evidence = finding.evidence
    if letters:
        evidence += "; letters of the labels for left, right, front and back agree"
    return guesses, "sure" if says_pelvis and letters else "likely", evidence


def _letters(four: Mapping[str, str]) -> bool | None:
    """Whether two letters tell the four labels apart as left or right, front or back, and agree.

    None where the labels do not differ by two such letters.
    """
    tails = {role: _tail(label, list(four.values())) for role, label in four.items()}
    wanted = {"left": "l", "right": "r"}, {"asis": "fa", "psis": "bp"}
    if any(len(tail) != 2 for tail in tails.values()):
        return None
    if {frozenset(tail) for tail in tails.values()} not in (
        {frozenset(side + end) for side in "lr" for end in ends} for ends in ("fb", "ap")
    ):
        return None
    return all(
        wanted[0][role.split("_")[0]] in tail and set(wanted[1][role.split("_")[1]]) & set(tail)
        for role, tail in tails.items()
    )


def _tail(label: str, labels: list[str]) -> str:
    """What is left of a label, in lower case, without what all of them begin with."""
    common = 0
    while len({text[: common + 1].lower() for text in labels}) == 1:
        common += 1
    return "".join(c for c in label[common:].lower() if c.isalpha())


def _names_another_place(label: str) -> bool:
    return any(word.endswith(other) for word in words_of(label) for other in OTHER_PELVIS_WORDS)


def _address(guesses: Guesses, still: FloatArray) -> Address | None:
    """Feet and hands at address, by labels whose words name them plainly."""
    if not all(trusted(guesses, role) for role in FOOT_ROLES):
        return None
    feet = places_of(guesses, still, FOOT_ROLES)
    hands = [
        place
        for role in HAND_ROLES
        if trusted(guesses, role) and (place := places_of(guesses, still, (role,))) is not None
    ]
    if feet is None or not hands:
        return None
    middle = np.concatenate(hands).mean(axis=0)
    return Address(left_foot=feet[0], right_foot=feet[1], hands=np.asarray(middle))


def _medians(still: FloatArray) -> FloatArray:
    """Median place of every point, shape (m, 3); NaN for one that is not seen."""
    seen = np.isfinite(still).all(axis=2).any(axis=0)
    medians = np.full(still.shape[1:], np.nan)
    medians[seen] = np.nanmedian(still[:, seen], axis=0)
    return medians


def _rigid_fours(
    points: FloatArray, medians: FloatArray, free: list[int], stance: Address
) -> list[tuple[int, ...]]:
    """Sets of four points that move and keep their distances, of the size of a pelvis."""
    moving = [place for place in free if np.isfinite(medians[place]).all()]
    frames = points[:: max(1, len(points) // FRAMES)]
    partners: dict[int, set[int]] = {place: set() for place in moving}
    for one, other in combinations(moving, 2):
        height = float(np.linalg.norm((medians[one] + medians[other]) / 2 - stance.feet))
        distance = np.linalg.norm(frames[:, one] - frames[:, other], axis=1)
        distance = distance[np.isfinite(distance)]
        if len(distance) < 2 or not APART[0] * height < np.median(distance) < APART[1] * height:
            continue
        if np.std(distance) < RIGID_SHARE * np.median(distance):
            partners[one].add(other)
    fours = [
        (a, b, c, d)
        for a in moving
        for b in sorted(partners[a])
        for c in sorted(partners[a] & partners[b])
        for d in sorted(partners[a] & partners[b] & partners[c])
    ]
    return [four for four in fours if _moves(frames[:, list(four)])]


def _one_bone(points: FloatArray, cluster: tuple[int, ...]) -> bool:
    """Whether the distances of all pairs hold."""
    frames = points[:: max(1, len(points) // FRAMES)]
    return all(
        np.nanstd(distance) < RIGID_SHARE * np.nanmedian(distance)
        for one, other in combinations(cluster, 2)
        if np.isfinite(distance := np.linalg.norm(frames[:, one] - frames[:, other], axis=1)).any()
    )


def _moves(cluster: FloatArray) -> bool:
    """Whether four points turn, as no stand, mat or plate does: by more than a tenth of a turn."""
    span = cluster[:, 0] - cluster[:, 1]
    span = span[np.isfinite(span).all(axis=1)]
    span = span / np.linalg.norm(span, axis=1, keepdims=True)
    return bool(len(span) > 1 and (span @ span[0]).min() < np.cos(np.radians(36.0)))


def _turns_as_a_pelvis(cluster: FloatArray, up: FloatArray) -> bool:
    """Whether the turn from address to one side stays below what a chest turns."""
    frame = [axis for axis in np.eye(3) if abs(axis @ up) < 0.5]
    pairs = [cluster[:, i] - cluster[:, k] for i, k in combinations(range(4), 2)]
    span = max(pairs, key=lambda pair: float(np.nanmedian(np.linalg.norm(pair, axis=1))))
    span = span[np.isfinite(span).all(axis=1)]
    turn = np.degrees(np.unwrap(np.arctan2(span @ frame[1], span @ frame[0])))
    turn = turn - turn[0]
    return bool(min(turn.max(), -turn.min()) < MOST_BACKSWING_DEG)


def _up_of(four: FloatArray, stance: Address) -> FloatArray | None:
    """Up, if the four stand at hip height between the feet along an axis of the file."""
    middle = four.mean(axis=0)
    name, cosine = nearest_axis(middle - stance.feet)
    up = direction(name)
    height = float((middle - stance.feet) @ up)
    span = max(float(np.linalg.norm(a - b)) for a, b in combinations(four, 2))
    hands = float((stance.hands - stance.feet) @ up) / height
    line = stance.left_foot - stance.right_foot
    aside = float(abs((middle - stance.feet) @ line) / (line @ line))
    fits = (
        cosine > ALONG_AXIS
        and SPAN[0] * height < span < SPAN[1] * height
        and HANDS_HEIGHT[0] < hands < HANDS_HEIGHT[1]
        and aside < OFF_CENTRE
        and abs(line @ up) < OFF_CENTRE * np.linalg.norm(line)
    )
    return up if fits else None
