"""Progress of one golfer: is a change between two sessions real?

A change is judged by two bars at once. It must pass the smallest change that swings and days alone
would show, and it must leave the range in which the second session was expected: an unusual
session is followed by a less unusual one with nothing done (regression to the mean). Both bars
stand at one critical value, chosen so that a golfer who has not changed is told "real" in the
stated share of cases, however unusual the first session was.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from norms.records.progress import FeatureChange, Verdict

FloatArray = NDArray[np.float64]

FALSE_ALARMS: Final = 0.05
MOST_MORE_SWINGS: Final = 10
_BISECTIONS: Final = 50


class Spread(NamedTuple):
    """Standard deviations of one feature: between golfers, days and swings; and the peers' mean."""

    golfer: float
    day: float
    swing: float
    mean: float


class Bars(NamedTuple):
    """What a change must pass."""

    needed: float
    expected: float
    low: float
    high: float
    retest: float


def change_bars(first: float, spread: Spread, swings: tuple[int, int]) -> Bars:
    """Smallest change beyond noise, and range of change expected with nothing done.

    Parameters
    ----------
    first : float
        Mean of the first session.
    spread : Spread
        With a positive spread between swings or days.
    swings : tuple of 2 int
        Of the first and the last session.

    Returns
    -------
    Bars
    """
    golfer, day, swing = spread.golfer**2, spread.day**2, spread.swing**2
    of_first, of_last = (day + swing / m for m in swings)
    retest = golfer / (golfer + of_first) if golfer > 0 else 0.0
    sd_change = np.sqrt(of_first + of_last)
    sd_next = np.sqrt(golfer * (1.0 - retest) + of_last)
    expected = (retest - 1.0) * (first - spread.mean)
    critical = float(critical_value(expected, sd_change, sd_next))
    return Bars(
        needed=critical * float(sd_change),
        expected=expected,
        low=expected - critical * float(sd_next),
        high=expected + critical * float(sd_next),
        retest=retest,
    )


def critical_value(
    expected: ArrayLike, sd_change: ArrayLike, sd_next: ArrayLike, alarms: float = FALSE_ALARMS
) -> FloatArray:
    """Critical value c of both bars for a given share of false alarms.

    With nothing done the change is normal about ``expected`` with ``sd_next``; an alarm is a
    change beyond c ``sd_change`` on a side where it is also beyond ``expected`` plus or minus c
    ``sd_next``. The share of alarms falls as c grows, so that halving finds it.

    Parameters
    ----------
    expected, sd_change, sd_next : array_like
    alarms : float

    Returns
    -------
    ndarray
    """
    shift, wide, own = np.broadcast_arrays(
        np.asarray(expected, dtype=float), sd_change, np.maximum(sd_next, 1e-300)
    )
    low, high = np.zeros(shift.shape), np.full(shift.shape, 10.0)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        above = np.maximum(shift + middle * own, middle * wide)
        below = np.minimum(shift - middle * own, -middle * wide)
        share = special.ndtr((below - shift) / own) + special.ndtr((shift - above) / own)
        low, high = np.where(share > alarms, middle, low), np.where(share > alarms, high, middle)
    critical: FloatArray = (low + high) / 2.0
    return critical


def judge_change(
    feature: str, first: float, last: float, spread: Spread | None, swings: tuple[int, int]
) -> FeatureChange:
    """One feature's change between two sessions, with its verdict.

    Parameters
    ----------
    feature : str
    first, last : float
        Session means.
    spread : Spread or None
        None, or with NaN, where the edition cannot tell what is noise.
    swings : tuple of 2 int

    Returns
    -------
    FeatureChange
        ``"not enough swings"`` where the same change would be told with at most ten swings more in
        the last session.
    """
    change = last - first
    if spread is None or not np.isfinite(spread).all() or not spread.day + spread.swing > 0:
        return FeatureChange(
            feature=feature,
            first=first,
            last=last,
            change=change,
            needed=None,
            expected=None,
            expected_low=None,
            expected_high=None,
            retest=None,
            verdict="cannot be judged",
        )
    bars = change_bars(first, spread, swings)
    verdict: Verdict = "real" if is_real(change, bars) else "within noise"
    more = None if verdict == "real" else _more_swings(change, first, spread, swings)
    return FeatureChange(
        feature=feature,
        first=first,
        last=last,
        change=change,
        needed=bars.needed,
        expected=bars.expected,
        expected_low=bars.low,
        expected_high=bars.high,
        retest=bars.retest,
        verdict="not enough swings" if more is not None else verdict,
        more_swings=more,
    )


def is_real(change: float, bars: Bars) -> bool:
    """Whether a change passes both bars on its own side."""
    if change > 0:
        return change > bars.needed and change > bars.high
    return -change > bars.needed and change < bars.low


def _more_swings(
    change: float, first: float, spread: Spread, swings: tuple[int, int]
) -> int | None:
    """Fewest swings more in the last session with which the same change would be real.

    Asked only of a change that is more than half way to what is needed: a small one is noise, and
    more swings would be taken to make it smaller.
    """
    now = change_bars(first, spread, swings)
    if abs(change) < now.needed / 2.0:
        return None
    for more in range(1, MOST_MORE_SWINGS + 1):
        if is_real(change, change_bars(first, spread, (swings[0], swings[1] + more))):
            return more
    return None
