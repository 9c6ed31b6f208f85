"""The noise budget of a club: what of a feature is golfer, day, swing and lab.

Golfers are random, so are their days and swings; labs are few and enter as fixed shifts, so that
a lab's own offset is not taken for a golfer's. The between-lab variance is then estimated from
those shifts.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.errors import CohortRefused, Notice
from norms.records.cohort import SwingPool
from norms.records.measurement_error import Estimates, MeasurementError
from norms.statistics.leave_one_out import (
    correlation_interval,
    error_interval,
    without_each_outer,
)
from norms.statistics.reliability import (
    FloatArray,
    individuality_index,
    smallest_detectable_change,
)
from norms.statistics.variance_components import NestedComponents, correlation, fit_nested
from norms.vocabulary import NODES

GOLFER, DAY, SWING = 0, 1, 2
FEWEST_GOLFERS: Final = 2
FEW_GOLFERS_OF_SEVERAL_DAYS: Final = 10
"""Below this many the day's part is shown with a warning: our choice, not a published limit."""


def measurement_error(pool: SwingPool, club: str, confidence: float = 0.95) -> MeasurementError:
    """Variance components, reliability and smallest changes of one club's swings.

    Parameters
    ----------
    pool : SwingPool
        Swings of any clubs; those of ``club`` are used.
    club : str
    confidence : float
        Of intervals and smallest changes.

    Returns
    -------
    MeasurementError
        A golfer with a single swing tells of the spread between golfers only.

    Raises
    ------
    CohortRefused
        If fewer than two golfers swung the club, or no golfer swung it twice.
    """
    rows = np.flatnonzero(np.array(pool.clubs) == club)
    golfer = np.array(pool.golfers)[rows]
    lab = np.array(pool.labs)[rows]
    day = np.array([f"{pool.recorded_on[row].isoformat()} {pool.labs[row]}" for row in rows])
    _refuse_what_has_no_repeats(club, golfer)

    labs, lab_code = np.unique(lab, return_inverse=True)
    by_lab = np.eye(len(labs))[lab_code]
    features = fit_nested(pool.features[rows], golfer, day, by_lab)
    nodes = fit_nested(pool.curves_cm[rows].reshape(len(rows), 3 * NODES), golfer, day, by_lab)
    sessions = np.unique(np.stack([golfer, day]), axis=1)[0]
    several = int((np.unique(sessions, return_counts=True)[1] > 1).sum())
    golfer_sd, day_sd, swing_sd = np.sqrt(features.variances)
    node_sd = np.sqrt(nodes.variances).reshape(3, 3, NODES)
    # No law is assumed for golfers: some are steadier than others, and shapes are skewed.
    without = without_each_outer(pool.features[rows], golfer, day, features, by_lab)
    within, between = _errors(features, without, confidence)
    return MeasurementError(
        club=club,
        confidence=confidence,
        golfers=len(np.unique(golfer)),
        days=len(np.unique(np.stack([golfer, day]), axis=1).T),
        swings=len(rows),
        golfers_of_several_days=several,
        labs=tuple(labs.tolist()),
        feature_names=pool.feature_names,
        feature_golfers=features.outer_units,
        feature_days=features.inner_units,
        feature_swings=features.observations,
        golfer_sd=golfer_sd,
        day_sd=day_sd,
        swing_sd=np.where(features.residual_repeated, swing_sd, np.nan),
        lab_sd=_lab_sd(features),
        icc_within=_correlation(features, without, confidence, same_inner=True),
        icc_between=_correlation(features, without, confidence),
        sem_within=within,
        sem_between=between,
        sdc_within=smallest_detectable_change(within.value, confidence),
        sdc_between=smallest_detectable_change(between.value, confidence),
        individuality=individuality_index(between.value, golfer_sd),
        golfer_node_sd_cm=node_sd[GOLFER],
        day_node_sd_cm=node_sd[DAY],
        swing_node_sd_cm=np.where(
            nodes.residual_repeated.reshape(3, NODES), node_sd[SWING], np.nan
        ),
        notices=_notices(features, pool.feature_names, several),
    )


