"""Did a mean over golfers move between two gatherings that may share golfers?"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_BLOCK: Final = 256
_NO_SPREAD: Final = 1e-9
_TIE: Final = 1e-10
"""Scores that differ by less are the same score summed in another order."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moves:
    """How unusual k differences of means are when nothing moved.

    Attributes
    ----------
    score : ndarray, shape (k,)
        Difference, second minus first, over its standard deviation under relabelling; 0 where
        that is 0.
    p_value : ndarray, shape (k,)
        Share of relabellings whose largest score over all k is as large: adjusted for having
        looked k times.
    """

    score: FloatArray
    p_value: FloatArray


def relabelled_moves(
    first: FloatArray,
    second: FloatArray,
    in_first: NDArray[np.bool_],
    in_second: NDArray[np.bool_],
    rng: np.random.Generator,
    relabellings: int,
) -> Moves:
    """Permutation test, with golfers as units, of k means in two gatherings.

    With m the middle of a golfer's two values (the one value, of a golfer in one gathering only)
    and h half their difference, the difference of means is ``sum w m + c sum h``, where w is
    1/n2, -1/n1 or their sum by where the golfer was, and c = 1/n1 + 1/n2. When nothing moved, it
    is chance which golfers were where, and which of a golfer's two values came first: w is dealt
    anew to all golfers and each h gets a random sign. This serves gatherings without a golfer in
    common, with the same golfers, and a second that adds golfers to the first.

    Parameters
    ----------
    first, second : ndarray, shape (n, k)
        Values of order 1 (shares, say) of all golfers of either gathering; NaN where missing; rows
        of golfers not in a gathering are ignored there.
    in_first, in_second : ndarray of bool, shape (n,)
    rng : numpy.random.Generator
    relabellings : int

    References
    ----------
    Largest score over all questions: Westfall and Young (1993); p as (b + 1) / (B + 1): Phipson
    and Smyth (2010), Stat. Appl. Genet. Mol. Biol. 9:39.
    """
    n1, n2 = np.count_nonzero(in_first), np.count_nonzero(in_second)
    a = np.where(in_first[:, np.newaxis], first, np.nan)
    b = np.where(in_second[:, np.newaxis], second, np.nan)
    half = np.nan_to_num((b - a) / 2.0) * (1.0 / n1 + 1.0 / n2)
    half = half[in_first & in_second]
    middle = np.where(np.isnan(a), b, np.where(np.isnan(b), a, (a + b) / 2.0))
    # Centred, so that a missing value at 0 pulls to neither side.
    known = ~np.isnan(middle)
    middle = np.nan_to_num(middle)
    middle -= middle.sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    middle[~known] = 0.0
    weight = in_second / n2 - in_first / n1
    observed = weight @ middle + half.sum(axis=0)
    spread = np.sqrt((weight**2).sum() * middle.var(axis=0, ddof=1) + (half**2).sum(axis=0))
    live = spread > _NO_SPREAD * (1.0 / n1 + 1.0 / n2)
    score = np.zeros(spread.shape)
    score[live] = observed[live] / spread[live]
    largest = np.zeros(relabellings)
    if live.any():
        middle, half = middle[:, live] / spread[live], half[:, live] / spread[live]
        blocks = _blocks(weight, len(half), rng, relabellings)
        largest = np.concatenate(
            [np.abs(dealt @ middle + signs @ half).max(axis=1) for dealt, signs in blocks]
        )
    ranked = np.sort(largest)
    as_large = relabellings - np.searchsorted(ranked, np.abs(score) - _TIE)
    return Moves(score=score, p_value=(as_large + 1) / (relabellings + 1))


def _blocks(
    weight: FloatArray, shared: int, rng: np.random.Generator, relabellings: int
) -> Iterator[tuple[FloatArray, FloatArray]]:
    for start in range(0, relabellings, _BLOCK):
        rows = min(_BLOCK, relabellings - start)
        dealt = rng.permuted(np.tile(weight, (rows, 1)), axis=1)
        yield dealt, rng.choice((-1.0, 1.0), size=(rows, shared))
