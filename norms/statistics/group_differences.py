"""Do two groups of golfers differ in any of many quantities? One permutation test for all.

Quantities of unequal spread, unequal groups and missing values are put on one scale: Welch's t,
or the paired t, turned into the standard normal deviate of the same tail. Its largest absolute
value over everything is compared with that under relabelled golfers, so that all quantities
together keep to one level. A studentised statistic keeps the level also where groups differ in
spread (Janssen 1997, Stat. Probab. Lett. 36:9; Chung and Romano 2013, Ann. Stat. 41:484).
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.statistics.permutation import (
    EXACT_LIMIT,
    RELABELLINGS,
    all_groups,
    all_signs,
    random_groups,
    random_signs,
)

FloatArray = NDArray[np.float64]
Deviates = Callable[[FloatArray], FloatArray]

FEWEST: Final = 2
LEAST_SPREAD: Final = 1e-12
"""Error variance in squared spreads of the quantity: below, it is rounding."""
_TIE: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Differences:
    """Result of the test.

    Attributes
    ----------
    deviates : tuple of ndarray
        Of each table's quantities, positive where the first group is higher; NaN where nobody
        differs from anybody or a group has fewer than two values.
    p_values : tuple of ndarray
        The chance, were labels exchangeable, of a largest deviate over all tables as large as
        this one: adjusted for having looked everywhere.
    critical : float
        Deviate that the largest exceeds in at most the share ``level`` of relabellings.
    relabellings : int
        Relabellings counted, the observed one among them.
    exact : bool
        True where all were enumerated.
    """

    deviates: tuple[FloatArray, ...]
    p_values: tuple[FloatArray, ...]
    critical: float
    relabellings: int
    exact: bool


def differences_between(
    tables: Iterable[tuple[FloatArray, FloatArray]],
    rng: np.random.Generator,
    *,
    level: float = 0.05,
    relabellings: int = RELABELLINGS,
    exact_limit: int = EXACT_LIMIT,
) -> Differences:
    """Test two groups of different golfers.

    Parameters
    ----------
    tables : iterable of two ndarrays, shapes (n1, p) and (n2, p)
        Tables of quantities, a row per golfer and the same golfers in every table; NaN where a
        golfer lacks one.
    rng : numpy.random.Generator
        Used only where the relabellings are too many to enumerate.
    level : float
    relabellings : int
        Random relabellings; the p value is (b + 1) / (relabellings + 1) (Phipson and Smyth 2010,
        Stat. Appl. Genet. Mol. Biol. 9:39).
    exact_limit : int

    Raises
    ------
    ValueError
        With fewer than two golfers in a group.
    """
    pairs = list(tables)
    n1, n2 = (len(group) for group in pairs[0])
    if min(n1, n2) < FEWEST:
        raise ValueError(f"groups: {n1} and {n2} golfers where each needs at least {FEWEST}")
    labels = np.repeat([1.0, 0.0], [n1, n2])
    exact = comb(n1 + n2, n1) <= exact_limit
    blocks = all_groups(n1 + n2, n1) if exact else random_groups(labels, relabellings, rng)
    statistics = [_welch(np.concatenate(pair)) for pair in pairs]
    return _run(statistics, labels, blocks, exact=exact, level=level)


def differences_within(
    tables: Iterable[FloatArray],
    rng: np.random.Generator,
    *,
    level: float = 0.05,
    relabellings: int = RELABELLINGS,
    exact_limit: int = EXACT_LIMIT,
) -> Differences:
    """Test two conditions of the same golfers: each golfer's signs are flipped together.

    Parameters
    ----------
    tables : iterable of ndarray, shape (n, p)
        First minus second condition, a row per golfer; NaN where a golfer lacks one.
    rng, level, relabellings, exact_limit
        As in `differences_between`.

    Raises
    ------
    ValueError
        With fewer than two golfers.
    """
    kept = list(tables)
    n = len(kept[0])
    if n < FEWEST:
        raise ValueError(f"differences: {n} golfers where at least {FEWEST} are needed")
    exact = n < 60 and 2**n <= exact_limit
    blocks = all_signs(n) if exact else random_signs(n, relabellings, rng)
    return _run([_paired(table) for table in kept], np.ones(n), blocks, exact=exact, level=level)


def _run(
    statistics: list[Deviates],
    observed: FloatArray,
    blocks: Iterator[FloatArray],
    *,
    exact: bool,
    level: float,
) -> Differences:
    found = [deviates(observed[None])[0] for deviates in statistics]
    maxima = [_largest(statistics, block) for block in blocks]
    if not exact:
        maxima.append(_largest(statistics, observed[None]))
    ranked = np.sort(np.concatenate(maxima))
    counted = len(ranked)
    p_values = [
        np.where(
            ~np.isnan(one),
            (counted - np.searchsorted(ranked, np.abs(one) * (1 - _TIE))) / counted,
            np.nan,
        )
        for one in found
    ]
    return Differences(
        deviates=tuple(found),
        p_values=tuple(p_values),
        critical=float(ranked[int(np.ceil((1 - level) * counted - 1e-9)) - 1]),
        relabellings=counted,
        exact=exact,
    )


def _largest(statistics: list[Deviates], block: FloatArray) -> FloatArray:
    parts = [np.nan_to_num(np.abs(deviates(block)), posinf=np.inf) for deviates in statistics]
    return np.asarray(np.max([part.max(axis=1, initial=0.0) for part in parts], axis=0))


def _scaled(table: FloatArray) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Quantities in units of their root mean square, 0 where missing; where seen; which vary."""
    seen = np.isfinite(table)
    filled = np.where(seen, table, 0.0)
    counts = np.maximum(seen.sum(axis=0), 1)
    size = np.sqrt((filled**2).sum(axis=0) / counts)
    # A quantity far smaller than the largest of its table is the rounding of that one.
    live = size > LEAST_SPREAD * size.max(initial=0.0)
    return filled / np.where(live, size, 1.0), seen.astype(np.float64), live


