"""A cohort weighed to the membership: what the weights cost and what they move."""

from dataclasses import dataclass

from norms.records._arrays import FloatArray, freeze_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginShare:
    """One kind of golfer, as a share of the membership and of the cohort.

    Attributes
    ----------
    margin : {"level", "sex", "age"}
    categories : tuple of str
        Several where a category alone holds too few golfers of the cohort.
    membership, cohort : float
        Shares, 0 to 1, in whole percents.
    """

    margin: str
    categories: tuple[str, ...]
    membership: float
    cohort: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AbsentKind:
    """A kind of member of whom the cohort holds nobody."""

    margin: str
    category: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighting:
    """What weights to the membership do to a cohort; no golfer's weight is in it.

    Attributes
    ----------
    cohort_key : str
    golfers : int
    margins : tuple of MarginShare
        What the weights bring to agree, margin by margin.
    not_weighed : tuple of str
        Margins in which the cohort holds enough golfers of no more than one kind.
    absent : tuple of AbsentKind
        For whom the weights do not speak.
    reach : float
        Share of the membership for whom they do, in whole percents.
    design_effect : float
        How many times larger the variance of a mean becomes (Kish), to 2 decimals.
    effective_golfers : float
        Golfers over the design effect, to 1 decimal.
    percents : tuple of float
    confidence : float
    feature_names : tuple of str
    value, low, high : ndarray, shape (q, d)
        Percentiles under the weights and their intervals, in the features' units, each as far
        from its unweighted one as a whole number of steps of about a tenth of the interval's
        width; NaN where the weights leave too few golfers.
    """

    cohort_key: str
    golfers: int
    margins: tuple[MarginShare, ...]
    not_weighed: tuple[str, ...]
    absent: tuple[AbsentKind, ...]
    reach: float
    design_effect: float
    effective_golfers: float
    percents: tuple[float, ...]
    confidence: float
    feature_names: tuple[str, ...]
    value: FloatArray
    low: FloatArray
    high: FloatArray

    def __post_init__(self) -> None:
        shape = (len(self.percents), len(self.feature_names))
        freeze_fields(self, dict.fromkeys(("value", "low", "high"), shape))
