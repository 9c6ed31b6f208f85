"""Limits and norms read off an edition: percentiles of a cohort, centiles at a handicap."""

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import numpy as np

from norms.cohort.bands import golfers_needed
from norms.cohort.levels import levels_in
from norms.errors import StandardRefused
from norms.records import CohortNorms, Edition, FloatArray, Level
from norms.records.standard import NormRange, Quantity
from norms.standards.asked import RangeAsked
from norms.standards.quantities import cohort_values, quantity_label
from norms.statistics.quantiles import quantiles_with_intervals

PAIRS: Final = ((5.0, 95.0), (10.0, 90.0), (25.0, 75.0))
"""Symmetric pairs of percentiles, widest first."""


class Rules(NamedTuple):
    """The rules an edition was built by."""

    percents: tuple[float, ...]
    confidence: float
    smallest_cell: int
    levels: tuple[Level, ...]


def edition_rules(edition: Edition) -> Rules:
    """The rules of an edition, from its parameters."""
    stated: dict[str, Any] = dict(edition.parameters)
    return Rules(
        percents=tuple(stated["percents"]),
        confidence=stated["confidence"],
        smallest_cell=stated["smallest_cell"],
        levels=levels_in(edition),
    )


def evidence_cell(edition: Edition, key: str) -> CohortNorms:
    """The cohort of an edition that a standard rests on.

    Raises
    ------
    StandardRefused
        If the edition has no such cohort, it is withheld, or it came without its golfers.
    """
    cell = edition.cell(key)
    if cell is None:
        known = ", ".join(one.cohort.definition.key for one in edition.cells)
        raise StandardRefused(
            f"edition {edition.name} has no cohort {key!r}; it has {known}", code="evidence"
        )
    if cell.bands is None:
        raise StandardRefused(
            f"cohort {key} of edition {edition.name} is withheld: {cell.withheld} A standard "
            "cannot rest on it; choose a larger cohort",
            code="evidence_withheld",
        )
    if not cell.cohort.golfers:
        raise StandardRefused(
            f"edition {edition.name} came without its golfers; build one from your own store",
            code="no_golfers",
        )
    return cell


def norm_of(values: FloatArray, rules: Rules) -> NormRange:
    """What the golfers of the evidence do in one quantity.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Golfers' means; NaN where a golfer has none.
    rules : Rules
    """
    present = values[np.isfinite(values)]
    if len(present) < rules.smallest_cell:
        return NormRange(golfers=len(present))
    percents = [*(p for pair in PAIRS for p in pair), 50.0]
    table = quantiles_with_intervals(present[:, None], percents, rules.confidence)
    by_percent = dict(zip(percents, table.value[:, 0].tolist(), strict=True))
    pair = next((pair for pair in PAIRS if not np.isnan(by_percent[pair[0]])), None)
    return NormRange(
        golfers=len(present),
        percents=pair,
        low=by_percent[pair[0]] if pair else None,
        median=None if np.isnan(by_percent[50.0]) else by_percent[50.0],
        high=by_percent[pair[1]] if pair else None,
    )


def percentile_limit(values: FloatArray, percent: float, rules: Rules) -> float:
    """One percentile of the golfers' means.

    Raises
    ------
    StandardRefused
        If the percentile is out of range, or this many golfers do not support it.
    """
    if not 0.0 < percent < 100.0:
        raise StandardRefused(
            f"percentile {percent:g}: between 0 and 100 is allowed", code="percentile"
        )
    present = values[np.isfinite(values)]
    needed = golfers_needed((percent,), rules.confidence, rules.smallest_cell)[percent]
    if len(present) < needed:
        raise StandardRefused(
            f"percentile {percent:g} rests on {len(present)} golfers and needs {needed}; choose "
            "one nearer the middle, or a larger cohort",
            code="cell_too_small",
        )
    table = quantiles_with_intervals(present[:, None], [percent], rules.confidence)
    return float(table.value[0, 0])


def centile_limits(
    edition: Edition, club: str, quantity: Quantity, asked: RangeAsked
) -> tuple[float | None, float | None]:
    """Limits at a handicap from the edition's centiles.

    Raises
    ------
    StandardRefused
        If the edition has no centiles of the feature, or golfers do not support that handicap.
    """
    from norms.cohort.annex_contents import club_centiles
    from norms.cohort.centile_support import why_unsupported
    from norms.cohort.centiles import centile_chart

    if asked.at_handicap is None:
        raise StandardRefused(
            "a centile needs at_handicap, the handicap it is read at", code="centile"
        )
    found = club_centiles(edition).get(club)
    fitted = found.features.get(quantity.feature or "") if found else None
    if fitted is None:
        raise StandardRefused(
            f"edition {edition.name} has no centiles by handicap of {quantity_label(quantity)} "
            f"with {club}; ask for percentiles, or for numbers with a reason",
            code="centile",
        )
    row = _covariates(fitted.covariate_names, asked)
    percents = [p for p in asked.percents if p is not None]
    chart = centile_chart(fitted, [asked.at_handicap], covariates=row, percents=sorted(percents))
    read = dict(zip(chart.percents, chart.value[0, :, 0].tolist(), strict=True))
    if any(np.isnan(value) for value in read.values()):
        raise StandardRefused(
            why_unsupported(fitted.support, asked.at_handicap, np.array(row)), code="centile"
        )
    low, high = asked.percents
    return None if low is None else read[low], None if high is None else read[high]


def _covariates(names: Sequence[str], asked: RangeAsked) -> list[float]:
    given = {
        "female": None if asked.sex is None else float(asked.sex == "female"),
        "age": None if asked.age is None else float(asked.age),
    }
    words = {"female": "sex", "age": "age"}
    row = []
    for name in names:
        value = given.get(name)
        if value is None:
            raise StandardRefused(
                f"these centiles depend on {words.get(name, name)}; state it beside at_handicap",
                code="centile",
            )
        row.append(value)
    return row


def evidence_values(cell: CohortNorms, quantities: Sequence[Quantity]) -> FloatArray:
    """The golfers' means of each quantity in the evidence, shape (n, d)."""
    return cohort_values(cell.cohort, quantities)
