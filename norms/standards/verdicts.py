"""Met, not yet, cannot tell: a golfer's means against the ranges of a standard.

A mean lies within its error of the truth. "Met" is said only where the whole range of believable
truths lies inside the limits, "not yet" only where it lies outside, and "cannot tell" between.
"""

from collections.abc import Sequence
from math import isfinite
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from norms.records import FloatArray
from norms.records.standard import (
    GolferMeans,
    GolferVerdict,
    PartVerdict,
    QuantityErrors,
    Standard,
    Verdict,
)
from norms.standards.quantities import planned_error, smallest_change

MET, NOT_YET, CANNOT_TELL = 0, 1, 2
WORDS: Final[tuple[Verdict, Verdict, Verdict]] = ("met", "not yet", "cannot tell")

NO_VALUE: Final = "no swing gives it"
NO_ERROR: Final = "its measurement error is not known"
TOO_NARROW: Final = "the range is narrower than the error of so few swings"

RULE: Final = (
    "Met: the golfer's mean lies inside every range by more than its measurement error allows for. "
    "Not yet: some mean lies outside by more than that. Cannot tell: anything else. A golfer who "
    "truly misses a part is told that it is met, and one who truly meets everything is told "
    '"not yet" anywhere, with at most the stated chance.'
)


def met_factor(wrong_rate: float) -> float:
    """Standard errors by which a mean must lie inside a range to be called met.

    A golfer whose truth lies on or beyond a limit is then called met with a chance of at most
    ``wrong_rate``; for several parts together too, because all of them must be met.
    """
    return float(ndtri(1.0 - wrong_rate))


def not_yet_factor(width_in_errors: ArrayLike, wrong_rate: float, parts: int) -> FloatArray:
    """Standard errors by which a mean must lie outside a range to be called not yet.

    Parameters
    ----------
    width_in_errors : array_like
        Width of the range over the standard error; infinite for a range open at one side.
    wrong_rate : float
        For all parts together; each is allowed ``wrong_rate / parts`` (Bonferroni).
    parts : int

    Returns
    -------
    ndarray
        z with P(Z > z) + P(Z > z + w) = wrong_rate / parts: a golfer whose truth lies on a limit
        can be thrown beyond either one. The chance is largest there, for it is convex in the
        truth between the limits.
    """
    width = np.asarray(width_in_errors, dtype=float)
    each = wrong_rate / parts
    low = np.full(width.shape, float(ndtri(1.0 - each)))
    high = np.full(width.shape, float(ndtri(1.0 - each / 2.0)))
    for _ in range(60):
        middle = (low + high) / 2.0
        too_often = ndtr(-middle) + ndtr(-middle - width) > each
        low, high = np.where(too_often, middle, low), np.where(too_often, high, middle)
    return high


def part_verdicts(
    values: FloatArray, errors: FloatArray, ends: FloatArray, wrong_rate: float
) -> FloatArray:
    """Verdict of every golfer on every part.

    Parameters
    ----------
    values, errors : ndarray, shape (n, d)
        Means and their standard errors; NaN where not known.
    ends : ndarray, shape (d, 2)
        Limits, infinite where open; both belong to the range.
    wrong_rate : float

    Returns
    -------
    ndarray of int, shape (n, d)
        0 met, 1 not yet, 2 cannot tell.
    """
    low, high = ends.T
    known = np.isfinite(values) & np.isfinite(errors)
    value, error = np.where(known, values, 0.0), np.where(known, errors, 1.0)
    with np.errstate(divide="ignore", over="ignore"):
        width = np.where(error > 0, (high - low) / error, np.inf)
    inner = met_factor(wrong_rate) * error
    outer = not_yet_factor(width, wrong_rate, len(ends)) * error
    met = (value - inner >= low) & (value + inner <= high)
    not_yet = (value - outer > high) | (value + outer < low)
    told = np.where(met, MET, np.where(not_yet, NOT_YET, CANNOT_TELL))
    return np.asarray(np.where(known, told, CANNOT_TELL))


def whole_verdicts(parts: FloatArray) -> FloatArray:
    """Not yet where any part is, met where all are, cannot tell else; shape (n,)."""
    some_not_yet = (parts == NOT_YET).any(axis=1)
    return np.where(some_not_yet, NOT_YET, np.where((parts == MET).all(axis=1), MET, CANNOT_TELL))


def standard_ends(standard: Standard) -> FloatArray:
    """Limits of every requirement, shape (d, 2), infinite where open."""
    ends = [requirement.ends for requirement in standard.requirements]
    return np.array(ends, dtype=float).reshape(-1, 2)


def gaps(values: FloatArray, ends: FloatArray) -> FloatArray:
    """Distance of each value outside its range; 0 inside, NaN where there is no value."""
    low, high = ends.T
    outside = np.maximum(low - values, values - high)
    return np.asarray(np.maximum(outside, 0.0))


def judge(
    standard: Standard, means: GolferMeans, errors: QuantityErrors
) -> tuple[GolferVerdict, ...]:
    """Every golfer against every part of a standard.

    Parameters
    ----------
    standard : Standard
        d requirements.
    means : GolferMeans
        n golfers, d quantities in the order of the requirements.
    errors : QuantityErrors

    Returns
    -------
    tuple of GolferVerdict
        In the order of the golfers.
    """
    ends = standard_ends(standard)
    parts = part_verdicts(means.values, means.errors, ends, standard.wrong_rate)
    wholes = whole_verdicts(parts)
    change = smallest_change(errors, means.errors)
    gap = gaps(means.values, ends)
    too_narrow = ends[:, 1] - ends[:, 0] < 2.0 * met_factor(standard.wrong_rate) * means.errors
    # One yardstick for everyone: by a golfer's own few swings nearly all would be close.
    planned = smallest_change(errors, planned_error(errors, standard.swings, standard.days))
    with np.errstate(invalid="ignore"):
        # A gap that is not known is not a small one.
        near = np.asarray((gap <= planned).all(axis=1) & (gap > 0).any(axis=1))
    keys = [requirement.quantity.key for requirement in standard.requirements]
    rows = zip(
        parts.tolist(), means.values.tolist(), means.errors.tolist(), gap.tolist(),
        change.tolist(), too_narrow.tolist(), strict=True,
    )  # fmt: skip
    return tuple(
        GolferVerdict(
            golfer=golfer,
            verdict=WORDS[whole],
            swings=swings,
            days=days,
            parts=tuple(map(_part, keys, *row)),
            close=close,
        )
        for golfer, whole, swings, days, row, close in zip(
            means.golfers, wholes.tolist(), means.swings.tolist(), means.days.tolist(), rows,
            near.tolist(), strict=True,
        )
    )  # fmt: skip


def counts(verdicts: Sequence[GolferVerdict]) -> dict[Verdict, int]:
    """Golfers by verdict."""
    told = [one.verdict for one in verdicts]
    return {word: told.count(word) for word in WORDS}


def _part(
    key: str,
    verdict: int,
    value: float,
    error: float,
    gap: float,
    change: float,
    too_narrow: bool,
) -> PartVerdict:
    why = None
    if not isfinite(value):
        why = NO_VALUE
    elif not isfinite(error):
        why = NO_ERROR
    elif verdict == CANNOT_TELL and too_narrow:
        why = TOO_NARROW
    return PartVerdict(
        key=key,
        verdict=WORDS[verdict],
        value=_known(value),
        error=_known(error),
        gap=_known(gap),
        smallest_change=_known(change),
        why=why,
    )


def _known(number: float) -> float | None:
    return number if isfinite(number) else None
