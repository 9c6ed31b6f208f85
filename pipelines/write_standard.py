"""A draft of a standard as a TOML file to be edited: every number it rests on stands beside it."""

from datetime import date
from pathlib import Path
from typing import Final

import tomlkit
from tomlkit.items import Table

from norms.errors import StandardRefused
from norms.records import CohortDefinition, Edition
from norms.records.standard import Quantity, Requirement, Standard
from norms.standards.life import PLACEHOLDER
from norms.standards.quantities import point_words, quantity_label
from norms.standards.validate import range_text

USUAL_PERCENTILES: Final = (10.0, 90.0)
TO_WRITE: Final = f"{PLACEHOLDER}: why the academy asks for this"


def draft_text(
    standard: Standard, edition: Edition, narrowed: CohortDefinition | None = None
) -> str:
    """Text of a draft.

    Parameters
    ----------
    standard : Standard
        With its limits resolved, so that they can stand beside the percentiles as a comment.
    edition : Edition
    narrowed : CohortDefinition or None
        Rules of the ``[golfers]`` table; None where the evidence's golfers are meant.
    """
    document = tomlkit.document()
    cell = edition.cell(standard.evidence)
    label = cell.cohort.definition.label if cell else standard.evidence
    golfers, swings = cell.counts if cell else (0, 0)
    document.add(tomlkit.comment("A standard asks; the norm beside each limit only describes."))
    document.add(tomlkit.comment(f"Drafted on {label}: {golfers} golfers, {swings} swings."))
    for key, stated, comment in _head(standard):
        document.add(key, tomlkit.item(stated))
        if comment:
            document[key].comment(comment)
    if narrowed is not None:
        document.add("golfers", _golfers(narrowed))
    requirements = tomlkit.aot()
    for one in standard.requirements:
        requirements.append(_requirement(one))
    document.add("requirement", requirements)
    return tomlkit.dumps(document)


def _head(standard: Standard) -> list[tuple[str, str | int | float | date | list[str], str]]:
    return [
        ("name", standard.name, ""),
        ("title", standard.title, ""),
        ("edition", standard.edition, ""),
        ("edition_hash", standard.edition_hash, "fingerprint of the edition"),
        ("evidence", standard.evidence, "cohort of the edition that the limits rest on"),
        ("rationale", standard.rationale or TO_WRITE, ""),
        ("cautions", [], "beside those that stand on every sheet"),
        ("review_on", standard.review_on, "by then a person looks at it again"),
        ("swings", standard.swings, "of each golfer in a review, on"),
        ("days", standard.days, "so many days, within"),
        ("window_days", standard.window_days, "so many days"),
        ("wrong_rate", standard.wrong_rate, "largest chance of a wrong verdict"),
        ("length_unit", "cm", "of every low and high: cm or in"),
    ]


def _golfers(narrowed: CohortDefinition) -> Table:
    table = tomlkit.table()
    table.add("club", narrowed.club)
    if narrowed.levels:
        table.add("levels", [level.key for level in narrowed.levels])
    for key in ("title", "sex", "age_from", "age_to"):
        if getattr(narrowed, key) is not None:
            table.add(key, getattr(narrowed, key))
    for key in ("handicap_above", "handicap_to"):
        index = getattr(narrowed, key)
        if index is not None:
            # Plus handicaps stand in quotes: TOML would read +2.0 as 2.0.
            table.add(key, f"+{-index:g}" if index < 0 else index)
    return table


def _requirement(one: Requirement) -> Table:
    table = tomlkit.table()
    norm = one.norm
    described = f"{quantity_label(one.quantity)}: {norm.golfers} golfers"
    if norm.percents is not None:
        span = f"{norm.low:.3g} to {norm.high:.3g}, median {norm.median:.3g}"
        described += f", middle {norm.percents[1] - norm.percents[0]:.0f} % {span}"
    table.add(tomlkit.comment(described))
    for key, value in _quantity(one.quantity):
        table.add(key, value)
    low, high = one.low_percent, one.high_percent
    word = "centile" if one.set_by == "centiles" else "percentile"
    for key, percent in ((f"low_{word}", low), (f"high_{word}", high)):
        if percent is not None:
            table.add(key, percent)
    last = f"high_{word}" if high is not None else f"low_{word}"
    table[last].comment(range_text(one))
    if one.at_handicap is not None:
        table.add("at_handicap", one.at_handicap)
    table.add("priority", one.priority)
    return table


def _quantity(quantity: Quantity) -> list[tuple[str, str]]:
    if quantity.feature is not None:
        return [("feature", quantity.feature)]
    return [
        ("axis", str(quantity.axis)),
        ("from", point_words(quantity.first_node)),
        ("to", point_words(quantity.last_node)),
    ]


def refuse_existing(file: Path) -> None:
    """Refuse to write over a file that somebody may have edited.

    Raises
    ------
    StandardRefused
    """
    if file.exists():
        raise StandardRefused(
            f"{file}: exists already; name a file that does not, or remove it", code="file_exists"
        )
