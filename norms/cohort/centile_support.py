"""The support guard: no centile where there are no golfers, and where the nearest ones are."""

import numpy as np
from numpy.typing import NDArray

from norms.records.centiles import CentilePlan, CentileSupport
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST

FloatArray = NDArray[np.float64]

_GRID_STEP = 0.5


def find_support(
    handicaps: FloatArray,
    covariates: FloatArray,
    plan: CentilePlan,
    clusters: NDArray[np.int64] | None = None,
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
    clusters : ndarray of int, shape (n,), optional
        The golfer of each row, where a golfer has several; golfers are counted, not rows.

    Returns
    -------
    CentileSupport
    """
    steps = round((HANDICAP_HIGHEST - HANDICAP_LOWEST) / _GRID_STEP)
    grid = np.linspace(HANDICAP_LOWEST, HANDICAP_HIGHEST, steps + 1)
    groups, member = _groups(covariates)
    away = handicaps - grid[:, None]
    near = np.abs(away) <= plan.window_strokes
    own = np.arange(len(handicaps)) if clusters is None else clusters
    count = _count_golfers(near, own)
    each_side = np.minimum(
        _count_golfers(near & (away <= 0), own), _count_golfers(near & (away >= 0), own)
    )
    enough = (count >= plan.fewest_near) & (each_side >= plan.fewest_each_side)
    by_group = np.stack([_count_golfers(near & (member == u), own) for u in range(len(groups))])
    return CentileSupport(
        handicaps=grid,
        golfers=count,
        groups=groups,
        group_golfers=by_group,
        supported=enough & (by_group >= plan.fewest_each_side),
        window_strokes=plan.window_strokes,
        fewest_near=plan.fewest_near,
        fewest_each_side=plan.fewest_each_side,
    )


def _count_golfers(rows: NDArray[np.bool_], golfer: NDArray[np.int64]) -> NDArray[np.int64]:
    """Different golfers among the marked rows, shape (h,), for marks of shape (h, n)."""
    order = np.argsort(golfer, kind="stable")
    starts = np.flatnonzero(np.diff(golfer[order], prepend=-1))
    return np.asarray(np.logical_or.reduceat(rows[:, order], starts, axis=1).sum(axis=1))


def _groups(covariates: FloatArray) -> tuple[FloatArray, NDArray[np.int64]]:
    """Distinct rows of the 0/1 columns, NaN in other columns, and the group of each golfer."""
    is_group = ((covariates == 0.0) | (covariates == 1.0)).all(axis=0)
    if not is_group.any():
        return np.full((1, covariates.shape[1]), np.nan), np.zeros(len(covariates), dtype=np.int64)
    marks = np.where(is_group, covariates, 0.0)
    groups, member = np.unique(marks, axis=0, return_inverse=True)
    return np.where(is_group, groups, np.nan), member.reshape(-1)


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
    each = support.fewest_each_side
    need = (
        f"a centile needs {support.fewest_near} golfers within {support.window_strokes:g} strokes, "
        f"{each} of them on each side"
        + (f" and {each} of the same group" if len(covariates) else "")
    )
    found = f"no centile at handicap {handicap_text(handicap)}: {need}; {near} are near"
    ranges = supported_ranges(support, covariates)
    if not ranges:
        return f"{found}; no handicap has enough."
    low, high = min(ranges, key=lambda ends: max(ends[0] - handicap, handicap - ends[1]))
    return (
        f"{found}; the nearest range with enough is {handicap_text(low)} to {handicap_text(high)}."
    )


def handicap_text(handicap: float) -> str:
    """Handicap as golfers write it: -2.4 is "+2.4"."""
    return f"+{-handicap:.1f}" if handicap < 0 else f"{handicap:.1f}"
