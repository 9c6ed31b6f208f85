"""Sessions of a lab on control charts: golfers measured again say whether the lab stayed the same.

Golfers do change from day to day. How much is known from the measurement error of the club, so
that a session is called out only when its golfers moved together by more than that.
"""

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records.cohort import SwingPool
from norms.records.lab_quality import LabControl
from norms.records.measurement_error import MeasurementError
from norms.statistics.control_charts import (
    EWMA_SIGMAS,
    FloatArray,
    ewma_chart,
    family_sigmas,
    spread_score,
)

FEWEST_GOLFERS: Final = 3
"""Golfers below whom a session is charted but not held: one golfer's own change is no fault of
the lab. Their scores still enter the moving average, which a lasting fault moves."""


@dataclass(frozen=True, slots=True, eq=False)
class _Days:
    """Golfer-days of one lab, u rows sorted by golfer, and their d features."""

    golfer: NDArray[np.int64]
    session: NDArray[np.int64]
    sessions: tuple[date, ...]
    mean: FloatArray  # (u, d), NaN without the feature
    counts: FloatArray  # (u, d)
    variance: FloatArray  # (u, d), NaN below two swings


def lab_control(
    pool: SwingPool, lab: str, error: MeasurementError, sigmas: float = 3.0
) -> LabControl:
    """Chart the sessions of one lab for the club that ``error`` is about.

    Parameters
    ----------
    pool : SwingPool
    lab : str
    error : MeasurementError
        Day and swing standard deviations, the yardstick of the charts.
    sigmas : float
        Limit of a single chart.

    Returns
    -------
    LabControl
        Sessions out of control are found one at a time, the farthest first, each taken out of
        what the others are compared with. A session is held for its shift if at least three
        golfers of it were there on other days too, for its spread if at least three swung.
    """
    days = _golfer_days(pool, lab, error.club)
    limit = family_sigmas(sigmas, len(error.feature_names))
    spread = _spread_scores(days, error)
    shift, repeated, held = _hold_farthest_first(days, error, limit)
    enough = np.bincount(days.session, minlength=len(days.sessions)) >= FEWEST_GOLFERS
    noisy = np.asarray((np.abs(spread) > limit).any(axis=1) & enough)
    drift, drift_limit = _drift(shift, ~held)
    drifting = np.asarray((np.abs(drift) > drift_limit[:, None]).any(axis=1))
    return LabControl(
        lab=lab,
        club=error.club,
        feature_names=error.feature_names,
        sessions=days.sessions,
        repeated_golfers=repeated,
        shift=shift,
        drift=drift,
        spread=spread,
        limit=limit,
        drift_limit=drift_limit,
        out=held | noisy,
        drifting=drifting,
        reasons=tuple(
            _reason(*scores, limit, error.feature_names)
            for scores in zip(shift, spread, held, noisy, strict=True)
        ),
    )


