"""Keys and names of patterns that survive a rebuild, and what changed since the last edition."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from norms.cohort.frozen_shapes import mixture_of
from norms.records import Cohort
from norms.records.components import Components
from norms.records.patterns import Patterns

IntArray = NDArray[np.int64]

SAME: Final = 0.5
"""Jaccard similarity of golfers above which a pattern is the one of the last edition; more than
half of their common golfers are then shared, so that it can be said of one pattern only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternKey:
    """Key of a pattern, and its name where it had one before."""

    key: str
    name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternKeys:
    """Keys in the order of the labels, and what is said of the last edition."""

    keys: tuple[PatternKey, ...]
    matched: str | None = None
    changes: tuple[str, ...] = ()


def keys_for(
    cohort: Cohort,
    levels: list[str],
    labels: IntArray | None,
    previous: tuple[str, Components, Patterns] | None,
) -> PatternKeys:
    """Keys of patterns, matched to those of an earlier edition.

    The earlier edition's frozen rule is applied to the golfers of today, so that both divisions
    are of the same golfers; patterns are then paired for the largest overlap.

    Parameters
    ----------
    cohort : Cohort
    levels : list of str
        Level of each golfer.
    labels : ndarray of int, shape (n,), or None
        None where golfers form one cloud.
    previous : (str, Components, Patterns) or None

    Returns
    -------
    PatternKeys
        One key for a single cloud.
    """
    count = 1 if labels is None else int(labels.max()) + 1
    if previous is None:
        return PatternKeys(keys=_fresh(count, 1))
    edition, components, earlier = previous
    if labels is None or not earlier.found:
        changes = _changes_without_pair(edition, labels is None, earlier)
        return PatternKeys(
            keys=_fresh(count, 1), matched=edition if changes else None, changes=changes
        )
    before = _labels_before(cohort, levels, components, earlier)
    overlap = _overlap(labels, before, count, len(earlier.found))
    rows, columns = linear_sum_assignment(-overlap)
    pairs = {
        int(new): int(old)
        for new, old in zip(rows, columns, strict=True)
        if overlap[new, old] > SAME
    }
    used = [int(pattern.key.removeprefix("P")) for pattern in earlier.found]
    fresh = iter(_fresh(count, max(used) + 1))
    keys = tuple(
        PatternKey(key=earlier.found[pairs[new]].key, name=earlier.found[pairs[new]].name)
        if new in pairs
        else next(fresh)
        for new in range(count)
    )
    changes = _changes(edition, labels, before, pairs, keys, earlier)
    return PatternKeys(keys=keys, matched=edition, changes=changes)


def _fresh(count: int, first: int) -> tuple[PatternKey, ...]:
    return tuple(PatternKey(key=f"P{first + place}") for place in range(count))


def _labels_before(
    cohort: Cohort, levels: list[str], components: Components, earlier: Patterns
) -> IntArray:
    shifts = np.array([components.level_shift(level) for level in levels])
    scores = components.scores(cohort.curves_cm) - shifts
    labels: IntArray = mixture_of(earlier).memberships(scores).argmax(axis=1).astype(np.int64)
    return labels


def _overlap(new: IntArray, old: IntArray, news: int, olds: int) -> NDArray[np.float64]:
    """Jaccard similarity of every pair of patterns."""
    own, before = new[:, None] == np.arange(news), old[:, None] == np.arange(olds)
    both = own.T.astype(float) @ before.astype(float)
    either = own.sum(axis=0)[:, None] + before.sum(axis=0) - both
    return np.asarray(both / np.maximum(either, 1.0))


def _changes_without_pair(edition: str, one_cloud: bool, earlier: Patterns) -> tuple[str, ...]:
    if one_cloud and earlier.found:
        return (f"The {len(earlier.found)} patterns of edition {edition} are not found again.",)
    if not one_cloud and not earlier.found:
        return (f"Edition {edition} found one cloud; all patterns are new.",)
    return ()


def _changes(
    edition: str,
    new: IntArray,
    old: IntArray,
    pairs: dict[int, int],
    keys: tuple[PatternKey, ...],
    earlier: Patterns,
) -> tuple[str, ...]:
    kept = np.array([pairs.get(int(label), -1) for label in new])
    moved = int((kept != old).sum())
    changes = [f"{moved} of {len(new)} golfers are in another pattern than by edition {edition}."]
    changes += [
        f"Pattern {key.key} is new." for place, key in enumerate(keys) if place not in pairs
    ]
    changes += [
        f"Pattern {pattern.key} of edition {edition} is not found again."
        for place, pattern in enumerate(earlier.found)
        if place not in pairs.values()
    ]
    return tuple(changes)
