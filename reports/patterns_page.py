"""Patterns and components of an edition: what was found, how sure, and what it looks like."""

from collections.abc import Sequence
from math import isfinite
from typing import Final

import numpy as np

from norms.cohort.frozen_shapes import NONE_FITS, frozen_shapes
from norms.cohort.levels import levels_in
from norms.cohort.own_shapes import with_history
from norms.records import Cohort, Edition, Level
from norms.records.components import Components
from norms.records.patterns import Pattern, PatternCount, Patterns
from norms.swing.catalogue import BY_NAME
from reports.figures.panels import PanelLine, curve_panels
from reports.phrases import phrase
from reports.quantities import DASH, MINUS, check_unit, number, percent_of, plural, quantity
from reports.render import picture, render
from reports.sentences import sentence_case
from reports.sheet_page import panel_style

SPREADS_DRAWN: Final = 1.5
CAUTIONS: Final = (
    "A pattern describes a family of alike swings. None of them is better for being named.",
    "A golfer belongs to a pattern with a probability; between two patterns both are true.",
    "A newcomer’s placement sheet gives the probability of each pattern, or says that none fits; "
    f"of golfers who do belong to one, that is said of {percent_of(NONE_FITS)}.",
    "Level is taken off before patterns are sought, so that they are not the levels again.",
    "A change to the swing loads the back and the hips. With pain or after an injury, a licensed "
    "physician or physiotherapist comes first.",
)


def patterns_page(edition: Edition, *, unit: str = "in") -> str:
    """Patterns and components of every club, as a self-contained HTML page.

    Parameters
    ----------
    edition : Edition
    unit : {"in", "cm"}
        The reader's unit of length.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    shapes = frozen_shapes(edition)
    clubs = [
        _club(edition, shapes.components[club], with_history(edition, patterns), unit)
        for club, patterns in sorted(shapes.patterns.items())
    ]
    return render(
        "patterns.html",
        panel_style=panel_style(),
        title="Patterns of swings",
        facts=f"Edition “{edition.name}”, fingerprint {edition.content_hash[:12]}."
        + ("" if clubs else " It was built without patterns, or has too few golfers for any."),
        clubs=clubs,
        cautions=CAUTIONS,
    )


def patterns_lead(edition: Edition) -> str:
    """How many patterns every club has, in one sentence; empty without any club."""
    said = [
        f"{club}, {plural(len(one.found), 'pattern') if one.found else 'one cloud without types'}"
        for club, one in sorted(frozen_shapes(edition).patterns.items())
    ]
    return f"Families of alike swings: {'; '.join(said)}." if said else ""


def _club(
    edition: Edition, components: Components, patterns: Patterns, unit: str
) -> dict[str, object]:
    cell = edition.cell(f"{patterns.club}/all")
    cohort = None if cell is None else cell.cohort
    return {
        "title": f"{sentence_case(patterns.club)}, {plural(patterns.golfers, 'golfer')}",
        "reason": patterns.reason,
        "changes": patterns.changes,
        "agreement": _agreement(patterns),
        "patterns": [
            _pattern(pattern, place, components, patterns, cohort, levels_in(edition), unit)
            for place, pattern in enumerate(patterns.found)
        ],
        "counts": [_count(count) for count in patterns.counts],
        "components_words": (
            f"{plural(len(components.eigenvalues), 'component')}: {components.rule}. Together they "
            f"hold {percent_of(components.held)}. A golfer who comes later moves nobody’s score."
        ),
        "components": [
            _component(components, place, unit) for place in range(len(components.eigenvalues))
        ],
    }


def _agreement(patterns: Patterns) -> str:
    if not patterns.found:
        return ""
    return (
        "Do one golfer’s swings agree? "
        f"{percent_of(patterns.agreement)} of single swings fall into their golfer’s own pattern; "
        f"by chance it would be {percent_of(patterns.agreement_by_chance)}."
    )


def _pattern(
    pattern: Pattern,
    place: int,
    components: Components,
    patterns: Patterns,
    cohort: Cohort | None,
    levels: Sequence[Level],
    unit: str,
) -> dict[str, object]:
    known = cohort is not None and pattern.medoid < len(cohort.golfers)
    medoid = f" Its middle golfer is {cohort.golfers[pattern.medoid]}." if cohort and known else ""
    name = f"pattern-{patterns.club.replace(' ', '-')}-{place}"
    return {
        "title": f"{pattern.key}: {pattern.name}",
        "words": (
            f"{plural(pattern.golfers, 'golfer')}, {percent_of(pattern.share)} of all (90 % "
            f"interval {percent_of(pattern.share_low)} to {percent_of(pattern.share_high)}); "
            f"{pattern.grade} on resampling (similarity {number(pattern.stability, 2)}).{medoid}"
        ),
        "figure": picture(
            curve_panels(
                [],
                [
                    PanelLine(curve_cm=components.mean_cm, look="median"),
                    PanelLine(curve_cm=pattern.mean_cm, look="now"),
                ],
                unit=unit,
                name=name,
                title=f"Mean curves of pattern {pattern.key}",
                description=f"{pattern.key} is named for {pattern.name}; numbers below.",
            )
        ),
        "features": [
            {
                "subject": phrase(one.feature).subject,
                "difference": _signed(quantity(one.difference, BY_NAME[one.feature].unit, unit)),
                "spreads": _signed(number(one.spreads, 1)),
            }
            for one in pattern.features
            if one.feature in BY_NAME
        ],
        "levels": _level_words(pattern, patterns, levels),
    }


def _level_words(pattern: Pattern, patterns: Patterns, levels: Sequence[Level]) -> str:
    """Shares by level, in the academy's order and words."""
    share_of = dict(zip(patterns.levels, pattern.level_shares, strict=True))
    shares = [
        f"{percent_of(share_of[level.key])} of {level.label}"
        for level in levels
        if isfinite(share_of.get(level.key, np.nan))
    ]
    return f"Share of each level’s golfers: {'; '.join(shares)}." if shares else ""


def _signed(text: str) -> str:
    return text if text.startswith(MINUS) else f"+{text}"


def _count(count: PatternCount) -> dict[str, str]:
    stable = number(count.least_stability, 2) if isfinite(count.least_stability) else DASH
    return {
        "patterns": str(count.patterns),
        "bic": number(count.bic, 1),
        "stability": stable,
        "sure": number(count.least_sure, 2),
        "smallest": str(count.smallest),
    }


def _component(components: Components, place: int, unit: str) -> dict[str, object]:
    minus, plus = components.effect_cm(place, SPREADS_DRAWN)
    total = components.eigenvalues.sum() / components.held
    share = float(components.eigenvalues[place] / total)
    noise = components.noise(1)[place, place] / components.eigenvalues[place]
    return {
        "figure": picture(
            curve_panels(
                [],
                [
                    PanelLine(curve_cm=minus, look="minus"),
                    PanelLine(curve_cm=plus, look="plus"),
                ],
                unit=unit,
                name=f"component-{components.club.replace(' ', '-')}-{place}",
                title=f"Component {place + 1}",
                description="The mean curves, less and plus one and a half spreads.",
            )
        ),
        "words": (
            f"Component {place + 1} holds {percent_of(share)} of the variation between golfers. "
            f"One swing differs from its golfer’s mean by {number(float(np.sqrt(noise)), 2)} of "
            "the spread between golfers."
        ),
    }
