"""Sessions of a lab on the charts of one object, or person, measured at every session."""

from datetime import date

import numpy as np

from norms.errors import CohortRefused
from norms.records import FloatArray, LabControl, SwingPool
from norms.statistics.control_charts import (
    EWMA_SIGMAS,
    ewma_chart,
    family_sigmas,
    individuals_chart,
)

FEWEST_SESSIONS = 8
"""Sessions below which limits from moving ranges rest on too little: our choice."""


def object_control(
    pool: SwingPool, lab: str, code: str, club: str, sigmas: float = 3.0
) -> LabControl:
    """Chart the sessions of one lab by a repeated object.

    Parameters
    ----------
    pool : SwingPool
    lab, code, club : str
        ``code`` stands where a golfer's would.
    sigmas : float
        Limit of a single chart.

    Returns
    -------
    LabControl
        ``shift`` is the session's mean against the mean of all sessions, in standard deviations
        from the mean moving range; ``spread`` is NaN. A feature that a session lacks, or that
        never varies, is not judged.

    Raises
    ------
    CohortRefused
        If the object was measured at fewer than 8 sessions of the lab.
    """
    rows = [
        row
        for row, place in enumerate(zip(pool.labs, pool.golfers, pool.clubs, strict=True))
        if place == (lab, code, club)
    ]
    days = np.array([pool.recorded_on[row].toordinal() for row in rows], dtype=np.int64)
    when, session = np.unique(days, return_inverse=True)
    if len(when) < FEWEST_SESSIONS:
        raise CohortRefused(
            f"object {code}, {lab}, {club}: measured at {len(when)} sessions; {FEWEST_SESSIONS} "
            "are needed to chart a lab by it",
            code="object_too_few",
        )
    means = _session_means(pool.features[rows], session, len(when))
    limit = family_sigmas(sigmas, means.shape[1])
    shift = np.column_stack([_shift(column) for column in means.T])
    out = np.asarray((np.abs(np.nan_to_num(shift)) > limit).any(axis=1))
    scores = np.where(out[:, None], 0.0, np.nan_to_num(shift))
    moving = family_sigmas(EWMA_SIGMAS, means.shape[1])
    charts = [ewma_chart(column, centre=0.0, sigma=1.0, sigmas=moving) for column in scores.T]
    drift = np.column_stack([chart.points for chart in charts])
    return LabControl(
        lab=lab,
        club=club,
        basis=code,
        feature_names=pool.feature_names,
        sessions=tuple(date.fromordinal(int(day)) for day in when),
        repeated_golfers=np.ones(len(when), dtype=np.int64),
        shift=shift,
        drift=drift,
        spread=np.full_like(shift, np.nan),
        limit=limit,
        drift_limit=charts[0].high,
        out=out,
        drifting=np.asarray((np.abs(drift) > charts[0].high[:, None]).any(axis=1)),
        reasons=tuple(
            _reason(row, code, limit, pool.feature_names) if off else ""
            for row, off in zip(shift, out, strict=True)
        ),
    )


def _session_means(values: FloatArray, session: np.ndarray, count: int) -> FloatArray:
    seen = np.isfinite(values)
    total, number = np.zeros((count, values.shape[1])), np.zeros((count, values.shape[1]))
    np.add.at(total, session, np.where(seen, values, 0.0))
    np.add.at(number, session, seen)
    return np.divide(total, number, out=np.full_like(total, np.nan), where=number > 0)


def _shift(means: FloatArray) -> FloatArray:
    """Means in standard deviations from their own chart's centre; NaN where not judged."""
    shift, seen = np.full_like(means, np.nan), np.isfinite(means)
    if np.count_nonzero(seen) >= FEWEST_SESSIONS:
        chart = individuals_chart(means[seen])
        if chart.sigma > 0:
            shift[seen] = (chart.points - chart.centre) / chart.sigma
    return shift


def _reason(shift: FloatArray, code: str, limit: float, names: tuple[str, ...]) -> str:
    worst = int(np.nanargmax(np.abs(shift)))
    return (
        f"the repeated object {code} was off its other days: {names[worst]} by "
        f"{shift[worst]:+.1f} standard deviations (limit {limit:.1f})"
    )
