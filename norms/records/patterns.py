"""Patterns: families of alike swings of one club, or the answer that there are none.

Letters: n golfers, c components, k patterns, m numbers of swings.
"""

from dataclasses import dataclass
from typing import Literal

from norms.records._arrays import FloatArray, freeze_fields
from norms.vocabulary import AXES, NODES

Family = Literal["spherical", "diagonal", "tied", "full"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternFeature:
    """One feature by which a pattern differs from all other golfers.

    Attributes
    ----------
    feature : str
    difference : float
        Mean of the pattern minus mean of the rest, in the catalogue's unit, level allowed for.
    spreads : float
        The same in standard deviations between golfers.
    """

    feature: str
    difference: float
    spreads: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """A family of alike swings.

    Attributes
    ----------
    key : str
        Stable word that survives a rebuild, e.g. ``"P1"``.
    name : str
        Plain words from the most distinguishing features.
    golfers : int
        For whom it is the most likely pattern.
    share, share_low, share_high : float
        Of the golfers, with a 90 % interval.
    stability : float
        Mean Jaccard similarity when golfers are resampled.
    grade : str
        Its reading.
    medoid : int
        Place, among the golfers of the club's cell of all levels, of the golfer nearest the
        middle of the pattern.
    mean_cm : ndarray, shape (3, 301)
    features : tuple of PatternFeature
        Most distinguishing first.
    level_shares : tuple of float
        Share of each level's golfers in this pattern, in the order of `Patterns.levels`; NaN for
        a level of fewer than five.
    """

    key: str
    name: str
    golfers: int
    share: float
    share_low: float
    share_high: float
    stability: float
    grade: str
    medoid: int
    mean_cm: FloatArray
    features: tuple[PatternFeature, ...]
    level_shares: tuple[float, ...]

    def __post_init__(self) -> None:
        freeze_fields(self, {"mean_cm": (len(AXES), NODES)})


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternCount:
    """How one number of patterns fared.

    Attributes
    ----------
    patterns : int
    bic : float
        Smaller is better.
    least_stability : float
        Of its patterns, NaN where stability was not asked because the criterion ruled it out.
    least_sure : float
        Mean probability of their own pattern, of the golfers of the least clear one.
    smallest : int
        Golfers of the smallest.
    """

    patterns: int
    bic: float
    least_stability: float
    least_sure: float
    smallest: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patterns:
    """The division of a club's golfers, frozen; with one part where there are no types.

    Attributes
    ----------
    club : str
    golfers : int
    reason : str
        What was found and why, in one sentence.
    found : tuple of Pattern
        Empty where golfers form one cloud.
    counts : tuple of PatternCount
        One cloud first, that the others can be held against it.
    cloud_p : float
        Of the test that one Gaussian cloud improves as much; 1 where nothing improved.
    simulations : int
        Behind it.
    levels : tuple of str
    level_golfers : tuple of int
    family : {"spherical", "diagonal", "tied", "full"}
    weights, means, covariances : ndarray, shapes (k,), (k, c), (k, c, c)
        Of the scores, the golfer's level taken off.
    memberships : ndarray, shape (n, k)
        In the order of the golfers of the club's cell of all levels; none in an edition's annex,
        where they are evidence that stays in the academy.
    strangeness : ndarray, shape (m, n)
        Minus the log density of each golfer, from golfers without them, when seen by so many
        swings: what a newcomer is ranked among to say that no pattern fits. In the same order; in
        an annex every row rises, so that no column is a golfer.
    strangeness_swings : tuple of m int
    agreement : float
        Share of single swings that fall, on their own, into the pattern of their golfer.
    agreement_by_chance : float
        The same if swings of one golfer had nothing in common.
    matched : str or None
        Edition whose patterns these were matched to.
    changes : tuple of str
        What differs from that edition, in sentences.
    """

    club: str
    golfers: int
    reason: str
    found: tuple[Pattern, ...]
    counts: tuple[PatternCount, ...]
    cloud_p: float
    simulations: int
    levels: tuple[str, ...]
    level_golfers: tuple[int, ...]
    family: Family
    weights: FloatArray
    means: FloatArray
    covariances: FloatArray
    memberships: FloatArray
    strangeness: FloatArray
    strangeness_swings: tuple[int, ...]
    agreement: float
    agreement_by_chance: float
    matched: str | None = None
    changes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        k, c = self.means.shape
        freeze_fields(
            self,
            {
                "weights": (k,),
                "means": (k, c),
                "covariances": (k, c, c),
                "memberships": (None, k),
                "strangeness": (len(self.strangeness_swings), self.golfers),
            },
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Typicality:
    """How far each golfer of a cell lies from the others, seen by one swing or several.

    Attributes
    ----------
    cohort_key : str
    swings : tuple of m int
        Swings, or fewer where a golfer has no more, whose mean is held against the others.
    overall_cm : ndarray, shape (m, n)
        Overall deviation from the other golfers, in the order of the cell's golfers; in an
        edition's annex every row rises, so that no column is a golfer.
    log_mean, log_sd : float
        Of the natural logarithm of the golfers' own means' overall deviations: constants of the
        deviation index.
    """

    cohort_key: str
    swings: tuple[int, ...]
    overall_cm: FloatArray
    log_mean: float
    log_sd: float

    def __post_init__(self) -> None:
        freeze_fields(self, {"overall_cm": (len(self.swings), None)})
