"""One group in two editions: what moved, and whether more than sampling error."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.relabelling import relabelled_moves
from norms.records import Bands, Cohort, CohortNorms
from norms.statistics.quantiles import quantiles
from norms.vocabulary import AXES, EVENT_NODES, NODES, PHASES

FloatArray = NDArray[np.float64]

FEWEST_GOLFERS: Final = 8
"""Fewer golfers, all told, have too few relabellings for any finding to be one."""
NODES_SEEN: Final = np.arange(5, NODES, 5)
"""Every fifth node from the start on: curves are smooth, and at the start all are zero."""

MIDDLE_HALF: Final = frozenset({25.0, 75.0})


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One percentile of a feature, or of a curve where it moved most in one phase.

    Attributes
    ----------
    subject : str
        A feature, or an axis.
    phase : str or None
        Of a curve.
    node : int or None
        Of a curve: the node, 0 to 300, of the clearest move in the phase.
    percent : float
    first, second, change : float
        The percentile in each edition and the difference, in the feature's unit or cm.
    of_middle_half : float or None
        Size of the change over the width of the first edition's middle half, 25th to 75th
        percentile: many golfers make small moves sure, not large. None without such a width.
    p_value : float
        Adjusted for everything looked at.
    moved : bool
        Whether by more than sampling error.
    """

    subject: str
    phase: str | None
    node: int | None
    percent: float
    first: float
    second: float
    change: float
    of_middle_half: float | None
    p_value: float
    moved: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CellComparison:
    """One group in two editions.

    Attributes
    ----------
    cohort_key, cohort_label : str
    golfers_first, golfers_second, golfers_both : int
    swings_per_golfer_first, swings_per_golfer_second : float
        Median.
    moves : tuple of Move
        Features first; empty where the group could not be compared.
    note : str or None
        Why not, or what to bear in mind.
    """

    cohort_key: str
    cohort_label: str
    golfers_first: int
    golfers_second: int
    golfers_both: int
    swings_per_golfer_first: float
    swings_per_golfer_second: float
    moves: tuple[Move, ...]
    note: str | None

    @property
    def moved(self) -> tuple[Move, ...]:
        """What moved by more than sampling error."""
        return tuple(move for move in self.moves if move.moved)


def compare_cell(
    one: CohortNorms, other: CohortNorms, rng: np.random.Generator, relabellings: int
) -> CellComparison:
    """Compare one group; the p values are adjusted within the group only."""
    a, b = one.cohort, other.cohort
    shared = set(a.golfers) & set(b.golfers)
    moves: tuple[Move, ...] = ()
    note = _why_not(one, other)
    if note is None and one.bands is not None and other.bands is not None:
        moves = tuple(_moves(_Union.of(a, b), one.bands, other.bands, rng, relabellings))
        note = _note(a, b)
    return CellComparison(
        cohort_key=a.definition.key,
        cohort_label=a.definition.label,
        golfers_first=len(a.golfers),
        golfers_second=len(b.golfers),
        golfers_both=len(shared),
        swings_per_golfer_first=_swings_per_golfer(a),
        swings_per_golfer_second=_swings_per_golfer(b),
        moves=moves,
        note=note,
    )


def _why_not(one: CohortNorms, other: CohortNorms) -> str | None:
    if one.bands is None or other.bands is None:
        return "withheld in one of the editions or in both, so there is nothing to compare"
    if len({*one.cohort.golfers, *other.cohort.golfers}) < FEWEST_GOLFERS:
        return f"fewer than {FEWEST_GOLFERS} golfers in both editions together"
    return None


def _note(a: Cohort, b: Cohort) -> str | None:
    notes = []
    if a.definition != b.definition:
        notes.append("the group is defined differently in the two editions")
    before, after = _swings_per_golfer(a), _swings_per_golfer(b)
    if before != after:
        notes.append(
            f"golfers have {before:g} swings each in the first edition and {after:g} in the "
            "second (medians): more swings steady a golfer's mean, so that outer percentiles draw "
            "in though no golfer changed"
        )
    return "; ".join(notes) or None


def _swings_per_golfer(cohort: Cohort) -> float:
    return float(np.median(cohort.swing_counts)) if len(cohort.golfers) else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Union:
    """Golfers of either cohort, with features and curves of each; NaN where a golfer is not."""

    first: FloatArray
    second: FloatArray
    in_first: NDArray[np.bool_]
    in_second: NDArray[np.bool_]
    features: tuple[str, ...]

    @classmethod
    def of(cls, a: Cohort, b: Cohort) -> "_Union":
        codes = np.array(sorted({*a.golfers, *b.golfers}), dtype=str)
        features = tuple(name for name in a.feature_names if name in b.feature_names)
        return cls(
            first=_rows(a, codes, features),
            second=_rows(b, codes, features),
            in_first=np.isin(codes, np.array(a.golfers, dtype=str)),
            in_second=np.isin(codes, np.array(b.golfers, dtype=str)),
            features=features,
        )


