"""Do two groups of golfers need norms of their own? An answer with its evidence."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.errors import CohortRefused
from norms.records import Cohort
from norms.records.partition import (
    CurvePartition,
    FeaturePartition,
    PartitionAnswer,
    PartitionVerdict,
)
from norms.statistics.multiplicity import adjust_p_values
from norms.statistics.partitioning import (
    SMALLEST_DIFFERENCE_SD,
    HarrisBoyd,
    ProportionsOutside,
    harris_boyd,
    mean_p_value,
    proportions_outside,
    spread_p_value,
    standardised_difference,
)
from norms.statistics.permutation import (
    RELABELLINGS,
    max_t_between_groups,
    max_t_within_golfers,
)
from norms.vocabulary import AXES, NODES

FloatArray = NDArray[np.float64]

FEWEST_GOLFERS: Final = 5
"""Fewest golfers a group may have: below, the academy's privacy minimum is broken."""


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
    Beyond chance: for curves the golfer-level permutation test of the largest |t| over all axes
    and nodes, for features Holm's adjustment over all of them. Large enough: Harris and Boyd's
    criteria, or Lahti's share of a group outside the common limits.

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
        Chance of a false "own" for the curves, and for the features together.
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
    pair = _comparable(question, first, second)
    curves = _curve_evidence(pair, noise_cm, seed, level, relabellings)
    features = feature_evidence(first.feature_names, pair, level)
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparedGroups:
    """Two groups in which no golfer counts twice, or the same golfers in the same order."""

    curves: tuple[FloatArray, FloatArray]
    features: tuple[FloatArray, FloatArray]
    paired: bool
    left_out: int


def _comparable(question: str, first: Cohort, second: Cohort) -> ComparedGroups:
    shared = set(first.golfers) & set(second.golfers)
    everyone = len(set(first.golfers) | set(second.golfers))
    paired = 2 * len(shared) >= min(len(first.golfers), len(second.golfers))
    kept = [
        [i for i, golfer in enumerate(cohort.golfers) if (golfer in shared) == paired]
        for cohort in (first, second)
    ]
    fewest = min(len(rows) for rows in kept)
    if fewest < FEWEST_GOLFERS:
        raise CohortRefused(
            f"{question}: {fewest} golfers to compare in a group; {FEWEST_GOLFERS} are needed",
            code="too_few_golfers",
        )
    return ComparedGroups(
        curves=(first.curves_cm[kept[0]], second.curves_cm[kept[1]]),
        features=(first.features[kept[0]], second.features[kept[1]]),
        paired=paired,
        left_out=everyone - (len(shared) if paired else len(kept[0]) + len(kept[1])),
    )


def _curve_evidence(
    pair: ComparedGroups, noise_cm: float, seed: int, level: float, relabellings: int
) -> CurvePartition:
    first, second = (group.reshape(len(group), -1) for group in pair.curves)
    moving = np.maximum(first.std(axis=0), second.std(axis=0)) > noise_cm
    if not moving.any():
        raise CohortRefused("no node moves more than the lab's noise", code="no_movement")
    first, second = first[:, moving], second[:, moving]
    rng = np.random.default_rng(seed)
    if pair.paired:
        test = max_t_within_golfers(first - second, rng, level=level, relabellings=relabellings)
    else:
        test = max_t_between_groups(first, second, rng, level=level, relabellings=relabellings)
    difference, low, high = standardised_difference(
        first, second, paired=pair.paired, smallest_sd=noise_cm
    )
    possible = float(np.maximum(np.abs(low), np.abs(high)).max())
    matters = float(np.abs(difference).max()) >= SMALLEST_DIFFERENCE_SD
    t = np.full(len(AXES) * NODES, np.nan)
    t[moving] = test.t
    place = int(np.flatnonzero(moving)[test.node])
    return CurvePartition(
        verdict=_verdict(test.p_value <= level and matters, possible),
        t=t.reshape(len(AXES), NODES),
        largest_t=test.largest,
        critical_t=test.critical,
        p_value=test.p_value,
        axis=AXES[place // NODES],
        node=place % NODES,
        relabellings=test.relabellings,
        exact=test.exact,
        largest_difference_sd=float(np.abs(difference).max()),
        possible_difference_sd=possible,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _FeatureFacts:
    """What is known of one feature before all are adjusted together."""

    name: str
    golfers: tuple[int, int]
    boyd: HarrisBoyd
    outside: ProportionsOutside
    p_values: tuple[float, float]
    possible_sd: float


def feature_evidence(
    names: tuple[str, ...], pair: ComparedGroups, level: float
) -> tuple[FeaturePartition, ...]:
    """Evidence from each feature that at least five golfers of both groups have."""
    facts = []
    for name, first, second in zip(names, pair.features[0].T, pair.features[1].T, strict=True):
        first, second = _present(first, second, paired=pair.paired)
        if min(len(first), len(second)) >= FEWEST_GOLFERS:
            facts.append(_feature_facts(name, first, second, paired=pair.paired))
    adjusted = adjust_p_values([p for known in facts for p in known.p_values], "holm")
    return tuple(
        _feature_answer(known, (float(mean_p), float(spread_p)), level)
        for known, (mean_p, spread_p) in zip(facts, adjusted.reshape(-1, 2), strict=True)
    )


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
        p_values=(
            mean_p_value(first, second, paired=paired),
            spread_p_value(first, second, paired=paired),
        ),
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
        f"curves: largest |t| {curves.largest_t:.2f} ({curves.axis}, node {curves.node}) against "
        f"{curves.critical_t:.2f}, p = {curves.p_value:.2g}, largest difference "
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
