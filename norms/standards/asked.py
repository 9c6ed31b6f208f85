"""A standard as a person writes it, before its limits are read off an edition."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from norms.records import CohortDefinition
from norms.records.standard import Quantity, SetBy
from norms.vocabulary import Sex

CAUTIONS: Final[tuple[str, ...]] = (
    "Better players moving in some way does not mean that moving so makes a player better: "
    "association is not cause.",
    "A change to the swing loads the back and the hips. With pain, or after an injury, a licensed "
    "physician or physiotherapist comes first, whatever stands here.",
    "With juniors, who are still growing, nobody trains toward these numbers alone: a qualified "
    "coach decides what is changed and how much is practised, and the body's growth comes first.",
    "The coach at hand may set this sheet aside for a golfer's body, age or history.",
)
"""On every sheet, whatever else a standard says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeAsked:
    """How the limits of one requirement are to be set; each side may be left open.

    Attributes
    ----------
    low, high : float or None
        Numbers, in the quantity's unit inside; need a reason.
    low_percentile, high_percentile : float or None
        Of the evidence's golfers.
    low_centile, high_centile : float or None
        Conditional on ``at_handicap``.
    at_handicap : float or None
    sex : {"female", "male"} or None
    age : int or None
        Of the golfer whose centile is meant, where the centiles depend on them.
    reason : str or None
    """

    low: float | None = None
    high: float | None = None
    low_percentile: float | None = None
    high_percentile: float | None = None
    low_centile: float | None = None
    high_centile: float | None = None
    at_handicap: float | None = None
    sex: Sex | None = None
    age: int | None = None
    reason: str | None = None

    @property
    def ways(self) -> tuple[SetBy, ...]:
        """Which of the three ways are used; exactly one is wanted."""
        told: tuple[tuple[SetBy, float | None, float | None], ...] = (
            ("numbers", self.low, self.high),
            ("percentiles", self.low_percentile, self.high_percentile),
            ("centiles", self.low_centile, self.high_centile),
        )
        return tuple(way for way, low, high in told if (low, high) != (None, None))

    @property
    def percents(self) -> tuple[float | None, float | None]:
        """Percentiles or centiles asked for."""
        if self.ways == ("centiles",):
            return self.low_centile, self.high_centile
        return self.low_percentile, self.high_percentile


@dataclass(frozen=True, slots=True, kw_only=True)
class RequirementAsked:
    """One quantity and how its range is to be set."""

    quantity: Quantity
    range: RangeAsked
    priority: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardAsked:
    """A standard as written; see ``norms.records.standard.Standard`` for the fields.

    Attributes
    ----------
    golfers : CohortDefinition or None
        Narrower rules of for whom it is; None for the golfers of the evidence.
    edition_hash : str or None
        Of the edition it was drafted on; None where the file does not say.
    """

    name: str
    title: str
    edition: str
    evidence: str
    requirements: tuple[RequirementAsked, ...]
    rationale: str
    review_on: date
    golfers: CohortDefinition | None = None
    cautions: tuple[str, ...] = ()
    edition_hash: str | None = None
    swings: int = 5
    days: int = 1
    window_days: int = 90
    wrong_rate: float = 0.05