def _rows(cohort: Cohort, codes: NDArray[np.str_], features: Sequence[str]) -> FloatArray:
    columns = [cohort.feature_names.index(name) for name in features]
    curves = cohort.curves_cm[:, :, NODES_SEEN].reshape(len(cohort.golfers), -1)
    own = np.hstack([cohort.features[:, columns], curves])
    table = np.full((codes.size, own.shape[1]), np.nan)
    table[np.searchsorted(codes, np.array(cohort.golfers, dtype=str))] = own
    return table


def _moves(
    union: _Union, before: Bands, after: Bands, rng: np.random.Generator, relabellings: int
) -> Iterator[Move]:
    percents = [p for p in before.percents if p in after.percents]
    scores, p_values = _percentile_tests(union, percents, rng, relabellings)
    for column, feature in enumerate(union.features):
        for row, percent in enumerate(percents):
            values = _feature(before, feature, percent), _feature(after, feature, percent)
            if not np.isnan(values).any():
                half = _feature_width(before, feature)
                yield _move(feature, percent, values, half, p_values[row, column])
    for row, percent in enumerate(percents):
        for a, axis in enumerate(AXES):
            curves = _curve(before, a, percent), _curve(after, a, percent)
            if np.isnan(curves).any():
                continue
            for phase, places in _phase_places():
                at = len(union.features) + a * NODES_SEEN.size + places
                clearest = at[np.argmax(np.abs(scores[row, at]))]
                node = int(NODES_SEEN[places[clearest - at[0]]])
                values = float(curves[0][node]), float(curves[1][node])
                half = _curve_width(before, a, node)
                p_value = p_values[row, clearest]
                yield _move(axis, percent, values, half, p_value, phase, node)


def _percentile_tests(
    union: _Union, percents: Sequence[float], rng: np.random.Generator, relabellings: int
) -> tuple[FloatArray, FloatArray]:
    """Scores and p values of every percentile of every column, shape (q, k) each.

    A value turns into whether it lies at or below the percentile of both editions together, so
    that a difference of means is a difference of shares, whatever the percentile.
    """
    limits = quantiles(np.vstack([union.first, union.second]), percents)
    first, second = (_at_most(table, limits) for table in (union.first, union.second))
    moves = relabelled_moves(first, second, union.in_first, union.in_second, rng, relabellings)
    shape = (len(percents), union.first.shape[1])
    return moves.score.reshape(shape), moves.p_value.reshape(shape)


def _at_most(table: FloatArray, limits: FloatArray) -> FloatArray:
    """1 where a value is at most each limit in turn, 0 where above, NaN where missing."""
    shares = [np.where(np.isnan(table), np.nan, table <= limit) for limit in limits]
    return np.hstack(shares)


def _phase_places() -> list[tuple[str, NDArray[np.int64]]]:
    """Places in ``NODES_SEEN`` of each phase's nodes, its last event included."""
    starts = sorted(EVENT_NODES.values())
    return [
        (phase, np.flatnonzero((low < NODES_SEEN) & (high >= NODES_SEEN)))
        for phase, low, high in zip(PHASES, starts[:-1], starts[1:], strict=True)
    ]


def _feature(bands: Bands, feature: str, percent: float) -> float:
    row, column = bands.percents.index(percent), bands.feature_names.index(feature)
    return float(bands.feature[row, column])


def _curve(bands: Bands, axis: int, percent: float) -> FloatArray:
    curve: FloatArray = bands.curve_cm[bands.percents.index(percent), axis]
    return curve


def _feature_width(bands: Bands, feature: str) -> float:
    """Width of a feature's middle half; NaN where it is not shown."""
    if not MIDDLE_HALF.issubset(bands.percents):
        return float("nan")
    low, high = (_feature(bands, feature, percent) for percent in sorted(MIDDLE_HALF))
    return high - low


def _curve_width(bands: Bands, axis: int, node: int) -> float:
    """The same of a curve at one node."""
    if not MIDDLE_HALF.issubset(bands.percents):
        return float("nan")
    low, high = (float(_curve(bands, axis, percent)[node]) for percent in sorted(MIDDLE_HALF))
    return high - low


def _move(
    subject: str,
    percent: float,
    values: tuple[float, float],
    width: float,
    p_value: float,
    phase: str | None = None,
    node: int | None = None,
) -> Move:
    return Move(
        subject=subject,
        phase=phase,
        node=node,
        percent=percent,
        first=values[0],
        second=values[1],
        change=values[1] - values[0],
        of_middle_half=abs(values[1] - values[0]) / width if width > 0 else None,
        p_value=float(p_value),
    )
