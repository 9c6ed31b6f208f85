"""Which label is which point: by the words of the label, then held against the motion.

Only words of anatomy and of the sport are known here, in full or as the literature shortens them.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from norms.records import FloatArray
from norms.vocabulary import HIP_ROLES, PELVIS_ROLES
from pipelines.draft.statement import Statement, Sure

PARTS: Final[dict[str, tuple[frozenset[str], ...]]] = {
    "asis": (
        frozenset({"asis"}), frozenset({"asi"}), frozenset({"anterior", "superior", "iliac"}),
        frozenset({"front", "pelvis"}), frozenset({"front", "hip"}), frozenset({"front"}),
    ),
    "psis": (
        frozenset({"psis"}), frozenset({"psi"}), frozenset({"posterior", "superior", "iliac"}),
        frozenset({"back", "pelvis"}), frozenset({"rear", "pelvis"}), frozenset({"rear"}),
    ),
    "hip": (frozenset({"hip", "joint"}), frozenset({"hip", "centre"}), frozenset({"hip"}),
            frozenset({"thigh"}), frozenset({"upper", "leg"}), frozenset({"up", "leg"})),
    "hand": (frozenset({"hand"}), frozenset({"wrist"})),
    "foot": (frozenset({"foot"}), frozenset({"toe"}), frozenset({"ankle"}), frozenset({"heel"}),
             frozenset({"shoe"})),
}  # fmt: skip
"""Words for a part of the body, the plainest first."""
CLUB_WORDS: Final = (frozenset({"club", "head"}), frozenset({"clubhead"}), frozenset({"club"}))
CENTRE_WORDS: Final = (frozenset({"pelvis", "centre"}), frozenset({"pelvis", "center"}))
SIDES: Final = {"left": {"left", "l", "lt"}, "right": {"right", "r", "rt"}}
WEAK: Final = frozenset({frozenset({"front"}), frozenset({"rear"}), frozenset({"thigh"}),
                         frozenset({"upper", "leg"}), frozenset({"up", "leg"})})  # fmt: skip
"""Words that name a part only by custom."""
RIGID_SHARE: Final = 0.06
"""Distances within a pelvis vary by less than this share of themselves (common practice)."""
HIPS_RIGID_SHARE: Final = 0.01
"""The joints of a hierarchy are fixed on one bone; markers on two thighs are not that rigid."""
_ARRANGED: Final = {
    True: "; the hands in front, the feet beside and their widths say the same",
    False: "; but the hands in front, the feet beside and their widths say that it is another",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleGuess:
    """The label taken for a role.

    Attributes
    ----------
    label : str
    place : int
        Of the point in the file.
    plain : bool
        Whether the label's words name the part and the side and nothing else.
    rivals : tuple of str
        Labels whose words fit as well.
    """

    label: str
    place: int
    plain: bool
    rivals: tuple[str, ...] = ()


def words_of(label: str) -> frozenset[str]:
    """Words of a label in lower case, a subject's prefix left out.

    Words are told by capitals, digits and signs; a side written as one letter before a known
    part, as in ``LASI``, is taken off.
    """
    bare = label.rsplit(":", 1)[-1]
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])|[^A-Za-z]+", " ", bare).lower()
    words: set[str] = set()
    known = {word for options in PARTS.values() for option in options for word in option}
    for word in spaced.split():
        stuck = re.fullmatch(r"([lr])(.+)", word)
        if stuck and word not in known and stuck[2] in known:
            words |= {"left" if stuck[1] == "l" else "right", stuck[2]}
        else:
            words.add(word)
    return frozenset(words)


def guess_roles(labels: tuple[str, ...]) -> dict[str, RoleGuess]:
    """The best label for each role that any label's words fit; by words alone."""
    wanted = {
        f"{side}_{part}": (frozenset(marks), options)
        for part, options in PARTS.items()
        for side, marks in SIDES.items()
    }
    wanted["club_head"] = (frozenset(), CLUB_WORDS)
    wanted["pelvis_centre"] = (frozenset(), CENTRE_WORDS)
    found = {role: _best(labels, marks, options) for role, (marks, options) in wanted.items()}
    return {role: guess for role, guess in found.items() if guess is not None}


