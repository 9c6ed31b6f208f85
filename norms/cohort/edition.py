"""An edition: every cell of club and level, frozen with the rules that made it and a hash."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from hashlib import sha256
from importlib.metadata import version
from typing import Any, Final

import numpy as np

from norms.cohort.annex_hash import annex_digest
from norms.cohort.attrition import attrition_of, left_out
from norms.cohort.bands import (
    BAND_OF,
    PRIVACY_MINIMUM,
    bands_of,
    check_rules,
    withheld_reason,
)
from norms.cohort.coverage import who_is_missing
from norms.cohort.definitions import check_definition, check_names, definition_document
from norms.cohort.levels import ALL_LEVELS, DEFAULT_LEVELS
from norms.cohort.members import MEMBER_RULE, members
from norms.cohort.published_limits import SHOWN_RULE, published_bands
from norms.cohort.roll import Roll, call_roll
from norms.cohort.suppression import with_linked_suppression
from norms.errors import CohortRefused
from norms.records import (
    Annex,
    Bands,
    Cohort,
    CohortDefinition,
    CohortNorms,
    Edition,
    Exclusion,
    Golfer,
    Level,
    SwingPool,
)
from norms.statistics.one_thread import on_one_thread
from norms.statistics.quantiles import DEFAULT_TYPE
from norms.vocabulary import BAND_PERCENTS

MEASUREMENT: Final = "measurement"
"""Parameter of an edition that has measurement among its annexes."""
MEASUREMENT_KINDS: Final = ("noise", "lab_terms")


@on_one_thread
def build_edition(
    name: str,
    pool: SwingPool,
    golfers: Mapping[str, Golfer],
    levels: Sequence[Level] = DEFAULT_LEVELS,
    *,
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
    smallest_cell: int = PRIVACY_MINIMUM,
    cohorts: Sequence[CohortDefinition] = (),
    exclusions: Sequence[Exclusion] = (),
) -> Edition:
    """Norms of every club by level, of every club over all levels, and of named cohorts.

    Parameters
    ----------
    name : str
        Does not enter the hash.
    pool : SwingPool
        In any order: the same swings give the same edition.
    golfers : Mapping of str to Golfer
        The roster by code.
    levels : sequence of Level
    percents : sequence of float
        Percentiles, rising.
    confidence : float
        Of the interval on each percentile.
    smallest_cell : int
        Fewest golfers of whom any number is shown.
    cohorts : sequence of CohortDefinition
        Named cohorts.
    exclusions : sequence of Exclusion
        Golfers and swings that a person decided to leave out.

    Returns
    -------
    Edition
        Named cohorts first, then clubs by level, each in order of cohort key; a level without
        golfers has a withheld cell, and so has one from which, with the others, a group too small
        to be shown could be found by subtraction.

    Raises
    ------
    CohortRefused
        If a rule or a named cohort is not valid, the pool is faulty, or no swing may enter norms.
    """
    check_rules(percents, confidence, smallest_cell)
    check_names(cohorts)
    for definition in cohorts:
        check_definition(definition)
    roll = call_roll(pool, golfers, levels, exclusions)
    if not roll.rows.size:
        lost = "; ".join(f"{count} swings: {rule}" for rule, count in roll.attrition.items())
        raise CohortRefused(f"no swing may enter norms ({lost}); nothing to build", code="empty")
    cells = with_linked_suppression(
        [
            _cell(roll, definition, percents, confidence, smallest_cell)
            for definition in (
                *sorted(cohorts, key=lambda definition: definition.key),
                *cell_definitions(np.unique(roll.clubs).tolist(), levels),
            )
        ],
        smallest_cell,
    )
    parameters: dict[str, object] = {
        "percents": [float(p) for p in percents],
        "quantile_type": DEFAULT_TYPE,
        "confidence": float(confidence),
        "smallest_cell": int(smallest_cell),
        "levels": [asdict(level) for level in levels],
        "member_rule": MEMBER_RULE,
        "band_of": BAND_OF,
        "shown_rule": SHOWN_RULE,
        "numpy_version": np.__version__,
        "norms_version": version("pelvis-norms"),
    }
    return Edition(
        name=name,
        cells=cells,
        parameters=parameters,
        content_hash=content_hash(cells, parameters),
        attrition=roll.attrition,
        evidence=edition_evidence(roll, cells, golfers, levels),
    )


def edition_evidence(
    roll: Roll,
    cells: Sequence[CohortNorms],
    golfers: Mapping[str, Golfer],
    levels: Sequence[Level],
) -> dict[str, object]:
    """What explains an edition's counts, as plain JSON values by kind.

    Returns
    -------
    dict of str to object
        ``"attrition"``: by cohort key, golfers and swings lost rule by rule. ``"left_out"``: under
        ``"every cohort"`` and by cohort key, who was left out and why. ``"who_is_missing"``: by
        cohort key, the cohort against the roster on ``"compared_on"``, the newest recorded day.
    """
    definitions = [cell.cohort.definition for cell in cells]
    newest = max(roll.pool.recorded_on)
    listed = {"every cohort": left_out(roll)} | {
        definition.key: left_out(roll, definition)
        for definition in definitions
        if definition.largest_filled_share is not None
    }
    return {
        "attrition": {
            definition.key: [asdict(step) for step in attrition_of(roll, definition)]
            for definition in definitions
        },
        "left_out": {key: [asdict(one) for one in who] for key, who in listed.items()},
        "compared_on": newest.isoformat(),
        "who_is_missing": {
            cell.cohort.definition.key: [
                asdict(row) for row in who_is_missing(cell.cohort, golfers, levels, newest)
            ]
            for cell in cells
        },
    }


def cell_definitions(clubs: Iterable[str], levels: Sequence[Level]) -> list[CohortDefinition]:
    """Definitions of club by level and of club over all levels, in order of key."""
    definitions = [
        CohortDefinition(key=f"{club}/{level.key if level else ALL_LEVELS}", club=club, level=level)
        for club in clubs
        for level in (None, *levels)
    ]
    return sorted(definitions, key=lambda definition: definition.key)


def content_hash(
    cells: Iterable[CohortNorms],
    parameters: Mapping[str, object],
    annexes: Iterable[Annex] = (),
) -> str:
    """SHA-256 of what an edition says: definitions, counts, parameters and numbers.

    Golfers' codes and means do not enter, so that an edition exported without them keeps its
    hash; neither do its name or the time of its building.

    Parameters
    ----------
    cells : iterable of CohortNorms
        In any order.
    parameters : Mapping of str to (str, int, float or list)
    annexes : iterable of Annex
        In any order. Those of measurement enter where the parameters say so; editions from before
        they were annexes keep the hash that was taken without them.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    if MEASUREMENT not in parameters:
        annexes = [annex for annex in annexes if annex.kind not in MEASUREMENT_KINDS]
    digest = sha256(_canonical_json(dict(parameters)))
    for cell in sorted(cells, key=lambda cell: cell.cohort.definition.key):
        golfers, swings = cell.counts
        digest.update(
            _canonical_json(
                {
                    "definition": definition_document(cell.cohort.definition),
                    "golfers": golfers,
                    "swings": swings,
                    "withheld": cell.withheld,
                }
            )
        )
        if cell.bands is not None:
            _add_bands(digest, cell.bands)
    for annex in sorted(annexes, key=lambda annex: (annex.kind, annex.subject)):
        digest.update(annex_digest(annex))
    return digest.hexdigest()