def _refuse_what_has_no_repeats(club: str, golfer: NDArray[np.str_]) -> None:
    swings = np.unique(golfer, return_counts=True)[1]
    if len(swings) < FEWEST_GOLFERS or swings.max() < 2:
        raise CohortRefused(
            f"measurement error, {club}: {swings.sum()} swings of {len(swings)} golfers; at least "
            f"{FEWEST_GOLFERS} golfers are needed and one of them must have swung twice",
            code="no_repeats",
        )


def _errors(
    components: NestedComponents, without: FloatArray, confidence: float
) -> tuple[Estimates, Estimates]:
    """Standard errors of one swing within a session and between sessions."""
    _, day, swing = components.variances
    within = np.where(components.residual_repeated, swing, np.nan)
    # Without two swings on any day the residual already holds the day.
    between = np.where(components.inner_repeated, np.nan_to_num(day) + swing, np.nan)
    within_limits = error_interval(components, without, confidence, same_inner=True)
    between_limits = error_interval(components, without, confidence)
    return _roots(within, *within_limits), _roots(between, *between_limits)


def _roots(variance: FloatArray, low: FloatArray, high: FloatArray) -> Estimates:
    return Estimates(value=np.sqrt(variance), low=np.sqrt(low), high=np.sqrt(high))


def _correlation(
    components: NestedComponents,
    without: FloatArray,
    confidence: float,
    *,
    same_inner: bool = False,
) -> Estimates:
    value = correlation(components, confidence, same_inner=same_inner)[0]
    low, high = correlation_interval(components, without, confidence, same_inner=same_inner)
    return Estimates(value=value, low=low, high=high)


def _lab_sd(components: NestedComponents) -> FloatArray:
    """Between-lab standard deviation: spread of the labs' shifts beyond their sampling error."""
    result = np.full(components.fixed.shape[1], np.nan)
    for column, shifts in enumerate(components.fixed.T):
        seen = np.flatnonzero(np.isfinite(shifts))
        if len(seen) < 2:
            continue
        centring = np.eye(len(seen)) - 1.0 / len(seen)
        sampling = components.fixed_covariance[seen[:, None], seen, column]
        spread = shifts[seen] @ centring @ shifts[seen] - np.trace(centring @ sampling)
        result[column] = np.sqrt(max(0.0, spread / (len(seen) - 1)))
    return result


def _notices(
    components: NestedComponents, names: tuple[str, ...], several_days: int
) -> tuple[Notice, ...]:
    """Say what came out at zero, what cannot be told, and what rests on few golfers."""
    golfer, day, _ = components.variances
    repeated = components.residual_repeated | components.inner_repeated
    told = (
        ("golfers_alike", "spread between golfers at zero", golfer == 0),
        ("day_at_zero", "spread between days not above that of swings, set to zero", day == 0),
        (
            "day_unknown",
            "no golfer on two days: change between sessions cannot be judged",
            ~components.inner_repeated & repeated,
        ),
        (
            "swing_unknown",
            "one swing a day: swing and day cannot be told apart",
            ~components.residual_repeated & repeated,
        ),
        ("no_repeats", "no golfer has it twice: no error can be given", ~repeated),
        ("not_converged", "the fit did not settle: do not use", repeated & ~components.converged),
    )
    notices = [
        Notice(
            code=code,
            message=f"{sentence} ({', '.join(np.array(names)[which])})",
            severity="warning" if code == "not_converged" else "note",
        )
        for code, sentence, which in told
        if which.any()
    ]
    if 0 < several_days < FEW_GOLFERS_OF_SEVERAL_DAYS:
        notices.append(
            Notice(
                code="few_days",
                message=f"only {several_days} golfers were measured on two days or more: "
                "the day's part is a rough guess",
            )
        )
    return tuple(notices)
