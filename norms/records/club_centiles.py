"""Centiles by handicap of one club: of every feature and of the three curves."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from norms.records._arrays import set_field
from norms.records.centile_readings import CentileCrossCheck
from norms.records.centiles import CentilePlan, Centiles


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClubCentiles:
    """What a club's golfers say about handicap.

    Attributes
    ----------
    club : str
    cohort_key : str
        Cohort whose golfers' means were fitted.
    golfers : int
        Of the cohort, those with a handicap.
    without_handicap : int
        Of the cohort, those left out of the fit.
    plan : CentilePlan
    features : Mapping of str to Centiles
        By feature; each with the covariates that its golfers bear.
    withheld : Mapping of str to str
        Reason by feature, for those without a fit.
    curves : tuple of 3 Centiles
        Sway, thrust, lift.
    cross_checks : Mapping of str to CentileCrossCheck
        By feature, and by node (``"sway@50"`` …) for some nodes of the curves; those that too few
        golfers allow are missing.
    """

    club: str
    cohort_key: str
    golfers: int
    without_handicap: int
    plan: CentilePlan
    features: Mapping[str, Centiles]
    withheld: Mapping[str, str] = field(default_factory=dict)
    curves: tuple[Centiles, ...] = ()
    cross_checks: Mapping[str, CentileCrossCheck] = field(default_factory=dict)

    def __post_init__(self) -> None:
        set_field(self, "features", dict(self.features))
        set_field(self, "withheld", dict(self.withheld))
        set_field(self, "cross_checks", dict(self.cross_checks))
