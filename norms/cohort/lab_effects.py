"""How two labs differ, and whether their swings may be put together.

Where enough golfers were measured in both labs, their differences give shift and scale. Where
the labs have different golfers, a mixed model that allows for level compares them; then a
difference of golfers cannot be told from one of labs, and nothing is ever adjusted on that ground.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from norms.errors import CohortRefused
from norms.records.cohort import SwingPool
from norms.records.lab_quality import LabEffect, Verdict
from norms.records.measurement_error import MeasurementError
from norms.statistics.variance_components import fit_nested

FloatArray = NDArray[np.float64]

FEWEST_IN_BOTH: Final = 8
"""Golfers in both labs below which they are not compared by the same golfers."""
ALLOWED_SHIFT_SDS: Final = 0.25
"""Largest shift let pass, in standard deviations of single swings of different golfers (golfer,
day and swing together): the bias goal for sharing reference limits in laboratory medicine
(Gowans et al. 1988, Scand J Clin Lab Invest 48:757; from memory)."""
ALLOWED_SCALE: Final = 1.2
"""Largest ratio of scales let pass, either way: our choice, not a published limit."""


def lab_effect(
    pool: SwingPool,
    lab: str,
    reference: str,
    error: MeasurementError,
    levels: Sequence[str] | None = None,
    confidence: float = 0.95,
) -> LabEffect:
    """Shift and scale of a lab against a reference lab, with a verdict for each feature.

    Parameters
    ----------
    pool : SwingPool
    lab, reference : str
    error : MeasurementError
        Of the club to be compared.
    levels : sequence of str, optional
        Level of the golfer of every swing of the pool on its day; used where too few golfers were
        in both labs.
    confidence : float

    Returns
    -------
    LabEffect

    Raises
    ------
    CohortRefused
        If a lab has fewer than two golfers, or too few golfers were in both and no levels are
        given.
    """
    rows = np.flatnonzero(
        (np.array(pool.clubs) == error.club) & np.isin(pool.labs, (lab, reference))
    )
    golfer, other = np.array(pool.golfers)[rows], np.array(pool.labs)[rows] == lab
    features = pool.features[rows]
    both = np.intersect1d(golfer[other], golfer[~other])
    sizes = [len(np.unique(golfer[which])) for which in (~other, other)]
    if min(sizes) < 2:
        raise CohortRefused(
            f"labs {reference} and {lab}, {error.club}: {sizes[0]} and {sizes[1]} golfers; "
            "each lab needs two to be compared",
            code="lab_too_small",
        )
    same = len(both) >= FEWEST_IN_BOTH
    if same:
        estimates = _by_same_golfers(features, golfer, other, both, error, confidence)
    elif levels is not None:
        days = np.array([f"{pool.recorded_on[row]} {pool.labs[row]}" for row in rows])
        level = np.array(levels)[rows]
        estimates = _by_different_golfers(features, golfer, other, days, level, confidence)
    else:
        raise CohortRefused(
            f"labs {reference} and {lab}, {error.club}: only {len(both)} golfers in both, "
            f"{FEWEST_IN_BOTH} are needed; give the golfers' levels to compare different golfers",
            code="labs_not_linked",
        )
    total = np.sqrt(
        error.golfer_sd**2 + np.nan_to_num(error.day_sd) ** 2 + np.nan_to_num(error.swing_sd) ** 2
    )
    allowed = ALLOWED_SHIFT_SDS * total
    return LabEffect(
        lab=lab,
        reference=reference,
        club=error.club,
        method="same_golfers" if same else "different_golfers",
        golfers=len(both) if same else sum(sizes) - len(both),
        confidence=confidence,
        feature_names=pool.feature_names,
        **estimates,
        allowed_shift=allowed,
        allowed_scale=ALLOWED_SCALE,
        verdicts=tuple(
            _verdict((low, high), (scale_low, scale_high), limit, same)
            for low, high, scale_low, scale_high, limit in zip(
                estimates["shift_low"],
                estimates["shift_high"],
                estimates["scale_low"],
                estimates["scale_high"],
                allowed,
                strict=True,
            )
        ),
    )


def _verdict(
    shift: tuple[float, float], scale: tuple[float, float], allowed: float, same_golfers: bool
) -> Verdict:
    """Alike if the intervals are allowed; adjusted only if what would remain is allowed.

    A scale is left alone where its interval is allowed, or holds 1 and is no wider than an
    allowed one. What cannot be told (NaN) passes no comparison and is kept apart.
    """
    scale_known = scale[1] / scale[0] <= ALLOWED_SCALE**2
    scale_passes = scale[0] >= 1 / ALLOWED_SCALE and scale[1] <= ALLOWED_SCALE
    scale_kept = scale_passes or (scale_known and scale[0] <= 1.0 <= scale[1])
    if -allowed <= shift[0] and shift[1] <= allowed and scale_kept:
        return "alike"
    shift_known = (shift[1] - shift[0]) / 2 <= allowed
    if not (same_golfers and shift_known and scale_known):
        return "apart"
    return "adjust_shift" if scale_kept else "adjust_shift_and_scale"


def _golfer_means(
    values: FloatArray, golfer: NDArray[np.str_], chosen: NDArray[np.str_]
) -> tuple[FloatArray, FloatArray]:
    """Mean and count of each chosen golfer's finite values, shapes (n, d)."""
    code = np.searchsorted(chosen, golfer)
    seen = np.isfinite(values)
    total, count = (np.zeros((len(chosen), values.shape[1])) for _ in range(2))
    np.add.at(total, code, np.where(seen, values, 0.0))
    np.add.at(count, code, seen)
    return np.divide(total, count, out=np.full_like(total, np.nan), where=count > 0), count


