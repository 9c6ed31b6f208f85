"""Hold one swing against its peers: which golfers, and where each feature falls among them.

A swing is placed among golfers' means of an edition's cell, the placed golfer always left out.
"""

from typing import Any, Final, NamedTuple

import numpy as np

from norms.cohort.bands import bands_of, withheld_reason
from norms.cohort.golfer_facts import unmet_rules
from norms.cohort.levels import levels_in
from norms.cohort.published_limits import published_bands
from norms.errors import CohortRefused
from norms.placement.by_handicap import place_features_by_handicap
from norms.placement.cautions import caution_sentences
from norms.placement.choose_cell import choose_cell
from norms.placement.whole_curve import place_whole_curve
from norms.records import (
    Bands,
    Cohort,
    Edition,
    FeaturePlace,
    Golfer,
    Placement,
    Swing,
)
from norms.statistics.proportions import standing, wilson_interval
from norms.swing.catalogue import FEATURE_NAMES

PLACE_CONFIDENCE: Final = 0.90
"""Confidence of the interval of a percentile."""


def place_swing(
    swing: Swing,
    edition: Edition,
    *,
    golfer: Golfer | None = None,
    handicap: float | None = None,
    level: str | None = None,
    cohort: str | None = None,
) -> Placement:
    """Place one swing among the golfers of one cell of an edition.

    The cell is that of the cohort asked for, else that of the swing's club and, in this order: the
    level asked for, the declared handicap's level, the golfer's level on the day of the swing, all
    levels. A cell that is withheld stays withheld: no other group takes its place unless it is
    asked for.

    Parameters
    ----------
    swing : Swing
    edition : Edition
        Its own table of levels decides.
    golfer : Golfer or None
        Who swung, where the roster knows them.
    handicap : float or None
        Handicap index declared for the day, plus handicaps negative; goes before the roster's.
    level : str or None
        Key of a level of the edition, or ``"all"``.
    cohort : str or None
        Key of a cohort of the edition, instead of a level.

    Returns
    -------
    Placement

    Raises
    ------
    CohortRefused
        As `norms.placement.choose_cell.choose_cell`, or if the golfer is not the one who made the
        swing.
    """
    if golfer is not None and golfer.code != swing.label.golfer:
        raise CohortRefused(
            f"swing {swing.label.swing} is by golfer {swing.label.golfer}, not {golfer.code}; "
            "name the golfer who made it",
            code="other_golfer",
        )
    on_roster = golfer.handicap_on(swing.label.recorded_on) if golfer else None
    believed = on_roster if handicap is None else handicap
    cell = choose_cell(swing, edition, golfer=golfer, handicap=handicap, level=level, cohort=cohort)
    peers = without(cell.cohort, swing.label.golfer)
    rules = _Rules.of(edition)
    n = len(peers.golfers)
    withheld = withheld_reason(n, rules.percents, rules.confidence, rules.smallest_cell)
    if withheld is None and cell.bands is None:
        withheld = cell.withheld  # large enough, and still not to be shown
    bands = None
    if withheld is None:
        found = bands_of(peers, rules.percents, rules.confidence, smallest_cell=rules.smallest_cell)
        bands = published_bands(found, peers)
    definition = cell.cohort.definition
    whole_curve = None
    if rules.whole_curve is not None and (cell.bands is not None or n < rules.smallest_cell):
        whole_curve = place_whole_curve(
            swing.curve,
            peers,
            noise_cm=rules.whole_curve.noise_cm,
            level=rules.whole_curve.level,
            smallest_cell=rules.smallest_cell,
        )
    return Placement(
        swing=swing,
        edition=edition.name,
        edition_hash=edition.content_hash,
        cohort_key=definition.key,
        cohort_label=definition.label,
        handicap=believed,
        peers=n,
        left_out=n < len(cell.cohort.golfers),
        bands=bands,
        withheld=withheld,
        features=_feature_places(swing, peers, bands, rules.smallest_cell),
        cautions=caution_sentences(
            swing,
            golfer=golfer,
            declared=handicap,
            on_roster=on_roster,
            definition=definition,
            asked="cohort" if cohort else "level" if level else None,
            unmet=unmet_rules(
                definition,
                swing.label.recorded_on,
                levels_in(edition),
                golfer=golfer,
                handicap=handicap,
            )
            if cohort
            else (),
            peers=n,
            percents=rules.percents,
            confidence=rules.confidence,
        ),
        whole_curve=whole_curve,
        by_handicap=place_features_by_handicap(swing, edition, believed, golfer),
    )


