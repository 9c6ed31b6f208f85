"""Permutation tests of whole curves by the largest |t| over all nodes, with golfers as units."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

EXACT_LIMIT: Final = 20_000
"""Up to this many relabellings all are enumerated."""
RELABELLINGS: Final = 9_999
_BLOCK: Final = 1_024
_TIE: Final = 1e-10
"""Sums that differ by less are the same sum taken in another order."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaxTTest:
    """Result of a max-|t| permutation test.

    Attributes
    ----------
    t : ndarray, shape (p,)
        Observed t at every node; NaN where nobody differs from anybody.
    largest : float
        Largest |t| over the nodes.
    node : int
        Where it is.
    p_value : float
        Chance, were labels exchangeable, of a largest |t| as large as the observed one.
    node_p_values : ndarray, shape (p,)
        The same for each node's |t| against the largest: adjusted for having looked everywhere.
    critical : float
        |t| that the largest exceeds in at most the share ``level`` of relabellings.
    level : float
    relabellings : int
        Relabellings counted, the observed one among them.
    exact : bool
        True where all were enumerated, False for a random sample of them.
    """

    t: FloatArray
    largest: float
    node: int
    p_value: float
    node_p_values: FloatArray
    critical: float
    level: float
    relabellings: int
    exact: bool


def max_t_between_groups(
    first: FloatArray,
    second: FloatArray,
    rng: np.random.Generator,
    *,
    level: float = 0.05,
    relabellings: int = RELABELLINGS,
    exact_limit: int = EXACT_LIMIT,
) -> MaxTTest:
    """Are two groups of golfers alike? Pooled-variance t at every node, groups relabelled.

    The test holds its level whatever the shape of the curves and their correlation along the
    phase. It asks for a difference of means; groups that differ in spread only are for other
    rules.

    Parameters
    ----------
    first, second : ndarray, shape (n1, p) and (n2, p)
        One curve per golfer; no golfer in both. t is positive where ``first`` is higher.
    rng : numpy.random.Generator
        Used only where the relabellings are too many to enumerate.
    level : float
    relabellings : int
        Random relabellings; the p value is (b + 1) / (relabellings + 1).
    exact_limit : int

    Raises
    ------
    ValueError
        With fewer than 2 golfers in a group, fewer than 3 in all, or a value not finite.

    References
    ----------
    Westfall and Young (1993); Nichols and Holmes (2002), Hum. Brain Mapp. 15:1; the +1 rule:
    Phipson and Smyth (2010), Stat. Appl. Genet. Mol. Biol. 9:39.
    """
    curves = _finite(np.concatenate([first, second]))
    n1, n2 = len(first), len(second)
    if min(n1, n2) < 2:
        raise ValueError(f"groups: {n1} and {n2} golfers where each needs at least 2")
    centred = curves - curves.mean(axis=0)
    # With SST the total sum of squares and s the sum over one group of centred values, the pooled
    # t follows from the share u = s^2 n / (n1 n2 SST) alone: t^2 = (n - 2) u / (1 - u). Scaled so
    # that u = s^2, one matrix product serves all relabellings.
    total = (centred**2).sum(axis=0) * (n1 * n2 / (n1 + n2))
    labels = np.repeat([1.0, 0.0], [n1, n2])
    exact = comb(n1 + n2, n1) <= exact_limit
    blocks = all_groups(n1 + n2, n1) if exact else random_groups(labels, relabellings, rng)
    return _run(centred, total, labels, blocks, exact=exact, freedom=n1 + n2 - 2, level=level)


