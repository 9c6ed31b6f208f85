"""An edition: every cell of club and level, frozen with the rules that made it and a hash."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from hashlib import sha256
from importlib.metadata import version
from typing import Any

import numpy as np

from norms.cohort.bands import (
    BAND_OF,
    PRIVACY_MINIMUM,
    bands_of,
    check_rules,
    withheld_reason,
)
from norms.cohort.levels import ALL_LEVELS, DEFAULT_LEVELS
from norms.cohort.members import MEMBER_RULE, Roll, call_roll, members
from norms.errors import CohortRefused
from norms.records import Bands, CohortDefinition, CohortNorms, Edition, Golfer, Level, SwingPool
from norms.statistics.quantiles import DEFAULT_TYPE
from norms.vocabulary import BAND_PERCENTS


def build_edition(
    name: str,
    pool: SwingPool,
    golfers: Mapping[str, Golfer],
    levels: Sequence[Level] = DEFAULT_LEVELS,
    *,
    percents: Sequence[float] = BAND_PERCENTS,
    confidence: float = 0.90,
    smallest_cell: int = PRIVACY_MINIMUM,
) -> Edition:
    """Norms of every club by level, and of every club over all levels.

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

    Returns
    -------
    Edition
        Cells in order of cohort key; a level without golfers has a withheld cell.

    Raises
    ------
    CohortRefused
        If a rule is not valid, the pool is faulty, or no swing may enter norms.
    """
    check_rules(percents, confidence, smallest_cell)
    roll = call_roll(pool, golfers, levels)
    if not roll.rows.size:
        lost = "; ".join(f"{count} swings: {rule}" for rule, count in roll.attrition.items())
        raise CohortRefused(f"no swing may enter norms ({lost}); nothing to build", code="empty")
    cells = tuple(
        _cell(roll, definition, percents, confidence, smallest_cell)
        for definition in cell_definitions(np.unique(roll.clubs).tolist(), levels)
    )
    parameters: dict[str, object] = {
        "percents": [float(p) for p in percents],
        "quantile_type": DEFAULT_TYPE,
        "confidence": float(confidence),
        "smallest_cell": int(smallest_cell),
        "levels": [asdict(level) for level in levels],
        "member_rule": MEMBER_RULE,
        "band_of": BAND_OF,
        "numpy_version": np.__version__,
        "norms_version": version("pelvis-norms"),
    }
    return Edition(
        name=name,
        cells=cells,
        parameters=parameters,
        content_hash=content_hash(cells, parameters),
        attrition=roll.attrition,
    )


def cell_definitions(clubs: Iterable[str], levels: Sequence[Level]) -> list[CohortDefinition]:
    """Definitions of club by level and of club over all levels, in order of key."""
    definitions = [
        CohortDefinition(key=f"{club}/{level.key if level else ALL_LEVELS}", club=club, level=level)
        for club in clubs
        for level in (None, *levels)
    ]
    return sorted(definitions, key=lambda definition: definition.key)


def content_hash(cells: Iterable[CohortNorms], parameters: Mapping[str, object]) -> str:
    """SHA-256 of what an edition says: definitions, counts, parameters and numbers.

    Golfers' codes and means do not enter, so that an edition exported without them keeps its
    hash; neither do its name or the time of its building.

    Parameters
    ----------
    cells : iterable of CohortNorms
        In any order.
    parameters : Mapping of str to (str, int, float or list)

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    digest = sha256(_canonical_json(dict(parameters)))
    for cell in sorted(cells, key=lambda cell: cell.cohort.definition.key):
        counts = cell.cohort.swing_counts
        digest.update(
            _canonical_json(
                {
                    "definition": asdict(cell.cohort.definition),
                    "golfers": len(counts),
                    "swings": int(counts.sum()),
                    "withheld": cell.withheld,
                }
            )
        )
        if cell.bands is not None:
            _add_bands(digest, cell.bands)
    return digest.hexdigest()


def verify_edition(edition: Edition) -> bool:
    """Whether an edition's numbers are still those its hash was taken over."""
    return content_hash(edition.cells, edition.parameters) == edition.content_hash


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
        bands = bands_of(cohort, percents, confidence, smallest_cell=smallest_cell)
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
