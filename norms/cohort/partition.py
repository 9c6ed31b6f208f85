"""Do two groups of golfers need norms of their own? An answer with its evidence."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from norms.cohort.compared_groups import (
    FEWEST_GOLFERS,
    ComparedGroups,
    comparable,
    tested_together,
)
from norms.errors import CohortRefused
from norms.records import Cohort
from norms.records.partition import (
    CurvePartition,
    FeaturePartition,
    PartitionAnswer,
    PartitionVerdict,
)
from norms.statistics.group_differences import Differences
from norms.statistics.partitioning import (
    SMALLEST_DIFFERENCE_SD,
    HarrisBoyd,
    ProportionsOutside,
    harris_boyd,
    proportions_outside,
    standardised_difference,
)
from norms.statistics.permutation import RELABELLINGS
from norms.vocabulary import AXES, NODES

FloatArray = NDArray[np.float64]


def answer_partition(
    question: str,
    first: Cohort,
    second: Cohort,
    *,
    noise_cm: float,
    seed: int,
    level: float = 0.05,
    relabellings: int = RELABELLINGS,
) -> PartitionAnswer:
    """Decide whether two cohorts need norms of their own, and keep why.

    A subject (the curves, or one feature) gets "own" where a difference is both beyond chance and
    large enough to matter; "shared" where its 90 % interval shows it to be too small to matter;
    "undecided" between the two: a test that finds nothing in few golfers is no proof of likeness.
    Beyond chance: one golfer-level permutation test of the largest studentised difference over all
    nodes of all axes, the means of all features and their spreads, so that the whole decision
    keeps to one level, unequal groups, spreads, swings and noise included. Large enough: Harris
    and Boyd's criteria, or Lahti's share of a group outside the common limits.

    Golfers found in both cohorts (two clubs, say) are compared with themselves where they are at
    least half of the smaller cohort, and others left out; where they are fewer, they are left out.

    Parameters
    ----------
    question : str
        In words, kept with the answer.
    first, second : Cohort
        With the same features.
    noise_cm : float
        Nodes whose spread is below it are not compared.
    seed : int
        Of the random relabellings; kept with the answer.
    level : float
        Chance of a false "own", curves and features together.
    relabellings : int

    Raises
    ------
    CohortRefused
        With fewer than 5 golfers in a group, or cohorts with different features.
    """
    if first.feature_names != second.feature_names:
        raise CohortRefused(
            f"{question}: the two cohorts do not have the same features", code="features"
        )
    pair = comparable(question, first, second)
    moving = _moving(pair, noise_cm)
    columns = _columns(pair)
    test = tested_together(
        pair,
        _nodes(pair, moving),
        columns,
        np.random.default_rng(seed),
        level=level,
        relabellings=relabellings,
    )
    curves = _curve_evidence(pair, moving, noise_cm, test, level)
    features = _feature_evidence(first.feature_names, pair, columns, test, level)
    verdict = _together([curves.verdict, *(feature.verdict for feature in features)])
    return PartitionAnswer(
        question=question,
        groups=(first.definition.label, second.definition.label),
        golfers=(len(pair.curves[0]), len(pair.curves[1])),
        paired=pair.paired,
        left_out=pair.left_out,
        verdict=verdict,
        because=_because(verdict, curves, features),
        curves=curves,
        features=features,
        level=level,
        seed=seed,
    )


def feature_evidence(
    names: tuple[str, ...],
    pair: ComparedGroups,
    level: float,
    *,
    seed: int = 1,
    relabellings: int = RELABELLINGS,
) -> tuple[FeaturePartition, ...]:
    """Evidence from each feature that at least five golfers of both groups have, by themselves."""
    columns = _columns(pair)
    none = pair.curves[0].reshape(len(pair.curves[0]), -1)[:, :0]
    test = tested_together(
        pair,
        (none, pair.curves[1].reshape(len(pair.curves[1]), -1)[:, :0]),
        columns,
        np.random.default_rng(seed),
        level=level,
        relabellings=relabellings,
    )
    return _feature_evidence(names, pair, columns, test, level)


def _moving(pair: ComparedGroups, noise_cm: float) -> NDArray[np.bool_]:
    first, second = (group.reshape(len(group), -1) for group in pair.curves)
    moving = np.maximum(first.std(axis=0), second.std(axis=0)) > noise_cm
    if not moving.any():
        raise CohortRefused("no node moves more than the lab's noise", code="no_movement")
    return np.asarray(moving)


def _nodes(pair: ComparedGroups, moving: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    first, second = (group.reshape(len(group), -1)[:, moving] for group in pair.curves)
    return first, second


def _columns(pair: ComparedGroups) -> list[int]:
    """Features that at least five golfers of both groups have."""
    first, second = (np.isfinite(group) for group in pair.features)
    if pair.paired:
        first = second = first & second
    fewest = np.minimum(first.sum(axis=0), second.sum(axis=0))
    return [int(column) for column in np.flatnonzero(fewest >= FEWEST_GOLFERS)]


def _curve_evidence(
    pair: ComparedGroups,
    moving: NDArray[np.bool_],
    noise_cm: float,
    test: Differences,
    level: float,
) -> CurvePartition:
    first, second = _nodes(pair, moving)
    difference, low, high = standardised_difference(
        first, second, paired=pair.paired, smallest_sd=noise_cm
    )
    possible = float(np.maximum(np.abs(low), np.abs(high)).max())
    matters = float(np.abs(difference).max()) >= SMALLEST_DIFFERENCE_SD
    z = np.full(len(AXES) * NODES, np.nan)
    z[moving] = test.deviates[0]
    place = int(np.nanargmax(np.abs(z)))
    p_value = float(np.nanmin(test.p_values[0]))
    return CurvePartition(
        verdict=_verdict(p_value <= level and matters, possible),
        t=z.reshape(len(AXES), NODES),
        largest_t=float(np.abs(z[place])),
        critical_t=test.critical,
        p_value=p_value,
        axis=AXES[place // NODES],
        node=place % NODES,
        relabellings=test.relabellings,
        exact=test.exact,
        largest_difference_sd=float(np.abs(difference).max()),
        possible_difference_sd=possible,
    )


def _feature_evidence(
    names: tuple[str, ...],
    pair: ComparedGroups,
    columns: list[int],
    test: Differences,
    level: float,
) -> tuple[FeaturePartition, ...]:
    found = []
    for place, column in enumerate(columns):
        first, second = _present(
            pair.features[0][:, column], pair.features[1][:, column], paired=pair.paired
        )
        # A feature that nobody differs in is NaN in the test: no difference.
        p_values = [float(np.nan_to_num(part[place], nan=1.0)) for part in test.p_values[1:]]
        facts = _feature_facts(names[column], first, second, paired=pair.paired)
        found.append(_feature_answer(facts, (p_values[0], p_values[1]), level))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _FeatureFacts:
    """What is known of one feature beside the test."""

    name: str
    golfers: tuple[int, int]
    boyd: HarrisBoyd
    outside: ProportionsOutside
    possible_sd: float


def _present(
    first: FloatArray, second: FloatArray, *, paired: bool
) -> tuple[FloatArray, FloatArray]:
    here = ~np.isnan(first), ~np.isnan(second)
    if paired:
        both = here[0] & here[1]
        return first[both], second[both]
    return first[here[0]], second[here[1]]


def _feature_facts(
    name: str, first: FloatArray, second: FloatArray, *, paired: bool
) -> _FeatureFacts:
    _, low, high = standardised_difference(first, second, paired=paired)
    return _FeatureFacts(
        name=name,
        golfers=(len(first), len(second)),
        boyd=harris_boyd(first, second, paired=paired),
        outside=proportions_outside(first, second),
        possible_sd=float(max(abs(low), abs(high))),
    )


def _feature_answer(
    known: _FeatureFacts, p_values: tuple[float, float], level: float
) -> FeaturePartition:
    boyd, outside = known.boyd, known.outside
    mean_differs, spread_differs = (p <= level for p in p_values)
    beyond = outside.verdict == "partition"
    # Spreads that look unlike, were it by chance, keep a feature from being called shared.
    own = (mean_differs and (boyd.by_mean or beyond)) or (spread_differs and (boyd.by_sd or beyond))
    return FeaturePartition(
        feature=known.name,
        verdict=_verdict(own, np.inf if boyd.by_sd else known.possible_sd),
        golfers=known.golfers,
        means=boyd.means,
        sds=boyd.sds,
        z=boyd.z,
        z_critical=boyd.z_critical,
        sd_ratio=boyd.sd_ratio,
        below=outside.below,
        above=outside.above,
        limits=outside.limits,
        lahti=outside.verdict,
        mean_p=p_values[0],
        spread_p=p_values[1],
        possible_difference_sd=known.possible_sd,
    )


def _verdict(own: bool, possible_difference_sd: float) -> PartitionVerdict:
    if own:
        return "own"
    # A NaN (no spread in either group) shows nothing.
    return "shared" if possible_difference_sd < SMALLEST_DIFFERENCE_SD else "undecided"


def _together(verdicts: list[PartitionVerdict]) -> PartitionVerdict:
    if "own" in verdicts:
        return "own"
    return "shared" if set(verdicts) == {"shared"} else "undecided"


def _because(
    verdict: PartitionVerdict, curves: CurvePartition, features: tuple[FeaturePartition, ...]
) -> str:
    evidence = (
        f"curves: largest difference {curves.largest_t:.2f} errors "
        f"({curves.axis}, node {curves.node}) against "
        f"{curves.critical_t:.2f} by chance, p = {curves.p_value:.2g}, largest difference "
        f"{curves.largest_difference_sd:.2f} sd; at most {curves.possible_difference_sd:.2f} sd is "
        "possible"
    )
    if verdict == "own":
        own = [feature.feature for feature in features if feature.verdict == "own"]
        subjects = (["the curves"] if curves.verdict == "own" else []) + own
        return f"Own norms are needed for {', '.join(subjects)}. {evidence}."
    if verdict == "shared":
        return (
            "The groups may share norms: every difference is shown to be smaller than "
            f"{SMALLEST_DIFFERENCE_SD:.2f} sd. {evidence}."
        )
    return (
        "No difference that matters was found, and these golfers are too few to exclude one. "
        f"{evidence}."
    )
