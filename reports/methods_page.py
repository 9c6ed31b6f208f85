"""The methods page: how every number is made, from a marker to a percentile, and how well."""

from collections.abc import Sequence

from reports.atlas.calibration import calibration_tables
from reports.atlas.methods import every_method
from reports.capture_methods import CAPTURE, NOISE
from reports.feature_errors import coverage_words, error_tables, feature_errors, lead_words
from reports.quantities import check_unit
from reports.render import render
from reports.sentences import STANDING_CAUTIONS
from reports.simulations import simulation_tables


def methods_page(*, unit: str = "in") -> str:
    """How each number is made and what its error is, as a self-contained HTML page.

    It is of the methods, not of one edition: what was chosen for an edition stands on its page.

    Parameters
    ----------
    unit : {"in", "cm"}
        The reader's unit of length.

    Returns
    -------
    str
        The same bytes for the same unit.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    return render(
        "methods.html",
        title="How every number is made",
        lead=lead_words(unit),
        capture=_listed(CAPTURE),
        noise=_listed(NOISE),
        norms=every_method(),
        swings=feature_errors()[0].swings,
        errors=error_tables(unit),
        coverage=coverage_words(),
        calibration=calibration_tables(),
        simulations=simulation_tables(),
        cautions=STANDING_CAUTIONS,
    )


def _listed(entries: Sequence[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"words": words, "reference": reference} for words, reference in entries]
