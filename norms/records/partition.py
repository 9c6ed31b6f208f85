"""Whether two groups need norms of their own: the answer and its evidence, "no" as well."""

from dataclasses import dataclass
from typing import Literal

from norms.records._arrays import FloatArray, frozen_array, set_field
from norms.vocabulary import NODES

PartitionVerdict = Literal["own", "shared", "undecided"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvePartition:
    """Evidence from the whole curves.

    Attributes
    ----------
    verdict : {"own", "shared", "undecided"}
    t : ndarray, shape (3, 301)
        Welch's t, or the paired t, of the difference of means at every node, as the standard normal
        deviate of the same tail; NaN where the spread is below the lab's noise.
    largest_t, critical_t, p_value : float
        Largest absolute t over all axes and nodes; what nodes, means and spreads of features
        together would exceed by chance at ``level``; the permutation p value, adjusted for all.
    axis, node :
        Where the largest t is.
    relabellings : int
        Relabellings of golfers counted.
    exact : bool
        Whether they were all there are.
    largest_difference_sd : float
        Largest absolute difference of means, in the groups' common standard deviation.
    possible_difference_sd : float
        Largest difference that the 90 % intervals of the nodes still allow.
    """

    verdict: PartitionVerdict
    t: FloatArray
    largest_t: float
    critical_t: float
    p_value: float
    axis: str
    node: int
    relabellings: int
    exact: bool
    largest_difference_sd: float
    possible_difference_sd: float

    def __post_init__(self) -> None:
        set_field(self, "t", frozen_array("t", self.t, (3, NODES)))


@dataclass(frozen=True, slots=True, kw_only=True)
class FeaturePartition:
    """Evidence from one feature; pairs are (first group, second group).

    Attributes
    ----------
    feature : str
    verdict : {"own", "shared", "undecided"}
    golfers : tuple of 2 ints
    means, sds : tuple of 2 floats
        In the feature's unit.
    z, z_critical, sd_ratio : float
        Harris and Boyd's criteria.
    below, above : tuple of 2 floats
        Share of each group below the common 2.5th, above the common 97.5th percentile.
    limits : tuple of 2 floats
        Those percentiles.
    lahti : {"partition", "combine", "marginal"}
    mean_p, spread_p : float
        P values of a difference of means, and of spreads beyond the noise of each golfer's swings,
        adjusted for nodes and features together.
    possible_difference_sd : float
        Largest difference of means that its 90 % interval still allows, in standard deviations.
    """

    feature: str
    verdict: PartitionVerdict
    golfers: tuple[int, int]
    means: tuple[float, float]
    sds: tuple[float, float]
    z: float
    z_critical: float
    sd_ratio: float
    below: tuple[float, float]
    above: tuple[float, float]
    limits: tuple[float, float]
    lahti: Literal["partition", "combine", "marginal"]
    mean_p: float
    spread_p: float
    possible_difference_sd: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartitionAnswer:
    """One question of partitioning, answered and kept.

    Attributes
    ----------
    question : str
        E.g. ``"sex, among driver swings"``.
    groups : tuple of 2 str
        Labels of the two groups.
    golfers : tuple of 2 ints
    paired : bool
        True where the same golfers stand in both groups (two clubs): each is compared with
        themselves.
    left_out : int
        Golfers of either group that a paired comparison could not use.
    verdict : {"own", "shared", "undecided"}
        ``"own"`` if the curves or any feature need norms of their own, ``"shared"`` if all are
        shown to be near enough, else ``"undecided"``.
    because : str
        One or two sentences.
    curves : CurvePartition
    features : tuple of FeaturePartition
    level : float
        Chance of a false "own" that curves and features together were held to.
    seed : int
    questions : int
        Questions asked together; ``level`` is this one's share of a level common to all.
    median_handicaps : tuple of 2 (float or None)
        Of the golfers of each group who have one: groups of different level differ for that
        reason too.
    """

    question: str
    groups: tuple[str, str]
    golfers: tuple[int, int]
    paired: bool
    left_out: int
    verdict: PartitionVerdict
    because: str
    curves: CurvePartition
    features: tuple[FeaturePartition, ...]
    level: float
    seed: int
    questions: int = 1
    median_handicaps: tuple[float | None, float | None] = (None, None)