def max_t_within_golfers(
    differences: FloatArray,
    rng: np.random.Generator,
    *,
    level: float = 0.05,
    relabellings: int = RELABELLINGS,
    exact_limit: int = EXACT_LIMIT,
) -> MaxTTest:
    """Do the same golfers differ between two conditions? Paired t, each golfer's sign flipped.

    Parameters
    ----------
    differences : ndarray, shape (n, p)
        First minus second condition, one row per golfer.
    rng, level, relabellings, exact_limit
        As in `max_t_between_groups`.

    Raises
    ------
    ValueError
        With fewer than 2 golfers or a value not finite.
    """
    table = _finite(differences)
    n = len(table)
    if n < 2:
        raise ValueError(f"differences: {n} golfers where at least 2 are needed")
    # The sum of squares about zero is the same for all signs: t^2 = (n - 1) u / (1 - u) with
    # u = s^2 / (n SS) and s the signed sum.
    total = (table**2).sum(axis=0) * n
    exact = n < 60 and 2**n <= exact_limit
    blocks = all_signs(n) if exact else random_signs(n, relabellings, rng)
    return _run(table, total, np.ones(n), blocks, exact=exact, freedom=n - 1, level=level)


def _run(
    table: FloatArray,
    total: FloatArray,
    observed: FloatArray,
    blocks: Iterator[FloatArray],
    *,
    exact: bool,
    freedom: int,
    level: float,
) -> MaxTTest:
    largest_possible = np.abs(table).max(initial=0.0)
    live = total > (1e-12 * largest_possible) ** 2
    if not live.any():
        raise ValueError("curves: all golfers agree at every node, so there is nothing to test")
    scaled = table[:, live] / np.sqrt(total[live])
    sums = observed @ scaled
    maxima = [np.abs(block @ scaled).max(axis=1) for block in blocks]
    if not exact:
        maxima.append(np.array([np.abs(sums).max()]))
    ranked = np.sort(np.concatenate(maxima))
    t = np.full(len(live), np.nan)
    t[live] = _t_of_sum(sums, freedom)
    node_p = np.full(len(live), np.nan)
    node_p[live] = (len(ranked) - np.searchsorted(ranked, np.abs(sums) - _TIE)) / len(ranked)
    critical = ranked[int(np.ceil((1 - level) * len(ranked) - 1e-9)) - 1]
    return MaxTTest(
        t=t,
        largest=float(np.nanmax(np.abs(t))),
        node=int(np.nanargmax(np.abs(t))),
        p_value=float(np.nanmin(node_p)),
        node_p_values=node_p,
        critical=float(_t_of_sum(np.array([critical]), freedom)[0]),
        level=level,
        relabellings=len(ranked),
        exact=exact,
    )


def _t_of_sum(sums: FloatArray, freedom: int) -> FloatArray:
    rest = 1 - sums**2
    with np.errstate(divide="ignore"):
        # Groups without any spread inside leave no rest: t is infinite.
        return np.asarray(sums * np.sqrt(freedom / np.maximum(rest, 0)), dtype=np.float64)


def _finite(curves: FloatArray) -> FloatArray:
    table = np.asarray(curves, dtype=np.float64)
    if not np.isfinite(table).all():
        raise ValueError("curves: every value must be finite")
    return table


def all_groups(n: int, chosen: int) -> Iterator[FloatArray]:
    """Every choice of ``chosen`` of n, 1 for those chosen, in blocks of rows."""
    members = np.array(list(combinations(range(n), chosen)))
    for first in range(0, len(members), _BLOCK):
        part = members[first : first + _BLOCK]
        block = np.zeros((len(part), n))
        np.put_along_axis(block, part, 1.0, axis=1)
        yield block


def random_groups(
    labels: FloatArray, relabellings: int, rng: np.random.Generator
) -> Iterator[FloatArray]:
    """Labels shuffled at random, in blocks of rows."""
    for first in range(0, relabellings, _BLOCK):
        rows = min(_BLOCK, relabellings - first)
        yield rng.permuted(np.tile(labels, (rows, 1)), axis=1)


def all_signs(n: int) -> Iterator[FloatArray]:
    """Every pattern of n signs, in blocks of rows."""
    signs = np.array(list(product((1.0, -1.0), repeat=n)))
    for first in range(0, len(signs), _BLOCK):
        yield signs[first : first + _BLOCK]


def random_signs(n: int, relabellings: int, rng: np.random.Generator) -> Iterator[FloatArray]:
    """Signs at random, in blocks of rows."""
    for first in range(0, relabellings, _BLOCK):
        rows = min(_BLOCK, relabellings - first)
        yield rng.choice((1.0, -1.0), size=(rows, n))