def amended(edition: Edition, **changes: Any) -> Edition:
    """The edition with some fields changed, and the hash that belongs to it then."""
    changed = replace(edition, **changes)
    return replace(
        changed, content_hash=content_hash(changed.cells, changed.parameters, changed.annexes)
    )


def club_cohorts(edition: Edition) -> list[Cohort]:
    """For each club, the golfers of every level."""
    return [
        cell.cohort
        for cell in edition.cells
        if cell.cohort.definition.level is None and cell.cohort.definition.name is None
    ]


def verify_edition(edition: Edition) -> bool:
    """Whether an edition's numbers are still those its hash was taken over."""
    return content_hash(edition.cells, edition.parameters, edition.annexes) == edition.content_hash


def _cell(
    roll: Roll,
    definition: CohortDefinition,
    percents: Sequence[float],
    confidence: float,
    smallest_cell: int,
) -> CohortNorms:
    cohort, _ = members(roll, definition)
    withheld = withheld_reason(len(cohort.golfers), percents, confidence, smallest_cell)
    bands = None
    if withheld is None:
        found = bands_of(cohort, percents, confidence, smallest_cell=smallest_cell)
        bands = published_bands(found, cohort)
    return CohortNorms(cohort=cohort, bands=bands, withheld=withheld)


def _canonical_json(value: object) -> bytes:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False).encode()


def _add_bands(digest: Any, bands: Bands) -> None:
    digest.update(
        _canonical_json(
            {
                "percents": bands.percents,
                "confidence": bands.confidence,
                "golfers": bands.golfers,
                "swings": bands.swings,
                "feature_names": bands.feature_names,
                "feature_golfers": bands.feature_golfers.tolist(),
            }
        )
    )
    for array in (
        bands.curve_cm,
        bands.curve_low_cm,
        bands.curve_high_cm,
        bands.feature,
        bands.feature_low,
        bands.feature_high,
    ):
        # One byte pattern for NaN and for zero of either sign, low byte first, on any machine.
        plain = np.where(np.isnan(array), np.nan, array + 0.0)
        digest.update(plain.astype("<f8").tobytes())
