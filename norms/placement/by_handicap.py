"""A swing's features among golfers of its own handicap, from an edition's centiles."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from norms.cohort.annex_contents import club_centiles
from norms.cohort.centiles import place_by_handicap
from norms.cohort.club_centiles import COVARIATES, covariates_of
from norms.records import Cohort, Edition, Golfer, Swing
from norms.records.centile_readings import CentilePlace
from norms.records.centiles import Centiles
from norms.records.club_centiles import ClubCentiles

_COVARIATE_WORDS = {"female": "sex", "age": "year of birth"}


def place_features_by_handicap(
    swing: Swing,
    edition: Edition,
    handicap: float | None,
    golfer: Golfer | None,
    errors: Mapping[str, float] | None = None,
) -> tuple[CentilePlace, ...]:
    """z, centile and its interval of every feature among golfers of this handicap.

    A golfer who is behind the centiles is taken out of them first.

    Parameters
    ----------
    swing : Swing
    edition : Edition
    handicap : float or None
        On the day of the swing, plus handicaps negative.
    golfer : Golfer or None
    errors : Mapping of str to float, optional
        Standard error of each feature as a measure of the golfer; intervals allow for it.

    Returns
    -------
    tuple of CentilePlace
        For features that the swing gives and the edition has centiles of; each withheld, with
        the nearest supported range, where golfers do not support it. Empty without a handicap or
        without centiles of the club.
    """
    found = club_centiles(edition).get(swing.label.club)
    if handicap is None or found is None:
        return ()
    own = _own_means(edition, found, swing.label.golfer)
    known = dict.fromkeys(COVARIATES, np.nan)
    if golfer is not None:
        facts = covariates_of(golfer, swing.label.recorded_on)
        known = dict(zip(COVARIATES, facts, strict=True))
    stated = errors or {}
    return tuple(
        _place(
            centiles, swing.features.values[name], handicap, known, own.get(name), stated.get(name)
        )
        for name, centiles in found.features.items()
        if name in swing.features.values
    )


def _place(
    centiles: Centiles,
    value: float,
    handicap: float,
    known: Mapping[str, float],
    own: tuple[float, float] | None,
    error: float | None,
) -> CentilePlace:
    row = np.array([known[name] for name in centiles.covariate_names])
    if np.isnan(row).any():
        unknown = [
            _COVARIATE_WORDS[name]
            for name, given in zip(centiles.covariate_names, row, strict=True)
            if np.isnan(given)
        ]
        return CentilePlace(
            name=centiles.names[0],
            value=value,
            handicap=handicap,
            golfers=0,
            confidence=0.90,
            withheld=f"these centiles depend on {' and '.join(unknown)}, not on the roster",
        )
    return place_by_handicap(
        centiles, value, handicap, covariates=row, own_row=own, value_error=error
    )


def _own_means(
    edition: Edition, centiles: ClubCentiles, golfer: str
) -> dict[str, tuple[float, float]]:
    """The golfer's own row of the fit by feature, value and handicap; empty for a newcomer."""
    handicaps: Any = edition.evidence.get("handicaps", {})
    handicap = handicaps.get(centiles.club, {}).get(golfer)
    cell = edition.cell(centiles.cohort_key)
    if handicap is None or cell is None or golfer not in cell.cohort.golfers:
        return {}
    means = _means_of(cell.cohort, golfer)
    return {name: (mean, handicap) for name, mean in means.items() if np.isfinite(mean)}


def _means_of(cohort: Cohort, golfer: str) -> dict[str, float]:
    row = cohort.features[cohort.golfers.index(golfer)]
    return dict(zip(cohort.feature_names, row.tolist(), strict=True))
