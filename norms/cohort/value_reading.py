"""One value read off an edition's centiles: whose median it is, and its place at a handicap."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

import numpy as np

from norms.cohort.annex_contents import club_centiles, withheld_findings
from norms.cohort.centile_support import supported_ranges
from norms.cohort.centiles import centile_chart, place_by_handicap
from norms.cohort.median_handicap import handicaps_with_median
from norms.errors import CohortRefused
from norms.records import Edition
from norms.records.centile_readings import CentilePlace, MedianHandicap
from norms.records.centiles import Centiles
from norms.records.club_centiles import ClubCentiles
from norms.records.plain import take_apart
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueReading:
    """What an edition's centiles say of a value that need not be any golfer's.

    Attributes
    ----------
    edition, club, feature : str
    value : float
        In the feature's own unit.
    golfers : int
        Behind the centiles of the feature.
    given : Mapping of str to float
        The covariates read at: ``"female"`` 1 or 0, ``"age"`` in years.
    confidence : float
        Of every interval.
    medians : tuple of MedianHandicap
        Handicaps whose median the value is, rising.
    median_low, median_high : float
        Smallest and largest median of the supported handicaps.
    handicap_low, handicap_high : float
        The supported handicaps' ends.
    place : CentilePlace or None
        At the handicap asked for.
    """

    edition: str
    club: str
    feature: str
    value: float
    golfers: int
    given: Mapping[str, float]
    confidence: float
    medians: tuple[MedianHandicap, ...]
    median_low: float
    median_high: float
    handicap_low: float
    handicap_high: float
    place: CentilePlace | None


def read_value(
    edition: Edition,
    club: str,
    feature: str,
    value: float,
    *,
    handicap: float | None = None,
    female: bool | None = None,
    age: float | None = None,
    confidence: float = 0.90,
) -> ValueReading:
    """Read a value off the centiles by handicap of one club and feature.

    Parameters
    ----------
    edition : Edition
    club, feature : str
    value : float
        In the feature's own unit.
    handicap : float, optional
        Where to place the value besides; plus handicaps negative.
    female : bool, optional
    age : float, optional
        Years.
    confidence : float

    Raises
    ------
    CohortRefused
        If the edition has no such centiles, they depend on a sex or age that is not given, or no
        handicap has golfers enough for these.
    """
    if not isfinite(value):
        raise CohortRefused(f"value {value}: a finite number is needed", code="not_finite")
    centiles = _centiles(edition, club, feature)
    known = {"female": None if female is None else float(female), "age": age}
    given = _given(centiles, known)
    row = np.array([given[name] for name in centiles.covariate_names])
    ranges = supported_ranges(centiles.support, row)
    if not ranges:
        raise CohortRefused(
            f"edition {edition.name}, {club}, {feature}: no handicap has golfers enough of this "
            "sex for a centile",
            code="no_support",
        )
    ends = (ranges[0][0], ranges[-1][1])
    steps = np.arange(ends[0], ends[1] + 0.25, 0.5)
    median = centile_chart(centiles, steps, covariates=row, percents=(50.0,)).value[0, 0]
    place = None
    if handicap is not None:
        if not HANDICAP_LOWEST <= handicap <= HANDICAP_HIGHEST:
            raise CohortRefused(f"handicap {handicap}: +10 to 54 is possible", code="handicap")
        place = place_by_handicap(centiles, value, handicap, covariates=row, confidence=confidence)
    return ValueReading(
        edition=edition.name,
        club=club,
        feature=feature,
        value=value,
        golfers=int(centiles.golfers[0]),
        given=given,
        confidence=confidence,
        medians=handicaps_with_median(centiles, value, covariates=row, confidence=confidence),
        median_low=float(np.nanmin(median)),
        median_high=float(np.nanmax(median)),
        handicap_low=ends[0],
        handicap_high=ends[1],
        place=place,
    )


def reading_document(reading: ValueReading) -> dict[str, Any]:
    """A reading as JSON values, in the feature's own unit."""
    document, _ = take_apart(reading)
    return document


def _centiles(edition: Edition, club: str, feature: str) -> Centiles:
    found = club_centiles(edition)
    of_club = found.get(club)
    if of_club is None:
        why = withheld_findings(edition, "centiles").get(club)
        has = ", ".join(found) or "none"
        raise CohortRefused(
            f"edition {edition.name}: no centiles by handicap for {club!r}"
            + (f": {why}" if why else f"; it has them for {has}"),
            code="no_centiles",
        )
    if feature not in of_club.features:
        raise CohortRefused(_why_not(of_club, feature), code="no_centiles")
    return of_club.features[feature]


def _why_not(of_club: ClubCentiles, feature: str) -> str:
    if feature in of_club.withheld:
        return f"{of_club.club}, {feature}: {of_club.withheld[feature]}"
    return (
        f"{of_club.club}: no centiles of {feature!r}; there are those of "
        f"{', '.join(of_club.features)}"
    )


def _given(centiles: Centiles, known: Mapping[str, float | None]) -> dict[str, float]:
    """Values of the fit's covariates."""
    given: dict[str, float] = {}
    for place, name in enumerate(centiles.covariate_names):
        value = known[name]
        said = {"female": "sex"}.get(name, name)
        if value is None:
            raise CohortRefused(
                f"centiles of {centiles.names[0]} depend on {said}: state it", code="covariate"
            )
        low, high = float(centiles.covariate_low[place]), float(centiles.covariate_high[place])
        if not low <= value <= high:
            raise CohortRefused(
                f"{said} {value:g} is outside the golfers' range, {low:g} to {high:g}",
                code="covariate",
            )
        given[name] = value
    return given