def _welch(table: FloatArray) -> Deviates:
    """Deviates of Welch's t for relabelled groups, shape (labellings, p)."""
    seen = np.isfinite(table)
    counts = np.maximum(seen.sum(axis=0), 1)
    centred = table - np.where(seen, table, 0.0).sum(axis=0) / counts
    values, mask, live = _scaled(centred)
    mask = mask[:, :1] if seen.all() else mask
    squares = values**2
    totals = values.sum(axis=0), squares.sum(axis=0), mask.sum(axis=0)

    def deviates(block: FloatArray) -> FloatArray:
        first = block @ values, block @ squares, block @ mask
        parts = [_mean_and_error(*first)]
        rest = [whole - part for whole, part in zip(totals, first, strict=True)]
        parts.append(_mean_and_error(rest[0], rest[1], rest[2]))
        (mean1, error1, n1), (mean2, error2, n2) = parts
        error = error1 + error2
        with np.errstate(divide="ignore", invalid="ignore"):
            freedom = error**2 / (error1**2 / (n1 - 1) + error2**2 / (n2 - 1))
            result = _normal(mean1 - mean2, error, np.where(error > 0, freedom, 1.0))
        return np.where(live & (np.minimum(n1, n2) >= FEWEST), result, np.nan)

    return deviates


def _mean_and_error(
    sums: FloatArray, squares: FloatArray, counts: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean, its variance, and the count."""
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = sums / counts
        error = np.maximum(squares - sums * mean, 0.0) / (counts - 1) / counts
    return mean, error, counts


def _paired(table: FloatArray) -> Deviates:
    """Deviates of the paired t for flipped signs, shape (labellings, p)."""
    values, mask, live = _scaled(table)
    counts, total = mask.sum(axis=0), (values**2).sum(axis=0)

    def deviates(block: FloatArray) -> FloatArray:
        sums = block @ values
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = sums / counts
            error = np.maximum(total - sums * mean, 0.0) / (counts - 1) / counts
            result = _normal(mean, error, counts - 1)
        return np.where(live & (counts >= FEWEST), result, np.nan)

    return deviates


def _normal(difference: FloatArray, error: FloatArray, freedom: FloatArray) -> FloatArray:
    """The normal deviate of the same tail as ``difference / sqrt(error)`` on t.

    Wallace's approximation (1959, Ann. Math. Stat. 30:1124), within 0.01 up to five deviates at
    four degrees of freedom: cheap enough for thousands of relabellings. Without any spread
    inside groups it is infinite.
    """
    squared = difference**2 / np.where(error > LEAST_SPREAD, error, np.nan)
    size = np.sqrt(freedom * np.log1p(squared / freedom)) * (8 * freedom + 1) / (8 * freedom + 3)
    flat = np.where(difference**2 > LEAST_SPREAD, np.inf, 0.0)
    return np.asarray(np.sign(difference) * np.where(error > LEAST_SPREAD, size, flat))