def _by_same_golfers(
    features: FloatArray,
    golfer: NDArray[np.str_],
    other: NDArray[np.bool_],
    both: NDArray[np.str_],
    error: MeasurementError,
    confidence: float,
) -> dict[str, FloatArray]:
    """Mean difference, and the ratio of the golfers' true spreads, by leaving golfers out."""
    linked = np.isin(golfer, both)
    x, x_count = _golfer_means(features[linked & ~other], golfer[linked & ~other], both)
    y, y_count = _golfer_means(features[linked & other], golfer[linked & other], both)
    columns = []
    for column in range(features.shape[1]):
        pair = np.isfinite(x[:, column]) & np.isfinite(y[:, column])
        noise = [
            np.nan_to_num(error.day_sd[column]) ** 2
            + error.swing_sd[column] ** 2 / count[pair, column]
            for count in (x_count, y_count)
        ]
        columns.append(_paired(x[pair, column], y[pair, column], noise[0], noise[1], confidence))
    names = ("centre", "shift", "shift_low", "shift_high", "scale", "scale_low", "scale_high")
    return dict(zip(names, np.array(columns).T.reshape(len(names), -1), strict=True))


def _paired(
    x: FloatArray, y: FloatArray, x_noise: FloatArray, y_noise: FloatArray, confidence: float
) -> tuple[float, ...]:
    """Centre, shift with its t interval, scale with the interval of Pitman and Morgan.

    Pitman 1939, Biometrika 31:9, and Morgan 1939, Biometrika 31:13: exact for the ratio of
    spreads of paired normal values, whatever their correlation.
    """
    n = len(x)
    if n < FEWEST_IN_BOTH:
        return (np.nan,) * 7
    difference = y - x
    shift = difference.mean()
    reach = stats.t.ppf((1 + confidence) / 2, n - 1) * difference.std(ddof=1) / np.sqrt(n)
    log_scale = _log_scale(x, y, x_noise, y_noise)
    unlike = (1 - np.corrcoef(x, y)[0, 1] ** 2) / (n - 2)
    scale_reach = np.arccosh(1 + 2 * unlike * stats.t.ppf((1 + confidence) / 2, n - 2) ** 2) / 2
    limits = np.exp([log_scale, log_scale - scale_reach, log_scale + scale_reach])
    return (x.mean(), shift, shift - reach, shift + reach, *limits)


def _log_scale(x: FloatArray, y: FloatArray, x_noise: FloatArray, y_noise: FloatArray) -> float:
    """Log slope of the line through points that err in both directions (Deming regression).

    Deming's slope b for error variances in the ratio ``b**2 r``, as a lab that stretches its
    values stretches their error too; ``r`` is the ratio that the counts of swings give. His
    equation then is ``r xx b**2 + (1 - r) xy b - yy = 0``; for r = 1, b is the ratio of spreads.
    """
    xx, yy, xy = x.var(ddof=1), y.var(ddof=1), np.cov(x, y)[0, 1]
    r = y_noise.mean() / x_noise.mean()
    root = np.sqrt(((1 - r) * xy) ** 2 + 4 * r * xx * yy)
    return float(np.log(((r - 1) * xy + root) / (2 * r * xx)))


def _by_different_golfers(
    features: FloatArray,
    golfer: NDArray[np.str_],
    other: NDArray[np.bool_],
    days: NDArray[np.str_],
    level: NDArray[np.str_],
    confidence: float,
) -> dict[str, FloatArray]:
    """Shift from a mixed model with lab and level fixed; scale from the labs' own spreads."""
    names, code = np.unique(level, return_inverse=True)
    by_level = np.eye(len(names))[code]
    joint = fit_nested(features, golfer, days, np.column_stack([other, by_level]))
    freedom = np.maximum(joint.outer_units - joint.fixed.shape[0], 1)
    shift = joint.fixed[0]
    reach = stats.t.ppf((1 + confidence) / 2, freedom) * np.sqrt(joint.fixed_covariance[0, 0])
    logs, spreads = [], []
    for which in (~other, other):
        fit = fit_nested(features[which], golfer[which], days[which], by_level[which])
        total = np.nansum(fit.variances, axis=0)
        logs.append(np.log(total) / 2)
        spreads.append(np.nansum(fit.covariance, axis=(0, 1)) / total**2 / 4)
    log_scale = logs[1] - logs[0]
    scale_reach = stats.norm.ppf((1 + confidence) / 2) * np.sqrt(spreads[0] + spreads[1])
    return {
        "centre": np.nanmean(
            _golfer_means(features[~other], golfer[~other], np.unique(golfer[~other]))[0], axis=0
        ),
        "shift": shift,
        "shift_low": shift - reach,
        "shift_high": shift + reach,
        "scale": np.exp(log_scale),
        "scale_low": np.exp(log_scale - scale_reach),
        "scale_high": np.exp(log_scale + scale_reach),
    }
