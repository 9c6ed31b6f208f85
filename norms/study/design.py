"""The columns that every model of a study shares, and the rows that have them all."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.errors import CohortRefused
from norms.records.study import StudyFrame, StudyPlan
from norms.statistics.within_between import within_and_between

FloatArray = NDArray[np.float64]

FEWEST_GOLFERS: Final = 10
"""Below, a between-golfer effect with any covariate has no degrees of freedom worth the name."""

COVARIATE_WORDS: Final = {
    "sex": "sex",
    "age": "age",
    "height": "height",
    "mass": "mass",
    "handicap": "handicap",
    "club_speed": "club speed",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """The rows of a frame that a plan can use.

    Attributes
    ----------
    rows : ndarray of int, shape (s,)
        Rows of the frame with an outcome and every covariate.
    outcome_mps : ndarray, shape (s,)
    shared : ndarray, shape (s, q)
        Intercept, clubs, covariates; all but the intercept centred.
    golfers, clubs : ndarray of int, shape (s,)
        Codes from 0.
    names : tuple of str
        Of the q columns.
    left_out : dict of str to int
        Swings lost to a missing covariate.
    """

    rows: NDArray[np.int64]
    outcome_mps: FloatArray
    shared: FloatArray
    golfers: NDArray[np.int64]
    clubs: NDArray[np.int64]
    names: tuple[str, ...]
    left_out: dict[str, int]


def design_of(frame: StudyFrame, plan: StudyPlan) -> Design:
    """Shared columns of a plan.

    Raises
    ------
    CohortRefused
        With fewer than ten golfers who have all that the plan adjusts for.
    """
    outcome = frame.ball_speed_mps if plan.outcome == "ball_speed" else frame.club_speed_mps
    wanted: dict[str, FloatArray] = {name: _values(frame, name) for name in plan.covariates}
    kept, left_out = np.isfinite(outcome), {}
    for name, values in wanted.items():
        missing = kept & ~np.isfinite(values)
        if missing.any():
            left_out[f"no {COVARIATE_WORDS[name]} known"] = int(missing.sum())
        kept &= np.isfinite(values)
    rows = np.flatnonzero(kept)
    golfers = np.unique(np.array(frame.golfers)[rows], return_inverse=True)[1]
    count = int(golfers.max(initial=-1)) + 1
    if count < FEWEST_GOLFERS:
        raise CohortRefused(
            f"study {plan.name}: {count} golfers have {plan.outcome.replace('_', ' ')} and all "
            f"covariates, at least {FEWEST_GOLFERS} are needed: widen the cohort, or drop "
            f"covariates ({', '.join(plan.covariates) or 'none'})",
            code="too_few",
        )
    names, columns = _columns(frame, rows, golfers, wanted)
    return Design(
        rows=rows,
        outcome_mps=outcome[rows],
        shared=columns,
        golfers=golfers,
        clubs=np.unique(np.array(frame.clubs)[rows], return_inverse=True)[1],
        names=names,
        left_out=left_out,
    )


def _values(frame: StudyFrame, name: str) -> FloatArray:
    if name == "club_speed":
        return frame.club_speed_mps
    missing = np.full(len(frame.swings), np.nan)
    return frame.golfer_facts.get(name, missing)


def club_columns(clubs: Sequence[str]) -> tuple[list[str], list[FloatArray]]:
    """One centred column for every club but the first."""
    table = np.array(clubs)
    others = sorted(set(clubs))[1:]
    marks = [(table == club).astype(np.float64) for club in others]
    return [f"club {club}" for club in others], [mark - mark.mean() for mark in marks]


def _columns(
    frame: StudyFrame,
    rows: NDArray[np.int64],
    golfers: NDArray[np.int64],
    wanted: dict[str, FloatArray],
) -> tuple[tuple[str, ...], FloatArray]:
    clubs = [frame.clubs[row] for row in rows]
    names, columns = club_columns(clubs)
    for name, values in wanted.items():
        kept = values[rows]
        if name == "club_speed":  # it, too, differs within golfers and between them
            parts = within_and_between(kept[:, np.newaxis], golfers, clubs)
            names += ["club speed within", "club speed between"]
            columns += [parts.within[:, 0], parts.between[:, 0]]
        else:
            names.append(name)
            columns.append(kept - kept.mean())
    return ("intercept", *names), np.column_stack([np.ones(len(rows)), *columns])
