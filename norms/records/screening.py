"""Golfers whose curves or features stand out, for a person to look at. Nothing is removed."""

from dataclasses import dataclass
from typing import Literal

from norms.records._arrays import FloatArray, frozen_array, set_field

OutlierReason = Literal["level", "shape", "timing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlierFlag:
    """One golfer standing out in one respect.

    Attributes
    ----------
    golfer : str
    subject : str
        An axis, for its whole curve, or a feature.
    reason : {"level", "shape", "timing"}
        Farther out than others, moving differently, or at another time.
    method : str
        The rule that pointed, in words.
    value : float
        What was judged: for a curve its level or shape score in robust standard deviations, for a
        feature its value in the feature's unit.
    low, high : float
        Where the rule begins to point; infinite where it does not look on that side.
    message : str
        One sentence for a person.
    """

    golfer: str
    subject: str
    reason: OutlierReason
    method: str
    value: float
    low: float
    high: float
    message: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Screening:
    """The result of screening one cohort.

    Attributes
    ----------
    cohort_key : str
    golfers : tuple of str
        n codes, as in the cohort: all of them, flagged or not.
    depth : ndarray, shape (n,)
        Modified band depth of each golfer's three curves taken together.
    noise_cm : float
        Smallest spread of a node that counted as movement.
    flags : tuple of OutlierFlag
        In the order of golfers, then curves before features.
    """

    cohort_key: str
    golfers: tuple[str, ...]
    depth: FloatArray
    noise_cm: float
    flags: tuple[OutlierFlag, ...]

    def __post_init__(self) -> None:
        set_field(self, "depth", frozen_array("depth", self.depth, (len(self.golfers),)))

    def flagged(self) -> tuple[str, ...]:
        """Golfers with at least one flag, in order."""
        named = {flag.golfer for flag in self.flags}
        return tuple(golfer for golfer in self.golfers if golfer in named)
