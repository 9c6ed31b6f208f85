"""A standard: a person's decision, on an edition, of what the academy teaches and checks.

The norm (what golfers of the edition do) and the target (what is asked) stand apart: a
requirement carries its own limits, and beside them the evidence they were set on.
"""

from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from norms.records._arrays import FloatArray, freeze_fields, frozen_array, set_field
from norms.records.cohort import CohortDefinition
from norms.vocabulary import Axis

Verdict = Literal["met", "not yet", "cannot tell"]
VERDICTS: Final[tuple[Verdict, ...]] = ("met", "not yet", "cannot tell")
State = Literal["in review", "approved", "retired"]
SetBy = Literal["percentiles", "centiles", "numbers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One number of a swing that a standard asks for: a feature, or the mean of a stretch.

    Attributes
    ----------
    feature : str or None
        Name in the catalogue.
    axis : {"sway", "thrust", "lift"} or None
        Curve of which a stretch is taken; None for a feature.
    first_node, last_node : int
        Both included; the mean over these nodes in cm. 0 for a feature.
    """

    feature: str | None = None
    axis: Axis | None = None
    first_node: int = 0
    last_node: int = 0

    @property
    def key(self) -> str:
        """Stable name: that of the feature, or e.g. ``"lift@100-150"``."""
        return self.feature or f"{self.axis}@{self.first_node}-{self.last_node}"


@dataclass(frozen=True, slots=True, kw_only=True)
class NormRange:
    """What golfers of the evidence do in one quantity; describes and asks for nothing.

    Attributes
    ----------
    golfers : int
    percents : tuple of 2 floats or None
        Widest symmetric pair of percentiles that this many golfers support.
    low, median, high : float or None
    """

    golfers: int
    percents: tuple[float, float] | None = None
    low: float | None = None
    median: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """The acceptable range of one quantity.

    Attributes
    ----------
    quantity : Quantity
    low, high : float or None
        In the quantity's unit inside, both ends included; None leaves that side open.
    set_by : {"percentiles", "centiles", "numbers"}
    low_percent, high_percent : float or None
        Percentiles or centiles the limits were taken from.
    at_handicap : float or None
        Of centiles; plus handicaps negative.
    reason : str or None
        Why these numbers; always there for ``"numbers"``.
    priority : int
        1 is taught first.
    norm : NormRange
    """

    quantity: Quantity
    low: float | None
    high: float | None
    set_by: SetBy
    norm: NormRange
    low_percent: float | None = None
    high_percent: float | None = None
    at_handicap: float | None = None
    reason: str | None = None
    priority: int = 1

    def __post_init__(self) -> None:
        # A whole number and the same one with a point must give one text and one hash.
        for name in ("low", "high", "low_percent", "high_percent", "at_handicap"):
            value = getattr(self, name)
            set_field(self, name, None if value is None else float(value))

    @property
    def ends(self) -> tuple[float, float]:
        """Both limits, infinite where open."""
        low = -np.inf if self.low is None else self.low
        return low, np.inf if self.high is None else self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """What is asked of whom, on which evidence, and until when.

    Attributes
    ----------
    name, title : str
    edition, edition_hash : str
    evidence : str
        Key of the edition's cohort that the limits rest on.
    golfers : CohortDefinition
        For whom. Days, labs and quality of recording are no part of it.
    requirements : tuple of Requirement
    rationale : str
    cautions : tuple of str
    review_on : datetime.date
        Day by which a person looks at it again.
    swings, days : int
        Swings, over how many days, that a review is planned with.
    window_days : int
        A golfer is judged by the swings of this many days.
    wrong_rate : float
        Largest chance that a golfer who meets all of it is told "not yet" anywhere, and that one
        who does not meet a part is told that it is met.
    """

    name: str
    title: str
    edition: str
    edition_hash: str
    evidence: str
    golfers: CohortDefinition
    requirements: tuple[Requirement, ...]
    rationale: str
    cautions: tuple[str, ...]
    review_on: date
    swings: int = 5
    days: int = 1
    window_days: int = 90
    wrong_rate: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One step in the life of a standard, signed.

    Attributes
    ----------
    state : {"in review", "approved", "retired"}
        What the standard became.
    role, reason : str
        Who decided, as a role, and why.
    decided_on : datetime.date
    standard_hash, edition_hash : str
        What was decided on.
    override : str or None
        Signed reason for an approval below the sufficiency floor.
    """

    state: State
    role: str
    reason: str
    decided_on: date
    standard_hash: str
    edition_hash: str
    override: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardFinding:
    """What a check of a standard against its evidence says about one place of it.

    Attributes
    ----------
    severity : {"refused", "warning"}
    code : str
    message : str
    requirement : int or None
        Place among the requirements, from 0; None for the whole.
    key : str or None
        Key of the file that the finding is about.
    """

    severity: Literal["refused", "warning"]
    code: str
    message: str
    requirement: int | None = None
    key: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuantityErrors:
    """Measurement error of the d quantities of a standard, for one swing.

    Attributes
    ----------
    swing_sd, day_sd : ndarray, shape (d,)
        In the quantity's unit; ``day_sd`` is NaN where no golfer was measured on two days.
    caution_factor : ndarray, shape (d,)
        At least 1: upper limit of the standard error over its value. An error known from few
        golfers thereby makes more "cannot tell" and not more wrong verdicts.
    individuality : ndarray, shape (d,)
        Within-golfer over between-golfer standard deviation.
    confidence : float
        Of the smallest detectable change.
    """

    swing_sd: FloatArray
    day_sd: FloatArray
    caution_factor: FloatArray
    individuality: FloatArray
    confidence: float

    def __post_init__(self) -> None:
        names = ("swing_sd", "day_sd", "caution_factor", "individuality")
        freeze_fields(self, dict.fromkeys(names, (len(self.swing_sd),)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReviewSwings:
    """The swings of one club with the quantities of a standard, and nothing else of them.

    Attributes
    ----------
    swings, golfers, labs : tuple of str
        s entries each; codes of the swings may be left empty.
    recorded_on : tuple of datetime.date
    values : ndarray, shape (s, d)
        NaN where a swing does not give the quantity.
    """

    golfers: tuple[str, ...]
    labs: tuple[str, ...]
    recorded_on: tuple[date, ...]
    values: FloatArray
    swings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        shape = (len(self.golfers), None)
        set_field(self, "values", frozen_array("values", self.values, shape))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GolferMeans:
    """What a review knows of each golfer: mean and standard error of every quantity.

    Attributes
    ----------
    golfers : tuple of str
        n codes, sorted.
    swings, days : ndarray of int, shape (n,)
    values, errors : ndarray, shape (n, d)
        Mean over the golfer's swings and its standard error; NaN where it is not known.
    left_out : tuple of (str, int)
        Swings that were not used, by reason in words.
    """

    golfers: tuple[str, ...]
    swings: NDArray[np.int64]
    days: NDArray[np.int64]
    values: FloatArray
    errors: FloatArray
    left_out: tuple[tuple[str, int], ...] = ()

    def __post_init__(self) -> None:
        n = len(self.golfers)
        for name in ("swings", "days"):
            set_field(self, name, frozen_array(name, getattr(self, name), (n,), dtype="int64"))
        for name in ("values", "errors"):
            set_field(self, name, frozen_array(name, getattr(self, name), (n, None)))


@dataclass(frozen=True, slots=True, kw_only=True)
class PartVerdict:
    """One requirement and one golfer.

    Attributes
    ----------
    key : str
        Of the quantity.
    verdict : {"met", "not yet", "cannot tell"}
    value, error : float or None
        Mean and its standard error.
    gap : float or None
        Distance outside the range; 0 inside.
    smallest_change : float or None
        Smallest detectable change of two such means.
    why : str or None
        Reason of a "cannot tell" that more swings alone do not mend.
    """

    key: str
    verdict: Verdict
    value: float | None
    error: float | None
    gap: float | None
    smallest_change: float | None
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GolferVerdict:
    """A golfer against a standard: met where every part is, not yet where any part is not.

    Attributes
    ----------
    golfer : str
    verdict : {"met", "not yet", "cannot tell"}
    swings, days : int
    parts : tuple of PartVerdict
        In the order of the requirements.
    close : bool
        The mean of some part lies outside, but of none by more than the smallest detectable change
        of a planned review.
    """

    golfer: str
    verdict: Verdict
    swings: int
    days: int
    parts: tuple[PartVerdict, ...]
    close: bool