def _best(
    labels: tuple[str, ...], side: frozenset[str], options: tuple[frozenset[str], ...]
) -> RoleGuess | None:
    scored = []
    for place, label in enumerate(labels):
        words = words_of(label)
        sides = words & side
        if side and not sides:
            continue
        for rank, option in enumerate(options):
            if option <= words:
                extra = len(words - option - sides)
                scored.append((extra, rank, place, label, option))
                break
    if not scored:
        return None
    extra, rank, place, label, option = min(scored)
    rivals = tuple(s[3] for s in scored if s[:2] == (extra, rank) and s[2] != place)
    plain = extra == 0 and option not in WEAK
    return RoleGuess(label=label, place=place, plain=plain, rivals=rivals)


def role_statements(
    guesses: Mapping[str, RoleGuess],
    points: FloatArray,
    arranged: Mapping[str, int] | None = None,
) -> list[Statement]:
    """Lines of ``[points]``; a pelvis that is not rigid, or a club that is not fast, is doubted.

    Parameters
    ----------
    guesses : Mapping of str to RoleGuess
    points : ndarray, shape (t, m, 3)
    arranged : Mapping of str to int, optional
        Which point is which pelvis marker as geometry tells it, where it does.
    """
    rigid = _rigidity(guesses, points, PELVIS_ROLES, RIGID_SHARE)
    hips = _rigidity(guesses, points, HIP_ROLES, HIPS_RIGID_SHARE)
    fastest = _fastest(points)
    statements = []
    for role, guess in guesses.items():
        evidence = f"the words of '{guess.label}' name it" + ("" if guess.plain else " in part")
        sure: Sure = "likely"
        if guess.rivals:
            evidence += f", those of {', '.join(guess.rivals[:3])} as well"
            sure = "unsure"
        elif role in PELVIS_ROLES and rigid is not None:
            share, holds = rigid
            evidence += f"; distances between the four vary by {share:.1%}" + (
                "" if holds else ", too much for one bone"
            )
            sure = ("sure" if guess.plain else "likely") if holds else "unsure"
            if holds and arranged:
                agrees = arranged[role] == guess.place
                evidence += _ARRANGED[agrees]
                sure = "sure" if agrees else "unsure"
        elif role in HIP_ROLES and hips is not None and not guess.plain:
            share, holds = hips
            evidence += f"; the distance between the two varies by {share:.1%}" + (
                ", as between joints of one bone" if holds else ", too much for joints of one bone"
            )
            sure = "likely" if holds else "unsure"
        elif role == "club_head":
            holds = guess.place == fastest
            evidence += "; it is " + ("" if holds else "not ") + "the fastest point"
            sure = "sure" if holds and guess.plain else "likely" if holds else "unsure"
        elif not guess.plain:
            sure = "unsure"
        line = f"{role} = {toml_text(guess.label)}"
        statements.append(Statement(section="points", line=line, sure=sure, evidence=evidence))
    return statements


def toml_text(text: str) -> str:
    """A TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub(r"[\x00-\x1f\x7f]", lambda m: f"\\u{ord(m[0]):04x}", escaped) + '"'


def _rigidity(
    guesses: Mapping[str, RoleGuess], points: FloatArray, roles: tuple[str, ...], most: float
) -> tuple[float, bool] | None:
    """Largest relative spread of the distances between points of one bone, where all are there."""
    if not set(roles) <= guesses.keys():
        return None
    shares = []
    for one, other in combinations([points[:, guesses[role].place] for role in roles], 2):
        distance = np.linalg.norm(one - other, axis=1)
        distance = distance[np.isfinite(distance)]
        if len(distance) < 2 or np.median(distance) == 0:
            return None
        shares.append(float(np.std(distance) / np.median(distance)))
    return max(shares), max(shares) < most


def _fastest(points: FloatArray) -> int:
    """Place of the point with the fastest typical movement: its 95th percentile of step length."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=2)
    seen = np.where(np.isfinite(steps), steps, 0.0)
    return int(np.argmax(np.quantile(seen, 0.95, axis=0)))
