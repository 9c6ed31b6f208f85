"""Is a standard realistic: what share of each level meets it, and does meeting it go with level?"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from norms.records import BoolArray, CohortNorms, Edition, Level
from norms.records.standard import Standard
from norms.standards.evidence import edition_rules
from norms.standards.quantities import cohort_values
from norms.standards.verdicts import gaps, standard_ends
from norms.statistics.proportions import wilson_interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Golfers of a group whose observed means lie inside.

    Attributes
    ----------
    golfers : int
        Who have every quantity concerned.
    inside : int or None
    share, low, high : float or None
        0 to 1 with its 90 % interval; None where fewer golfers than the smallest cell have it.
    """

    golfers: int
    inside: int | None = None
    share: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelShare:
    """One level of the standard's club.

    Attributes
    ----------
    key, label : str
    whole : Share
        Inside every range.
    parts : tuple of Share
        Inside each range, in the order of the requirements.
    """

    key: str
    label: str
    whole: Share
    parts: tuple[Share, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTrend:
    """Whether meeting a standard goes with level of play, over the levels by handicap.

    Attributes
    ----------
    inside, outside : int
        Golfers.
    better : float or None
        Chance that a golfer inside plays at a better level than one outside, ties counted half:
        0.5 where the two have nothing to do with each other.
    p_value : float or None
        Two-sided, rank sum with ties (Mann & Whitney 1947, normal approximation).
    """

    inside: int
    outside: int
    better: float | None = None
    p_value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Realism:
    """Who of an edition meets a standard, by observed means and without allowance for error."""

    levels: tuple[LevelShare, ...]
    trend: LevelTrend


def realism(standard: Standard, edition: Edition) -> Realism:
    """Hold the golfers of every level of the standard's club against its ranges.

    Parameters
    ----------
    standard : Standard
    edition : Edition
        With its golfers.

    Returns
    -------
    Realism
        Levels from the best handicap on, then those without one.
    """
    smallest = edition_rules(edition).smallest_cell
    shares, ranked = [], []
    for rank, (level, cell) in enumerate(_levels(edition, standard.golfers.club)):
        inside, known = _inside(standard, cell)
        shares.append(
            LevelShare(
                key=cell.cohort.definition.key,
                label=level.label,
                whole=_share(_all(inside), _all(known), smallest),
                parts=tuple(
                    _share(inside[:, part], known[:, part], smallest)
                    for part in range(inside.shape[1])
                ),
            )
        )
        if level.kind == "handicap":
            ranked += [
                (code, rank, bool(met))
                for code, met, all_known in zip(
                    cell.cohort.golfers, _all(inside), _all(known), strict=True
                )
                if all_known
            ]
    return Realism(levels=tuple(shares), trend=_trend(ranked, smallest))


def _levels(edition: Edition, club: str) -> list[tuple[Level, CohortNorms]]:
    found = [
        (definition.level, cell)
        for cell in edition.cells
        if (definition := cell.cohort.definition).club == club and definition.level is not None
    ]
    kinds = ("handicap", "none", "professional")
    return sorted(
        found,
        key=lambda one: (
            kinds.index(one[0].kind),
            -inf if one[0].above is None else one[0].above,
        ),
    )


def _inside(standard: Standard, cell: CohortNorms) -> tuple[BoolArray, BoolArray]:
    """Inside each range, and whether that is known; both of shape (n, d)."""
    values = cohort_values(cell.cohort, [one.quantity for one in standard.requirements])
    known = np.isfinite(values)
    return gaps(np.where(known, values, np.inf), standard_ends(standard)) == 0, known


def _all(rows: BoolArray) -> BoolArray:
    return np.asarray(rows.all(axis=1), dtype=bool)


def _share(inside: BoolArray, known: BoolArray, smallest: int) -> Share:
    golfers = int(known.sum())
    if golfers < smallest:
        return Share(golfers=golfers)
    count = int((inside & known).sum())
    low, high = wilson_interval(count, golfers)
    return Share(
        golfers=golfers, inside=count, share=count / golfers, low=float(low), high=float(high)
    )


def _trend(ranked: Sequence[tuple[str, int, bool]], smallest: int) -> LevelTrend:
    """A golfer whose handicap moved to another level counts once, at the better one."""
    first: dict[str, tuple[int, bool]] = {}
    for code, rank, is_inside in ranked:
        first.setdefault(code, (rank, is_inside))
    ranks = np.array([rank for rank, _ in first.values()], dtype=float)
    met = np.array([is_inside for _, is_inside in first.values()], dtype=bool)
    inside, outside = int(met.sum()), int((~met).sum())
    if min(inside, outside) < smallest or len(np.unique(ranks)) < 2:
        return LevelTrend(inside=inside, outside=outside)
    from scipy.stats import mannwhitneyu  # costs the command line more than the rest together

    # A lower rank is a better level.
    test = mannwhitneyu(ranks[~met], ranks[met], method="asymptotic")
    return LevelTrend(
        inside=inside,
        outside=outside,
        better=float(test.statistic) / (inside * outside),
        p_value=float(test.pvalue),
    )
