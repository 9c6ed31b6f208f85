"""An edition: a frozen, hashed build of norms for a set of cohorts."""

from collections.abc import Mapping
from dataclasses import dataclass

from norms.records._arrays import set_field
from norms.records.bands import Bands
from norms.records.cohort import Cohort


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
    """

    cohort: Cohort
    bands: Bands | None
    withheld: str | None = None


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
    """

    name: str
    cells: tuple[CohortNorms, ...]
    parameters: Mapping[str, object]
    content_hash: str
    attrition: Mapping[str, int]

    def __post_init__(self) -> None:
        set_field(self, "parameters", dict(self.parameters))
        set_field(self, "attrition", dict(self.attrition))

    def cell(self, key: str) -> CohortNorms | None:
        """The cell of a cohort key, or None."""
        return next((c for c in self.cells if c.cohort.definition.key == key), None)