def _golfer_days(pool: SwingPool, lab: str, club: str) -> _Days:
    rows = np.flatnonzero((np.array(pool.labs) == lab) & (np.array(pool.clubs) == club))
    golfer = np.unique(np.array(pool.golfers)[rows], return_inverse=True)[1]
    ordinals = np.array([pool.recorded_on[row].toordinal() for row in rows], dtype=np.int64)
    when, session = np.unique(ordinals, return_inverse=True)
    units, unit = np.unique(np.stack([golfer, session]), axis=1, return_inverse=True)
    values = pool.features[rows]
    seen = np.isfinite(values)
    shape = (units.shape[1], values.shape[1])
    counts, totals, squares = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    np.add.at(counts, unit, seen)
    np.add.at(totals, unit, np.where(seen, values, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = totals / counts
        np.add.at(squares, unit, np.where(seen, values - mean[unit], 0.0) ** 2)
        variance = np.where(counts > 1, squares / (counts - 1), np.nan)
    sessions = tuple(date.fromordinal(int(day)) for day in when)
    return _Days(units[0], units[1], sessions, mean, counts, variance)


def _hold_farthest_first(
    days: _Days, error: MeasurementError, limit: float
) -> tuple[FloatArray, NDArray[np.int64], NDArray[np.bool_]]:
    """Shift scores (m, d), repeated golfers (m,) and sessions held (m,)."""
    held = np.zeros(len(days.sessions), dtype=bool)
    while True:
        shift, repeated = _shift_scores(days, error, held)
        farthest = np.nan_to_num(np.abs(shift)).max(axis=1, initial=0.0)
        farthest[held | (repeated < FEWEST_GOLFERS)] = 0.0
        if not len(held) or farthest.max() <= limit:
            return shift, repeated, held
        held[farthest.argmax()] = True


def _shift_scores(
    days: _Days, error: MeasurementError, held: NDArray[np.bool_]
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Each session against its golfers' other days, those of held sessions left out."""
    day_variance = np.nan_to_num(error.day_sd) ** 2
    swing_variance = error.swing_sd**2
    trusted = (~held[days.session])[:, None] & (days.counts > 0)
    inverse = np.divide(1.0, days.counts, out=np.zeros_like(days.counts), where=days.counts > 0)
    mean = np.where(days.counts > 0, days.mean, 0.0)

    def others(unit_values: FloatArray) -> FloatArray:
        own = np.where(trusted, unit_values, 0.0)
        total = np.zeros((days.golfer.max(initial=-1) + 1, own.shape[1]))
        np.add.at(total, days.golfer, own)
        return np.asarray(total[days.golfer] - own)

    number = others(np.ones_like(mean))
    usable = (number > 0) & (days.counts > 0)
    number = np.where(usable, number, 1.0)
    deviation = mean - others(mean) / number
    variance = day_variance * (1 + 1 / number)
    variance = variance + swing_variance * (inverse + others(inverse) / number**2)
    usable &= variance > 0
    weight = np.divide(1.0, variance, out=np.zeros_like(variance), where=usable)
    pulled, weights = (np.zeros((len(held), mean.shape[1])) for _ in range(2))
    np.add.at(pulled, days.session, weight * np.where(usable, deviation, 0.0))
    np.add.at(weights, days.session, weight)
    repeated = np.bincount(days.session, usable.any(axis=1), len(held)).astype(np.int64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(weights > 0, pulled / np.sqrt(weights), np.nan), repeated


def _spread_scores(days: _Days, error: MeasurementError) -> FloatArray:
    """Within-golfer variance of each session against the club's, as normal scores (m, d).

    Golfers differ in how steady they are, so that a session's variance scatters more than
    chi-square says; the degrees of freedom are lowered to match (method of moments).
    """
    freedom = np.maximum(days.counts - 1, 0.0)
    expected = error.swing_sd**2
    known = (freedom > 0) & (expected > 0)
    ratio = np.divide(days.variance, expected, out=np.ones_like(freedom), where=known)
    chance = 2 / np.where(known, freedom, 1.0)
    surplus = np.where(known, freedom * ((ratio - 1) ** 2 - chance), 0.0).sum(axis=0)
    unlike = np.maximum(surplus / np.maximum(np.where(known, freedom, 0).sum(axis=0), 1), 0.0)
    m = len(days.sessions)
    pooled, total, scatter = (np.zeros((m, freedom.shape[1])) for _ in range(3))
    weight = np.where(known, freedom, 0.0)
    np.add.at(pooled, days.session, weight * ratio)
    np.add.at(total, days.session, weight)
    np.add.at(scatter, days.session, weight**2 * (chance + unlike))
    with np.errstate(divide="ignore", invalid="ignore"):
        return spread_score(pooled / total, np.nan_to_num(2 * total**2 / scatter), 1.0)


def _drift(shift: FloatArray, trusted: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """Moving average of the trusted sessions' scores; a session without one carries it on."""
    m, d = shift.shape
    drift, limit = np.full((m, d), np.nan), np.full(m, np.inf)
    if m < 2:
        return drift, limit
    scores = np.where(trusted[:, None], np.nan_to_num(shift), 0.0)
    charts = [
        ewma_chart(column, centre=0.0, sigma=1.0, sigmas=family_sigmas(EWMA_SIGMAS, d))
        for column in scores.T
    ]
    return np.stack([chart.points for chart in charts], axis=1), charts[0].high


def _reason(
    shift: FloatArray,
    spread: FloatArray,
    held: bool,
    noisy: bool,
    limit: float,
    names: tuple[str, ...],
) -> str:
    parts = []
    for scores, flagged, words in (
        (shift, held, "its golfers were off their other days together"),
        (spread, noisy, "the spread of swings within golfers is unusual"),
    ):
        if flagged:
            worst = int(np.nanargmax(np.abs(scores)))
            parts.append(
                f"{words}: {names[worst]} by {scores[worst]:+.1f} standard errors "
                f"(limit {limit:.1f})"
            )
    return "; ".join(parts)
