"""What a cohort of features alone can answer: bands, partitions, patterns; and what it cannot."""

from dataclasses import dataclass
from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from norms.cohort.bands import PRIVACY_MINIMUM, check_rules, withheld_reason
from norms.cohort.compared_groups import ComparedGroups, Repeats
from norms.cohort.partition import feature_evidence
from norms.cohort.pattern_search import PatternChoices, search_patterns
from norms.errors import CohortRefused
from norms.records import FeaturePartition
from norms.records.study import StudyFrame
from norms.statistics.quantiles import quantiles_with_intervals
from norms.statistics.within_between import group_means
from norms.vocabulary import BAND_PERCENTS, NODES

FloatArray = NDArray[np.float64]

SCORE_SHARE: Final = 0.90
"""Share of the golfers' variance that the scores hold in which patterns are sought."""
MOST_SCORES: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeatureBands:
    """Percentiles over golfers of every feature, each with its interval and count.

    Attributes
    ----------
    percents : tuple of float
    feature_names, feature_units : tuple of str
    golfers : ndarray of int, shape (d,)
        Golfers who have the feature.
    value, low, high : ndarray, shape (q, d)
        NaN where the number of golfers supports no such percentile.
    confidence : float
    """

    percents: tuple[float, ...]
    feature_names: tuple[str, ...]
    feature_units: tuple[str, ...]
    golfers: NDArray[np.int64]
    value: FloatArray
    low: FloatArray
    high: FloatArray
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeaturePatterns:
    """Patterns of golfers by their mean features.

    Attributes
    ----------
    golfers : tuple of str
        Golfers who have every feature.
    patterns : int
        1 where there are no patterns.
    cloud_p : float
        Chance that one cloud would improve as much.
    memberships : ndarray, shape (n, patterns)
    reason : str
    """

    golfers: tuple[str, ...]
    patterns: int
    cloud_p: float
    memberships: FloatArray
    reason: str


def golfer_features(
    frame: StudyFrame, club: str | None = None
) -> tuple[tuple[str, ...], FloatArray]:
    """Codes and mean features of the golfers of a club, or of all clubs together.

    Returns
    -------
    golfers : tuple of str
        n codes, sorted.
    features : ndarray, shape (n, d)
        NaN where no swing of the golfer has the feature.
    """
    rows = [place for place, one in enumerate(frame.clubs) if club in (None, one)]
    golfers = np.array(frame.golfers)[rows]
    names, first, codes = np.unique(golfers, return_index=True, return_inverse=True)
    values = frame.features[rows]
    seen = np.isfinite(values)
    means = group_means(np.where(seen, values, 0.0), seen, codes)
    counted = np.zeros((len(names), values.shape[1]))
    np.add.at(counted, codes, seen)
    return tuple(names.tolist()), np.where(counted > 0, means[first], np.nan)


