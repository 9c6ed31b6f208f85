"""The support guard: no centile where there are no golfers, and where the nearest ones are."""

import numpy as np
from numpy.typing import NDArray

from norms.records.centiles import CentilePlan, CentileSupport
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST

FloatArray = NDArray[np.float64]

_GRID_STEP = 0.5


def find_support(
    handicaps: FloatArray, covariates: FloatArray, plan: CentilePlan
) -> CentileSupport:
    """Count golfers around every handicap, in all and by group.

    A handicap is supported where the window holds enough golfers, on both sides of it, and
    enough of the same group.

    Parameters
    ----------
    handicaps : ndarray, shape (n,)
    covariates : ndarray, shape (n, g)
        Columns of only 0 and 1 make groups.
    plan : CentilePlan

    Returns
    -------
    CentileSupport
    """
    steps = round((HANDICAP_HIGHEST - HANDICAP_LOWEST) / _GRID_STEP)
    grid = np.linspace(HANDICAP_LOWEST, HANDICAP_HIGHEST, steps + 1)
    marks = np.where(_is_group(covariates), covariates, np.nan)
    groups, member = np.unique(marks, axis=0, return_inverse=True, equal_nan=True)
    if not covariates.shape[1]:
        groups, member = np.empty((1, 0)), np.zeros(len(handicaps), dtype=np.int64)
    away = handicaps - grid[:, None]
    near = np.abs(away) <= plan.window_strokes
    each_side = np.minimum((near & (away <= 0)).sum(axis=1), (near & (away >= 0)).sum(axis=1))
    enough = (near.sum(axis=1) >= plan.fewest_near) & (each_side >= plan.fewest_each_side)
    by_group = np.stack([near[:, member == u].sum(axis=1) for u in range(len(groups))])
    return CentileSupport(
        handicaps=grid,
        golfers=near.sum(axis=1),
        groups=groups,
        group_golfers=by_group,
        supported=enough & (by_group >= plan.fewest_each_side),
        window_strokes=plan.window_strokes,
        fewest_near=plan.fewest_near,
        fewest_each_side=plan.fewest_each_side,
    )


def _is_group(covariates: FloatArray) -> NDArray[np.bool_]:
    """Which columns hold only 0 and 1."""
    return np.asarray(((covariates == 0.0) | (covariates == 1.0)).all(axis=0))


def supported_ranges(
    support: CentileSupport, covariates: FloatArray
) -> tuple[tuple[float, float], ...]:
    """Ranges of handicap with centiles for one row of covariate values, rising."""
    row = _group_row(support, covariates)
    if row is None:
        return ()
    inside = np.concatenate([[False], support.supported[row], [False]])
    starts = np.flatnonzero(~inside[:-1] & inside[1:])
    ends = np.flatnonzero(inside[:-1] & ~inside[1:]) - 1
    grid = support.handicaps
    return tuple((float(grid[a]), float(grid[b])) for a, b in zip(starts, ends, strict=True))


def _group_row(support: CentileSupport, covariates: FloatArray) -> int | None:
    matches = (np.isnan(support.groups) | (support.groups == covariates)).all(axis=1)
    return int(np.argmax(matches)) if matches.any() else None


def is_supported(
    support: CentileSupport, handicaps: FloatArray, covariates: FloatArray
) -> NDArray[np.bool_]:
    """Whether centiles are shown at each handicap, shape (h,), for one row of covariates."""
    within = np.zeros(len(handicaps), dtype=bool)
    for low, high in supported_ranges(support, covariates):
        within |= (handicaps >= low) & (handicaps <= high)
    return within


def golfers_near(support: CentileSupport, handicaps: FloatArray) -> NDArray[np.int64]:
    """Golfers within the window of the grid's handicap nearest to each, shape (h,)."""
    place = np.rint((handicaps - support.handicaps[0]) / _GRID_STEP).astype(np.int64)
    return np.asarray(support.golfers[np.clip(place, 0, len(support.handicaps) - 1)])


def why_unsupported(support: CentileSupport, handicap: float, covariates: FloatArray) -> str:
    """One sentence for a person: how many golfers are near, and where enough are."""
    near = int(golfers_near(support, np.array([handicap]))[0])
    need = (
        f"a centile needs {support.fewest_near} golfers within {support.window_strokes:g} strokes, "
        f"with {support.fewest_each_side} on each side and {support.fewest_each_side} of the same "
        f"group"
    )
    found = f"no centile at handicap {handicap_text(handicap)}: {need}; {near} are near"
    ranges = supported_ranges(support, covariates)
    if not ranges:
        return f"{found}; no handicap has enough."
    low, high = min(ranges, key=lambda ends: max(ends[0] - handicap, handicap - ends[1]))
    return f"{found}; the nearest range with enough is {handicap_text(low)} to {handicap_text(high)}."


def handicap_text(handicap: float) -> str:
    """Handicap as golfers write it: -2.4 is "+2.4"."""
    return f"+{-handicap:.1f}" if handicap < 0 else f"{handicap:.1f}"
