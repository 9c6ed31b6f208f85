"""Where named points are while the golfer stands to the ball, and how a direction lies."""

from collections.abc import Mapping
from typing import Final

import numpy as np

from norms.records import FloatArray
from pipelines.draft.roles import RoleGuess

ALONG_AXIS: Final = 0.966
"""Cosine of 15 degrees: a direction nearer to a laboratory axis than that lies along it."""
ADDRESS_S: Final = 0.5

Guesses = Mapping[str, RoleGuess]


def trusted(guesses: Guesses, role: str) -> bool:
    """Whether a label's words name a role plainly and no other label's do as well."""
    return role in guesses and guesses[role].plain and not guesses[role].rivals


def places_of(guesses: Guesses, still: FloatArray, roles: tuple[str, ...]) -> FloatArray | None:
    """Median places at address, shape (len(roles), 3); None where one is missing or unseen."""
    if not set(roles) <= guesses.keys():
        return None
    paths = still[:, [guesses[role].place for role in roles]]
    if not np.isfinite(paths).all(axis=2).any(axis=0).all():
        return None
    return np.asarray(np.nanmedian(paths, axis=0))


def nearest_axis(vector: FloatArray) -> tuple[str, float]:
    """Signed laboratory axis nearest to a direction, and the cosine between them."""
    k = int(np.argmax(np.abs(vector)))
    length = float(np.linalg.norm(vector))
    sign = "+" if vector[k] > 0 else "-"
    return sign + "xyz"[k], float(abs(vector[k]) / length) if length > 0 else 0.0


def direction(name: str) -> FloatArray:
    """Unit vector of a signed axis such as ``+x``."""
    unit = np.zeros(3)
    unit["xyz".index(name[1])] = 1.0 if name[0] == "+" else -1.0
    return unit
