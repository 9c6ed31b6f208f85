"""Do another academy's norms hold for our golfers? Some twenty local golfers decide."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from norms.errors import CohortRefused
from norms.records import Bands, Cohort, CohortNorms
from norms.statistics.multiplicity import adjust_p_values

FloatArray = NDArray[np.float64]
Verdict = Literal["accept", "do not accept"]

JUDGED_FEATURES: Final = (
    "sway_top",
    "sway_back",
    "sway_impact",
    "thrust_top",
    "thrust_impact",
    "lift_top",
    "lift_low",
    "lift_impact",
    "tempo",
)
"""Fixed beforehand: where the three curves stand at the events, how far they go, and the timing.
More features would each cost the others power."""

FEWEST_GOLFERS: Final = 15
FALSE_REFUSAL_RATE: Final = 0.10
DRAWS: Final = 20_000

RULE: Final = (
    "Each local golfer falls between two neighbouring percentiles of the edition. For each judged "
    "feature the mean normal score of these places (are our golfers elsewhere?) and the mean of "
    "their squares (are they spread otherwise?) are held against what golfers of the edition's own "
    "population would give, the edition's limited count included; the larger of the two decides. "
    "Adjusted by Holm over the features; refused where any feature stays below the stated rate."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureCheck:
    """One feature of the local golfers against the edition.

    Attributes
    ----------
    feature : str
    golfers : int
        Local golfers who have it.
    edition_median, local_median : float
    below_median, outside : int
        Local golfers below the edition's median, and outside its outermost limits.
    outside_expected : float
        How many of them the edition's own population would have outside.
    location, spread : float
        Scores in standard deviations; 0 as expected, positive for higher, and for wider.
    p_value : float
        Adjusted for the number of features.
    """

    feature: str
    golfers: int
    edition_median: float
    local_median: float
    below_median: int
    outside: int
    outside_expected: float
    location: float
    spread: float
    p_value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorRates:
    """How often the verdict errs, for this many golfers here and there.

    Attributes
    ----------
    false_refusal : float
        Largest chance of refusing norms that hold.
    found_shift_half, found_shift_one : float
        Chance of refusing, by one feature alone, norms whose golfers lie half a standard deviation
        of golfers away, or a whole one.
    found_spread_half_more : float
        The same where ours are spread one and a half times as widely.
    """

    false_refusal: float
    found_shift_half: float
    found_shift_one: float
    found_spread_half_more: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Adoption:
    """Verdict on one group of another academy's edition.

    Attributes
    ----------
    cohort_key, cohort_label : str
    verdict : {"accept", "do not accept"}
    edition_golfers, local_golfers : int
    checks : tuple of FeatureCheck
    refused_by : tuple of str
        Features that decided against it.
    error_rates : ErrorRates
    rule : str
    """

    cohort_key: str
    cohort_label: str
    verdict: Verdict
    edition_golfers: int
    local_golfers: int
    checks: tuple[FeatureCheck, ...]
    refused_by: tuple[str, ...]
    error_rates: ErrorRates
    rule: str = RULE


def verify_cell(
    cell: CohortNorms,
    local: Cohort,
    rng: np.random.Generator,
    *,
    features: Sequence[str] = JUDGED_FEATURES,
    false_refusal_rate: float = FALSE_REFUSAL_RATE,
    draws: int = DRAWS,
) -> Adoption:
    """Hold local golfers against one group of another academy's edition.

    Parameters
    ----------
    cell : CohortNorms
        Of the edition to adopt; its golfers are not needed.
    local : Cohort
        Local golfers of the same definition, none of whom is in the edition.
    rng : numpy.random.Generator
    features : sequence of str
        Judged features, chosen before the local golfers were looked at.
    false_refusal_rate : float
    draws : int
        Simulated local groups behind each p value and error rate.

    Returns
    -------
    Adoption

    Raises
    ------
    CohortRefused
        If the group is withheld, shows too few percentiles, or too few local golfers have a
        judged feature.

    References
    ----------
    Verifying reference limits on some 20 local subjects: CLSI EP28-A3c. Counts between order
    statistics of n golfers are Dirichlet-multinomial, whatever the distribution: Wilks (1942),
    Ann. Math. Stat. 13:400.
    """
    bands = _bands(cell, features)
    counts = {feature: _local_values(local, feature) for feature in features}
    raw, checks, nulls = [], [], {}
    for feature, values in counts.items():
        percents, limits = _limits(bands, feature)
        there = int(bands.feature_golfers[bands.feature_names.index(feature)])
        setting = (there, values.size, percents)
        if setting not in nulls:
            nulls[setting] = _Null.simulated(there, values.size, percents, rng, draws)
        check, p_value = _check(feature, values, limits, nulls[setting])
        checks.append(check)
        raw.append(p_value)
    adjusted = adjust_p_values(raw, "holm")
    judged = [_with_p(check, float(p)) for check, p in zip(checks, adjusted, strict=True)]
    against = tuple(check.feature for check in judged if check.p_value <= false_refusal_rate)
    smallest = min(nulls.values(), key=lambda null: null.local)
    return Adoption(
        cohort_key=cell.cohort.definition.key,
        cohort_label=cell.cohort.definition.label,
        verdict="do not accept" if against else "accept",
        edition_golfers=cell.counts[0],
        local_golfers=len(local.golfers),
        checks=tuple(judged),
        refused_by=against,
        error_rates=_error_rates(smallest, len(features), false_refusal_rate, rng, draws),
    )


def adoption_document(adoption: Adoption) -> dict[str, Any]:
    """A verdict as plain JSON values; it names no golfer."""
    return asdict(adoption)


def _bands(cell: CohortNorms, features: Sequence[str]) -> Bands:
    label = cell.cohort.definition.label
    if cell.bands is None:
        raise CohortRefused(
            f"{label}: is withheld in the edition ({cell.withheld}); there is nothing to adopt",
            code="withheld",
        )
    lacking = [feature for feature in features if feature not in cell.bands.feature_names]
    if lacking:
        raise CohortRefused(
            f"{label}: the edition has no feature {lacking[0]!r}; name others", code="feature"
        )
    return cell.bands


def _local_values(local: Cohort, feature: str) -> FloatArray:
    label = local.definition.label
    if feature not in local.feature_names:
        raise CohortRefused(f"{label}: no local feature {feature!r}; name others", code="feature")
    column = local.features[:, local.feature_names.index(feature)]
    values: FloatArray = column[~np.isnan(column)]
    if values.size < FEWEST_GOLFERS:
        raise CohortRefused(
            f"{label}: {values.size} local golfers have {feature}, and {FEWEST_GOLFERS} are needed "
            "(about 20 are usual); record more",
            code="too_few_golfers",
        )
    return values


def _limits(bands: Bands, feature: str) -> tuple[tuple[float, ...], FloatArray]:
    """Shown percentiles of a feature and their values."""
    values = bands.feature[:, bands.feature_names.index(feature)]
    shown = ~np.isnan(values)
    percents = tuple(p for p, kept in zip(bands.percents, shown, strict=True) if kept)
    if len(percents) < 3 or 50.0 not in percents:
        raise CohortRefused(
            f"{feature}: the edition shows too few percentiles to be held against; it needs more "
            "golfers",
            code="too_few_percentiles",
        )
    return percents, values[shown]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Null:
    """What a local group of the edition's own population gives.

    ``largest`` holds the sorted larger score of each simulated group; ``centre`` and ``scale``
    are the mean and standard deviation of the two raw scores.
    """

    there: int
    local: int
    percents: tuple[float, ...]
    scores: FloatArray
    centre: FloatArray
    scale: FloatArray
    largest: FloatArray

    @classmethod
    def simulated(
        cls,
        there: int,
        local: int,
        percents: tuple[float, ...],
        rng: np.random.Generator,
        draws: int,
    ) -> "_Null":
        shares = np.diff([0.0, *percents, 100.0]) / 100.0
        scores = _bin_scores(percents)
        # Type 6 puts the percentile p at rank p (n + 1): between two of them lie Dirichlet shares.
        true_shares = rng.dirichlet((there + 1) * shares, draws)
        raw = rng.multinomial(local, true_shares) @ scores.T / local
        centre, scale = raw.mean(axis=0), raw.std(axis=0)
        largest = np.sort(np.abs((raw - centre) / scale).max(axis=1))
        return cls(
            there=there,
            local=local,
            percents=percents,
            scores=scores,
            centre=centre,
            scale=scale,
            largest=largest,
        )

    def judge(self, counts: NDArray[Any]) -> tuple[FloatArray, FloatArray]:
        """Location and spread score of counts, shape (..., bins), and their p value."""
        z = (counts @ self.scores.T / self.local - self.centre) / self.scale
        worst = np.abs(z).max(axis=-1)
        as_large = self.largest.size - np.searchsorted(self.largest, worst - 1e-9)
        return z, (as_large + 1) / (self.largest.size + 1)


def _bin_scores(percents: tuple[float, ...]) -> FloatArray:
    """Mean of z and of z squared of a standard normal between neighbouring percentiles.

    Shape (2, bins).
    """
    edges = ndtri(np.array([0.0, *percents, 100.0]) / 100.0)
    density = np.exp(-(edges**2) / 2.0) / np.sqrt(2.0 * np.pi)
    shares = np.diff(ndtr(edges))
    weighted = np.where(np.isinf(edges), 0.0, edges) * density
    return np.stack([-np.diff(density) / shares, 1.0 - np.diff(weighted) / shares])


def _check(
    feature: str, values: FloatArray, limits: FloatArray, null: _Null
) -> tuple[FeatureCheck, float]:
    bins = np.bincount(np.searchsorted(limits, values), minlength=limits.size + 1)
    z, p_value = null.judge(bins)
    median = float(limits[null.percents.index(50.0)])
    outer = (null.percents[0] + 100.0 - null.percents[-1]) / 100.0
    check = FeatureCheck(
        feature=feature,
        golfers=values.size,
        edition_median=median,
        local_median=float(np.median(values)),
        below_median=int(np.count_nonzero(values < median)),
        outside=int(bins[0] + bins[-1]),
        outside_expected=outer * values.size,
        location=float(z[0]),
        spread=float(z[1]),
        p_value=float(p_value),
    )
    return check, float(p_value)


def _with_p(check: FeatureCheck, p_value: float) -> FeatureCheck:
    return FeatureCheck(**(asdict(check) | {"p_value": p_value}))


def _error_rates(
    null: _Null, features: int, rate: float, rng: np.random.Generator, draws: int
) -> ErrorRates:
    """Error rates by simulation under normal distributions, one feature off and Bonferroni."""

    def found(shift: float, spread: float) -> float:
        shares = np.diff([0.0, *null.percents, 100.0]) / 100.0
        true = rng.dirichlet((null.there + 1) * shares, draws).cumsum(axis=1)[:, :-1]
        below = ndtr((ndtri(true) - shift) / spread)
        moved = np.diff(below, axis=1, prepend=0.0, append=1.0)
        _, p_values = null.judge(rng.multinomial(null.local, np.maximum(moved, 0.0)))
        return float(np.mean(p_values <= rate / features))

    return ErrorRates(
        false_refusal=rate,
        found_shift_half=found(0.5, 1.0),
        found_shift_one=found(1.0, 1.0),
        found_spread_half_more=found(0.0, 1.5),
    )
