"""An edition: a frozen, hashed build of norms for a set of cohorts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from norms.records._arrays import set_field
from norms.records.annex import Annex
from norms.records.bands import Bands
from norms.records.cohort import Cohort

IMPORTED: Final = "imported"
"""Kind of the evidence that says where an edition came from."""
VERIFIED: Final = "verified"
"""Kind of the evidence that says how its groups held for local golfers, by cohort key."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CohortNorms:
    """One cell of an edition.

    Attributes
    ----------
    cohort : Cohort
        Definition and golfer means. They stay inside the store: they let a placement leave its
        own golfer out.
    bands : Bands or None
        ``None`` where the cell is withheld.
    withheld : str or None
        Why there are no bands, in one sentence.
    golfers, swings : int or None
        Counts of an edition from elsewhere, which came without its golfers; read `counts`.
    """

    cohort: Cohort
    bands: Bands | None
    withheld: str | None = None
    golfers: int | None = None
    swings: int | None = None

    @property
    def elsewhere(self) -> bool:
        """Whether the golfers stayed in another academy."""
        return self.golfers is not None

    @property
    def counts(self) -> tuple[int, int]:
        """Golfers and swings of the cell, whether the golfers themselves are here or not."""
        if self.golfers is not None and self.swings is not None:
            return self.golfers, self.swings
        return len(self.cohort.golfers), int(self.cohort.swing_counts.sum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edition:
    """Norms frozen under a name.

    Attributes
    ----------
    name : str
    cells : tuple of CohortNorms
        In order of cohort key.
    parameters : Mapping of str to (str, int, float or list)
        Everything that decides a number: percentiles, quantile type, confidence, smallest cell,
        levels, software versions.
    content_hash : str
        SHA-256 over definitions, counts, parameters and numbers; not over name or build time.
    attrition : Mapping of str to int
        Swings left out of the edition, by rule, in words.
    evidence : Mapping of str to plain JSON values
        By kind, what stands beside the numbers and explains them: attrition of each cohort,
        exclusions with who and why, who is missing. Not under the hash, because some of it names
        golfers, and never exported.
    annexes : tuple of Annex
        What is known beside the bands, by kind and subject; under the hash.
    """

    name: str
    cells: tuple[CohortNorms, ...]
    parameters: Mapping[str, object]
    content_hash: str
    attrition: Mapping[str, int]
    evidence: Mapping[str, object] = field(default_factory=dict)
    annexes: tuple[Annex, ...] = ()

    def __post_init__(self) -> None:
        set_field(self, "parameters", dict(self.parameters))
        set_field(self, "attrition", dict(self.attrition))
        set_field(self, "evidence", dict(self.evidence))

    @property
    def imported(self) -> bool:
        """Whether it came from another academy, without its golfers."""
        return IMPORTED in self.evidence

    def cell(self, key: str) -> CohortNorms | None:
        """The cell of a cohort key, or None."""
        return next((c for c in self.cells if c.cohort.definition.key == key), None)
