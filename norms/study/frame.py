"""From admitted swings and measured speeds to the rows of a study."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.roll import Roll, cohort_rules
from norms.errors import CohortRefused
from norms.records import BallSpeed, CohortDefinition, Golfer
from norms.records.study import StudyFrame
from norms.study.ball_speed import judge_speeds
from norms.swing.catalogue import BY_NAME
from norms.vocabulary import NODES, NODES_PER_PHASE

FloatArray = NDArray[np.float64]

PATTERN_PREFIX: Final = "pattern "
IMPOSSIBLE: Final = "ball speed impossible for the club's speed, or out of any range"
NO_SPEED: Final = "no ball speed measured"
IN_NO_COHORT: Final = "not in the study's cohort"


def study_frame(
    roll: Roll,
    definitions: Sequence[CohortDefinition],
    golfers: Mapping[str, Golfer],
    speeds: Mapping[str, BallSpeed],
    node_times_s: Mapping[str, FloatArray],
    patterns: Mapping[str, Mapping[str, float]] | None = None,
) -> StudyFrame:
    """Rows of a study: admitted swings of its cohort with their speeds, facts and features.

    Parameters
    ----------
    roll : Roll
    definitions : sequence of CohortDefinition
        One for each club of the study.
    golfers : Mapping of str to Golfer
    speeds : Mapping of str to BallSpeed
        By swing.
    node_times_s : Mapping of str to ndarray, shape (301,)
        Seconds of the curves' nodes by swing; a swing without them has no rates.
    patterns : Mapping of str to Mapping of str to float, optional
        By pattern, by swing or else by golfer: membership from 0 to 1. Each pattern becomes a
        feature.

    Raises
    ------
    CohortRefused
        If the cohort holds no swing.
    """
    chosen, left_out = _chosen(roll, definitions)
    rows = roll.rows[chosen]
    if not rows.size:
        names = ", ".join(definition.label for definition in definitions)
        raise CohortRefused(f"{names}: no swing of the store belongs to it", code="empty")
    pool = roll.pool
    swings = tuple(pool.swings[row] for row in rows)
    codes = tuple(pool.golfers[row] for row in rows)
    ball, club = _speeds(swings, speeds)
    judged = judge_speeds(ball, club)
    left_out[NO_SPEED] = int(np.isnan(ball).sum())
    left_out[IMPOSSIBLE] = int(judged.impossible.sum())
    marks, extra = _memberships(patterns or {}, swings, codes)
    curves = pool.curves_cm[rows]
    return StudyFrame(
        swings=swings,
        golfers=codes,
        clubs=tuple(pool.clubs[row] for row in rows),
        labs=tuple(pool.labs[row] for row in rows),
        ball_speed_mps=np.where(judged.impossible, np.nan, ball),
        club_speed_mps=np.where(judged.impossible, np.nan, club),
        golfer_facts=_facts(roll, chosen, codes, golfers),
        feature_names=(*pool.feature_names, *marks),
        feature_units=(*(BY_NAME[n].unit for n in pool.feature_names), *("share" for _ in marks)),
        feature_labels=(*(BY_NAME[n].label for n in pool.feature_names), *marks),
        features=np.column_stack([pool.features[rows], extra]),
        curves_cm=curves,
        rates_cm_s=curve_rates(curves, swings, node_times_s),
        left_out={rule: count for rule, count in left_out.items() if count},
    )


def _chosen(
    roll: Roll, definitions: Sequence[CohortDefinition]
) -> tuple[NDArray[np.bool_], dict[str, int]]:
    chosen = np.zeros(len(roll.rows), dtype=bool)
    for definition in definitions:
        inside = np.ones(len(roll.rows), dtype=bool)
        for excluded in cohort_rules(roll, definition).values():
            inside &= ~excluded
        chosen |= inside
    return chosen, {**roll.attrition, IN_NO_COHORT: int((~chosen).sum())}


def _speeds(
    swings: Sequence[str], speeds: Mapping[str, BallSpeed]
) -> tuple[FloatArray, FloatArray]:
    found = [speeds.get(swing) for swing in swings]
    ball = [np.nan if one is None else one.ball_speed_mps for one in found]
    club = [
        np.nan if one is None or one.club_speed_mps is None else one.club_speed_mps for one in found
    ]
    return np.array(ball), np.array(club)


def _facts(
    roll: Roll, chosen: NDArray[np.bool_], codes: Sequence[str], golfers: Mapping[str, Golfer]
) -> dict[str, FloatArray]:
    def number(value: float | None) -> float:
        return np.nan if value is None else float(value)

    sexes = roll.facts.sexes[chosen]
    return {
        "sex": np.where(sexes == "male", 1.0, np.where(sexes == "female", 0.0, np.nan)),
        "age": roll.facts.ages[chosen],
        "height": np.array([number(golfers[code].height_cm) for code in codes]),
        "mass": np.array([number(golfers[code].mass_kg) for code in codes]),
        "handicap": roll.facts.handicaps[chosen],
    }


def _memberships(
    patterns: Mapping[str, Mapping[str, float]], swings: Sequence[str], codes: Sequence[str]
) -> tuple[tuple[str, ...], FloatArray]:
    columns = [
        [
            members.get(swing, members.get(code, np.nan))
            for swing, code in zip(swings, codes, strict=True)
        ]
        for members in patterns.values()
    ]
    names = tuple(f"{PATTERN_PREFIX}{name}" for name in patterns)
    return names, np.array(columns, dtype=float).reshape(len(names), len(swings)).T


def curve_rates(
    curves_cm: FloatArray, swings: Sequence[str], node_times_s: Mapping[str, FloatArray]
) -> FloatArray | None:
    """Rates of change of curves in cm/s, shape (s, 3, 301), or None where no times are known.

    Each phase by itself, as the step of time changes between phases; at a boundary the mean of
    both sides.
    """
    if any(swing not in node_times_s for swing in swings):
        return None
    times = np.stack([node_times_s[swing] for swing in swings])
    rates = np.zeros(curves_cm.shape)
    step = NODES_PER_PHASE - 1
    for first in range(0, NODES - 1, step):
        phase = slice(first, first + step + 1)
        duration = (times[:, first + step] - times[:, first])[:, np.newaxis, np.newaxis]
        slope = np.gradient(curves_cm[:, :, phase], axis=2, edge_order=2) * step / duration
        shared = np.ones(step + 1)
        shared[0] = 1.0 if first == 0 else 0.5
        shared[-1] = 1.0 if first + step == NODES - 1 else 0.5
        rates[:, :, phase] += slope * shared
    return rates