def feature_bands(
    frame: StudyFrame,
    club: str | None = None,
    percents: tuple[float, ...] = BAND_PERCENTS,
    confidence: float = 0.90,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> FeatureBands:
    """Percentiles of golfers' mean features, by the rules that hold for bands everywhere.

    Raises
    ------
    CohortRefused
        If the rules are not valid or there are too few golfers to show anything.
    """
    check_rules(percents, confidence, smallest_cell)
    golfers, features = golfer_features(frame, club)
    withheld = withheld_reason(len(golfers), percents, confidence, smallest_cell)
    if withheld:
        raise CohortRefused(f"{club or 'all clubs'}: {withheld}", code="withheld")
    counted = np.isfinite(features).sum(axis=0)
    shown = np.where(counted >= smallest_cell, features, np.nan)
    table = quantiles_with_intervals(shown, percents, confidence)
    return FeatureBands(
        percents=tuple(percents),
        feature_names=frame.feature_names,
        feature_units=frame.feature_units,
        golfers=counted.astype(np.int64),
        value=table.value,
        low=table.low,
        high=table.high,
        confidence=confidence,
    )


def feature_partition(
    frame: StudyFrame, fact: str, club: str | None = None, level: float = 0.05
) -> tuple[FeaturePartition, ...]:
    """Whether golfers with fact 1 and fact 0 (men and women, say) need norms of their own.

    Parameters
    ----------
    frame : StudyFrame
    fact : str
        A fact of golfers that is 0 or 1, e.g. ``"sex"``.
    club : str or None
    level : float

    Raises
    ------
    CohortRefused
        With fewer than five golfers in a group, or a fact that nobody has.
    """
    if fact not in frame.golfer_facts:
        raise CohortRefused(f"{fact}: this table does not hold it", code="fact_unknown")
    golfers, features = golfer_features(frame, club)
    repeats = _repeats(frame, club)
    of_golfer = dict(zip(frame.golfers, frame.golfer_facts[fact].tolist(), strict=True))
    values = np.array([of_golfer[code] for code in golfers])
    members = values == 0.0, values == 1.0
    groups = features[members[0]], features[members[1]]
    fewest = min(len(group) for group in groups)
    if fewest < PRIVACY_MINIMUM:
        raise CohortRefused(
            f"{fact}: {fewest} golfers in a group; {PRIVACY_MINIMUM} are needed",
            code="too_few_golfers",
        )
    pair = ComparedGroups(
        curves=(_none(len(groups[0])), _none(len(groups[1]))),
        features=groups,
        paired=False,
        left_out=int(np.isnan(values).sum()),
        repeats=(_of(repeats, members[0]), _of(repeats, members[1])),
    )
    return feature_evidence(frame.feature_names, pair, level)


def _repeats(frame: StudyFrame, club: str | None) -> Repeats:
    """Swings of each golfer that give each feature, and their squares about the golfer's mean."""
    rows = [place for place, one in enumerate(frame.clubs) if club in (None, one)]
    codes = np.unique(np.array(frame.golfers)[rows], return_inverse=True)[1]
    values = frame.features[rows]
    seen = np.isfinite(values)
    filled = np.where(seen, values, 0.0)
    about = np.where(seen, filled - group_means(filled, seen, codes), 0.0)
    swings, squares = np.zeros((2, int(codes.max(initial=-1)) + 1, values.shape[1]))
    np.add.at(swings, codes, seen)
    np.add.at(squares, codes, about**2)
    return Repeats(swings=swings, squares=squares)


def _of(repeats: Repeats, members: NDArray[np.bool_]) -> Repeats:
    return Repeats(swings=repeats.swings[members], squares=repeats.squares[members])


def _none(golfers: int) -> FloatArray:
    return np.empty((golfers, 0, NODES))


def feature_patterns(
    frame: StudyFrame, choices: PatternChoices, club: str | None = None
) -> FeaturePatterns:
    """Families of alike golfers by their mean features, one cloud being an answer like any other.

    Features are standardised and turned into principal scores; in these the search for patterns
    is the one that curves have.

    Parameters
    ----------
    frame : StudyFrame
    choices : PatternChoices
    club : str or None

    Raises
    ------
    CohortRefused
        With fewer than ten golfers who have every feature.
    """
    golfers, features = golfer_features(frame, club)
    whole = np.all(np.isfinite(features), axis=1, keepdims=True)[:, 0]
    if whole.sum() < 2 * PRIVACY_MINIMUM:
        raise CohortRefused(
            f"patterns: {int(whole.sum())} golfers have every feature; "
            f"{2 * PRIVACY_MINIMUM} are needed",
            code="too_few_golfers",
        )
    scores = _scores(features[whole])
    found = search_patterns(scores, choices, np.random.default_rng(choices.seed))
    memberships = found.mixture.memberships(scores)
    return FeaturePatterns(
        golfers=tuple(code for code, kept in zip(golfers, whole.tolist(), strict=True) if kept),
        patterns=memberships.shape[1],
        cloud_p=found.cloud_p,
        memberships=memberships,
        reason=found.reason,
    )


def _scores(features: FloatArray) -> FloatArray:
    spread = features.std(axis=0)
    standard = (features - features.mean(axis=0))[:, spread > 0] / spread[spread > 0]
    left, size, _ = np.linalg.svd(standard, full_matrices=False)
    share = np.cumsum(size**2) / (size**2).sum()
    kept = min(int(np.searchsorted(share, SCORE_SHARE)) + 1, MOST_SCORES)
    return np.asarray(left[:, :kept] * size[:kept], dtype=np.float64)


def need_curves(name: str, what: str) -> NoReturn:
    """Refuse what only curves can answer.

    Raises
    ------
    CohortRefused
        Always, with code ``no_curves``.
    """
    raise CohortRefused(
        f"{name}: is a cohort of features alone; {what} needs curves: collect captures, or ask "
        "for bands, partitions, patterns of features, or a study",
        code="no_curves",
    )