class _WholeCurveRules(NamedTuple):
    noise_cm: float
    level: float


class _Rules(NamedTuple):
    """The rules of the edition, so that the peers' bands are built as the edition's were."""

    percents: tuple[float, ...]
    confidence: float
    smallest_cell: int
    whole_curve: _WholeCurveRules | None

    @classmethod
    def of(cls, edition: Edition) -> "_Rules":
        stated: dict[str, Any] = dict(edition.parameters)
        annexes = stated.get("annexes")
        return cls(
            percents=tuple(stated["percents"]),
            confidence=stated["confidence"],
            smallest_cell=stated["smallest_cell"],
            whole_curve=annexes
            and _WholeCurveRules(annexes["noise_cm"], annexes["whole_curve_level"]),
        )


def without(cohort: Cohort, golfer: str) -> Cohort:
    """The cohort without one golfer; itself where the golfer is not in it."""
    keep = np.array([code != golfer for code in cohort.golfers], dtype=bool)
    if keep.all():
        return cohort
    return Cohort(
        definition=cohort.definition,
        golfers=tuple(code for code in cohort.golfers if code != golfer),
        swing_counts=cohort.swing_counts[keep],
        curves_cm=cohort.curves_cm[keep],
        feature_names=cohort.feature_names,
        features=cohort.features[keep],
    )


def _feature_places(
    swing: Swing, peers: Cohort, bands: Bands | None, smallest_cell: int
) -> tuple[FeaturePlace, ...]:
    """Place of every feature of the catalogue; no counts where too few peers have it."""
    columns = {name: place for place, name in enumerate(peers.feature_names)}
    # A feature that the edition does not know has peers without a value.
    held = np.full((len(peers.golfers), len(FEATURE_NAMES)), np.nan)
    for place, name in enumerate(FEATURE_NAMES):
        if name in columns:
            held[:, place] = peers.features[:, columns[name]]
    values = np.array([swing.features.values.get(name, np.nan) for name in FEATURE_NAMES])
    stands = standing(values, held)
    shown = (bands is not None) & (stands.counted >= smallest_cell) & ~np.isnan(values)
    below, equal = np.where(shown, stands.below, 0), np.where(shown, stands.equal, 0)
    low, high = wilson_interval(
        below + equal / 2.0, np.maximum(stands.counted, 1), PLACE_CONFIDENCE
    )
    places = []
    for at, name in enumerate(FEATURE_NAMES):
        limits = _peers_range(bands, columns.get(name))
        places.append(
            FeaturePlace(
                feature=name,
                value=swing.features.values.get(name),
                reason=swing.features.missing.get(name),
                peers=int(stands.counted[at]),
                below=int(below[at]),
                equal=int(equal[at]),
                percentile=float(stands.percentile[at]) if shown[at] else None,
                percentile_low=100.0 * float(low[at]) if shown[at] else None,
                percentile_high=100.0 * float(high[at]) if shown[at] else None,
                peers_low=limits.low,
                peers_median=limits.median,
                peers_high=limits.high,
                range_percents=limits.percents,
            )
        )
    return tuple(places)


class _Range(NamedTuple):
    low: float | None = None
    median: float | None = None
    high: float | None = None
    percents: tuple[float, float] | None = None


def _peers_range(bands: Bands | None, column: int | None) -> _Range:
    """Widest symmetric pair of percentiles that the peers support for a feature, and the median."""
    if bands is None or column is None:
        return _Range()
    known = {
        p: float(value)
        for p, value in zip(bands.percents, bands.feature[:, column], strict=True)
        if not np.isnan(value)
    }
    pairs = [p for p in sorted(known) if p < 50.0 and 100.0 - p in known]
    if not pairs:
        return _Range(median=known.get(50.0))
    low, high = pairs[0], 100.0 - pairs[0]
    return _Range(known[low], known.get(50.0), known[high], (low, high))
