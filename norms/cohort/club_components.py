"""Components of one club's golfers, with what is noise, level and handicap in their terms."""

from collections import Counter
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.club_swings import CohortSwings
from norms.cohort.profile_parts import QUANTITIES, quantities_of
from norms.errors import CohortRefused
from norms.records import Cohort
from norms.records.components import Components, HandicapTrend
from norms.statistics.components import (
    components_needed,
    equal_axis_weights,
    fit_components,
    trapezoid_weights,
)
from norms.statistics.covariances import positive_part
from norms.statistics.one_thread import on_one_thread
from norms.statistics.variance_components import fit_nested
from norms.vocabulary import NODES

FloatArray = NDArray[np.float64]

SHARE_HELD: Final = 0.90
MOST_COMPONENTS: Final = 6
GOLFERS_PER_COMPONENT: Final = 10
FEWEST_GOLFERS: Final = 20
FEWEST_WITH_HANDICAP: Final = 30
RULE: Final = (
    f"the fewest that hold {100 * SHARE_HELD:.0f} % of the weighted variance between golfers, at "
    f"most {MOST_COMPONENTS} and at most one for every {GOLFERS_PER_COMPONENT} golfers"
)


@on_one_thread
def fit_club_components(
    cohort: Cohort, swings: CohortSwings, handicaps: Mapping[str, float]
) -> Components:
    """Components of golfers' mean curves, frozen.

    Parameters
    ----------
    cohort : Cohort
        A club's golfers of every level.
    swings : CohortSwings
        Theirs.
    handicaps : Mapping of str to float
        By golfer, for those who have one.

    Returns
    -------
    Components

    Raises
    ------
    CohortRefused
        If there are fewer than 20 golfers, or an axis does not vary.
    """
    n = len(cohort.golfers)
    if n < FEWEST_GOLFERS:
        raise CohortRefused(
            f"{cohort.definition.label}: {n} golfers; components need {FEWEST_GOLFERS}",
            code="too_few_golfers",
        )
    weights = trapezoid_weights(NODES)
    try:
        axis_weights = equal_axis_weights(cohort.curves_cm, weights)
    except ValueError:
        raise CohortRefused(
            f"{cohort.definition.label}: all golfers agree on one axis; no components", code="flat"
        ) from None
    basis = fit_components(cohort.curves_cm, axis_weights, weights)
    kept = components_needed(
        basis.eigenvalues, basis.total, SHARE_HELD, min(MOST_COMPONENTS, n // GOLFERS_PER_COMPONENT)
    )
    functions = basis.functions[:kept]
    of_golfers = basis.scores(cohort.curves_cm)[:, :kept]
    of_swings = basis.scores(swings.curves_cm)[:, :kept]
    day, swing = score_noise(of_swings, swings.golfer, swings.session)
    levels, shifts = _level_shifts(of_golfers, golfer_levels(swings))
    part_day, part_swing = _part_noise(cohort, swings)
    return Components(
        club=cohort.definition.club,
        golfers=n,
        swings=int(cohort.swing_counts.sum()),
        rule=RULE,
        held=float(basis.eigenvalues[:kept].sum() / basis.total),
        mean_cm=basis.mean,
        axis_weights=axis_weights,
        node_weights=weights,
        functions=functions,
        eigenvalues=basis.eigenvalues[:kept],
        day_covariance=day,
        swing_covariance=swing,
        swings_per_golfer=float(1.0 / np.mean(1.0 / cohort.swing_counts)),
        levels=levels,
        level_shifts=shifts,
        part_names=QUANTITIES,
        part_day_sd_cm=part_day,
        part_swing_sd_cm=part_swing,
        trend=_trend(cohort, of_golfers, handicaps),
    )


def golfer_levels(swings: CohortSwings) -> list[str]:
    """Level of each golfer: that of most of their swings, the first by name in a tie."""
    levels = []
    for golfer in range(int(swings.golfer.max()) + 1):
        counts = Counter(swings.levels[swings.golfer == golfer].tolist())
        levels.append(min(counts, key=lambda level: (-counts[level], level)))
    return levels


def score_noise(
    scores: FloatArray, golfer: NDArray[np.int64], session: NDArray[np.int64]
) -> tuple[FloatArray, FloatArray]:
    """Covariance of days about their golfer, and of swings about their day, by moments.

    Parameters
    ----------
    scores : ndarray, shape (s, c)
    golfer, session : ndarray of int, shape (s,)

    Returns
    -------
    day, swing : ndarray, shape (c, c)
        Positive semidefinite; zero where nothing was repeated. Where no day has two swings, what
        differs between days is the swing's.
    """
    s, c = scores.shape
    sizes = np.bincount(session).astype(float)
    means = _group_means(scores, session)
    owner = np.zeros(len(sizes), dtype=np.int64)
    owner[session] = golfer
    within = scores - means[session]
    swing_freedom = s - np.count_nonzero(sizes)
    swing = within.T @ within / swing_freedom if swing_freedom else np.zeros((c, c))
    between = means - _group_means(scores, golfer)[owner]
    day_freedom = len(sizes) - len(np.unique(golfer))
    if not day_freedom:
        return np.zeros((c, c)), swing
    totals = np.bincount(owner, weights=sizes)
    size = (s - (sizes**2 / totals[owner]).sum()) / day_freedom
    day = (between.T * sizes) @ between / day_freedom
    if not swing_freedom:
        return np.zeros((c, c)), day
    return positive_part((day - swing) / size), swing


def _group_means(values: FloatArray, group: NDArray[np.int64]) -> FloatArray:
    sums = np.zeros((int(group.max()) + 1, values.shape[1]))
    np.add.at(sums, group, values)
    means: FloatArray = sums / np.bincount(group)[:, None]
    return means


def _level_shifts(scores: FloatArray, levels: list[str]) -> tuple[tuple[str, ...], FloatArray]:
    """Mean scores by level, each drawn toward none as far as its golfers are few."""
    names = sorted(set(levels))
    place = np.array([names.index(level) for level in levels])
    counts = np.bincount(place).astype(float)
    means = _group_means(scores, place)
    within = ((scores - means[place]) ** 2).sum(axis=0) / max(len(scores) - len(names), 1)
    if len(names) < 2:
        return tuple(names), np.zeros_like(means)
    size = (counts.sum() - (counts**2).sum() / counts.sum()) / (len(names) - 1)
    spread = (counts[:, None] * means**2).sum(axis=0) / (len(names) - 1)
    between = np.maximum((spread - within) / size, 0.0)
    kept = between / np.maximum(between + within / counts[:, None], 1e-300)
    return tuple(names), means * kept


def _part_noise(cohort: Cohort, swings: CohortSwings) -> tuple[FloatArray, FloatArray]:
    """Spread of the map's quantities between days and between swings of a golfer, each (w,)."""
    quantities = quantities_of(swings.curves_cm - cohort.curves_cm.mean(axis=0))
    fitted = fit_nested(quantities, swings.golfer, swings.session)
    _, day, swing = np.sqrt(fitted.variances)
    return np.where(fitted.inner_repeated, day, np.nan), np.where(
        fitted.residual_repeated, swing, np.nan
    )


def _trend(
    cohort: Cohort, scores: FloatArray, handicaps: Mapping[str, float]
) -> HandicapTrend | None:
    known = np.array([handicaps.get(code, np.nan) for code in cohort.golfers])
    has = np.isfinite(known)
    if has.sum() < FEWEST_WITH_HANDICAP or np.ptp(known[has]) <= 0:
        return None
    centre, scale = float(known[has].mean()), float(known[has].std())
    x = (known[has] - centre) / scale
    design = np.stack([np.ones_like(x), x, x**2], axis=1)
    coefficients = np.linalg.lstsq(design, scores[has], rcond=None)[0]
    left = scores[has] - design @ coefficients
    low, high = np.sort(known[has])[[4, -5]]
    return HandicapTrend(
        golfers=int(has.sum()),
        low=float(low),
        high=float(high),
        centre=centre,
        scale=scale,
        coefficients=coefficients,
        covariance=left.T @ left / (len(left) - 3),
    )
