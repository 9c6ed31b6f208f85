"""Centiles over handicap, with the golfers behind them, and how well they fit."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from norms.cohort.annex_contents import club_centiles, withheld_findings
from norms.cohort.centiles import centile_chart, curve_centiles
from norms.records import Edition
from norms.records.centile_readings import CentileChart, CentileCrossCheck
from norms.records.centiles import Centiles, CentileSupport, CentileTerm
from norms.records.club_centiles import ClubCentiles
from norms.statistics.splines import SplineBasis
from norms.swing.catalogue import BY_NAME
from norms.units import CM_PER_UNIT
from norms.vocabulary import AXES
from reports.figures.bands import BandRow, rows_figure
from reports.figures.centile_chart import CHART_HANDICAPS, FeatureChart, centile_charts
from reports.figures.worms import worm_figure
from reports.phrases import phrase
from reports.quantities import (
    DASH,
    digits,
    handicap_words,
    node_words,
    number,
    percent_of,
    plural,
    unit_words,
)
from reports.render import picture
from reports.sentences import sentence_case

READ_AT: Final = (-2.0, 0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0)
"""Handicaps of the table and of the curves."""
_MIDDLE_AGE: Final = 40.0
_GROUPS: Final = (("women", 1.0), ("men", 0.0))
_DOUBTFUL_P: Final = 0.01
_TESTS: Final = ("level", "spread", "skewness", "tails")


def handicap_section(edition: Edition, unit: str) -> dict[str, object] | None:
    """Charts, curves and table of every club's centiles by handicap.

    Returns
    -------
    dict or None
        None for an edition without annexes.
    """
    found = club_centiles(edition)
    reasons = withheld_findings(edition, "centiles")
    if not found and not reasons:
        return None
    return {
        "clubs": [_club(centiles, order, unit) for order, centiles in enumerate(found.values())],
        "withheld": [{"club": sentence_case(club), "why": why} for club, why in reasons.items()],
    }


def _club(centiles: ClubCentiles, order: int, unit: str) -> dict[str, object]:
    support = next(iter(centiles.features.values())).support if centiles.features else None
    charts = [one for feature in centiles.features.values() for one in _charts(feature)]
    club = sentence_case(centiles.club)
    return {
        "club": club,
        "lead": _lead(centiles, support),
        "charts": picture(
            centile_charts(charts, support, name=f"handicap-{order}", club=club, unit=unit)
            if support
            else None
        ),
        "curves": picture(_curves_figure(centiles, order, unit)),
        "table": _table(centiles, support, unit),
        "withheld": [f"{phrase(name).subject}: {why}." for name, why in centiles.withheld.items()],
        "worms": picture(
            worm_figure(list(centiles.features.values()), name=f"worms-{order}", club=club)
            if charts
            else None
        ),
        "fits": [
            _fit_row(one, centiles.cross_checks.get(name))
            for name, one in centiles.features.items()
        ],
        "curves_checked": _curves_checked(centiles),
    }


def _lead(centiles: ClubCentiles, support: CentileSupport | None) -> str:
    left = (
        f" {plural(centiles.without_handicap, 'golfer')} without a handicap and playing "
        "professionals are left out."
        if centiles.without_handicap
        else ""
    )
    supported = _supported_words(support)
    return f"{plural(centiles.golfers, 'golfer')} with a handicap.{left} {supported}"


def _supported_words(support: CentileSupport | None) -> str:
    if support is None or not support.supported.any():
        return "No handicap has golfers enough for a centile."
    inside = support.handicaps[support.supported.any(axis=0)]
    return (
        f"Centiles are shown between handicap {handicap_words(float(inside.min()))} and "
        f"{handicap_words(float(inside.max()))}, where at least {support.fewest_near} golfers "
        f"are within {support.window_strokes:g} strokes, {support.fewest_each_side} of them on "
        "each side; nowhere else."
    )


def _covariate_rows(centiles: Centiles) -> Iterator[tuple[str, list[float]]]:
    """Groups in which centiles are read, with their values of the covariates."""
    names = centiles.covariate_names
    age = f"age {_MIDDLE_AGE:.0f}" if "age" in names else ""
    groups = _GROUPS if "female" in names else (("", 0.0),)
    for group, female in groups:
        row = [{"female": female, "age": _MIDDLE_AGE}[name] for name in names]
        yield ", ".join(word for word in (group, age) if word), row


def _charts(centiles: Centiles) -> Iterator[FeatureChart]:
    for group, row in _covariate_rows(centiles):
        yield FeatureChart(
            chart=centile_chart(centiles, CHART_HANDICAPS, covariates=row), group=group
        )


def _curves_figure(centiles: ClubCentiles, order: int, unit: str) -> str | None:
    """Centile curves at several handicaps, as rows; None where no handicap is supported."""
    rows = []
    if not centiles.curves:
        return None
    for handicap in READ_AT:
        for group, covariates in _covariate_rows(centiles.curves[0]):
            curves = [
                curve_centiles(one, handicap, covariates=covariates) for one in centiles.curves
            ]
            if any(np.isnan(curve).all() for curve in curves):
                continue
            near = centile_chart(centiles.curves[0], [handicap], covariates=covariates).golfers[0]
            whose = f"handicap {handicap_words(handicap)}" + (f", {group}" if group else "")
            rows.append(
                BandRow(
                    words=f"{whose}, {plural(int(near), 'golfer')} near",
                    curves=tuple(
                        dict(
                            zip(
                                centiles.curves[0].diagnostics.percents,
                                curve / CM_PER_UNIT[unit],
                                strict=True,
                            )
                        )
                        for curve in curves
                    ),
                )
            )
    if not rows:
        return None
    return rows_figure(
        rows,
        name=f"handicap-curves-{order}",
        title=f"{', '.join(AXES).capitalize()} by handicap, {centiles.club}",
        unit=unit,
    )


def _table(
    centiles: ClubCentiles, support: CentileSupport | None, unit: str
) -> dict[str, object] | None:
    """Median and its interval at a few handicaps; only those with golfers enough."""
    if support is None:
        return None
    rows, near, confidence = [], None, 0.9
    for feature in centiles.features.values():
        for group, covariates in _covariate_rows(feature):
            chart = centile_chart(feature, READ_AT, covariates=covariates, percents=(10, 50, 90))
            near, confidence = chart.golfers, chart.confidence
            kind = BY_NAME[feature.names[0]].unit
            rows.append(
                {
                    "subject": phrase(feature.names[0]).subject + (f", {group}" if group else ""),
                    "unit": unit_words(kind, unit),
                    "cells": [
                        _cell(chart, at, feature.names[0], unit) for at in range(len(READ_AT))
                    ],
                }
            )
    counts = near if near is not None else np.zeros(len(READ_AT), dtype=int)
    return {
        "heads": [
            f"{handicap_words(handicap)} ({plural(int(count), 'golfer')})"
            for handicap, count in zip(READ_AT, counts, strict=True)
        ],
        "rows": rows,
        "confidence": percent_of(confidence),
    }


def _cell(chart: CentileChart, at: int, feature: str, unit: str) -> dict[str, str] | None:
    if np.isnan(chart.value[0, 1, at]):
        return None
    kind = BY_NAME[feature].unit
    low, middle, high = (digits(float(x), kind, unit) for x in chart.value[0, :, at])
    sure = " to ".join(
        digits(float(limit[0, 1, at]), kind, unit) for limit in (chart.low, chart.high)
    )
    return {"median": f"{middle} ({sure})", "range": f"{low} to {high}"}


def _fit_row(centiles: Centiles, check: CentileCrossCheck | None) -> dict[str, str]:
    told = centiles.diagnostics
    shares = dict(zip(told.percents, told.share_below_pct[0, 0], strict=True))
    thirds = told.share_below_pct[0, 1:] - np.array(told.percents)
    return {
        "subject": phrase(centiles.names[0]).subject,
        "golfers": f"{int(centiles.golfers[0]):,}",
        "form": _form_words(centiles),
        "freedom": _freedom_words(centiles),
        "below": " / ".join(number(float(shares[p]), 0) for p in (5.0, 50.0, 95.0)),
        "third": number(float(np.abs(thirds).max()), 0),
        "tests": _test_words(told.q_p[0]),
        "check": _check_words(check),
    }


def _freedom_words(centiles: Centiles) -> str:
    """Degrees of freedom that the data use of those that each spline has, covariates included."""
    said = []
    for term, used in zip(centiles.terms[:2], centiles.freedom[0], strict=False):
        shifts = len(centiles.covariate_names) if term.covariates else 0
        said.append(f"{number(float(used), 1)} of {_bends(term) + shifts}")
    return " / ".join(said)


def _bends(term: CentileTerm) -> int:
    if term.kind == "spline":
        return SplineBasis(low=0.0, high=1.0, segments=term.segments).columns
    return {"linear": 2, "constant": 1, "fixed": 0}[term.kind]


def _check_words(check: CentileCrossCheck | None) -> str:
    """The largest gap from quantile regression beside what sampling alone makes of it."""
    if check is None:
        return f"{DASH} (too few golfers)"
    pairs = zip(check.gap_sd, check.sampling_sd, strict=True)
    gap, sampling = max(pairs, key=lambda pair: pair[0] / pair[1])
    said = "agrees" if check.agrees else "doubtful"
    return f"{said}: {number(gap, 2)} sd apart, {number(sampling, 2)} by sampling alone"


def _curves_checked(centiles: ClubCentiles) -> str:
    """One sentence on the nodes of the curves that were held against quantile regression."""
    checks = {name: one for name, one in centiles.cross_checks.items() if "@" in name}
    if not checks:
        return ""
    doubtful = [name for name, one in checks.items() if not one.agrees]
    where = [f"{axis} {node_words(int(node))}" for axis, node in map(_axis_node, doubtful)]
    agreed = f"{len(checks) - len(doubtful)} of {plural(len(checks), 'point')} of the curves"
    return f"Quantile regression agrees at {agreed}" + (
        f"; not with {', '.join(where)}." if where else "."
    )


def _axis_node(name: str) -> tuple[str, str]:
    axis, node = name.split("@")
    return axis, node


def _form_words(centiles: Centiles) -> str:
    family = {"sinh_arcsinh": "sinh-arcsinh", "lms": "LMS"}[centiles.family]
    form = "" if centiles.form == "lms" else f", {centiles.form.removeprefix('lms, ')}"
    also = f"; with {' and '.join(centiles.covariate_names)}" if centiles.covariate_names else ""
    return f"{family}{form}{also}".replace("female", "sex")


def _test_words(p_values: np.ndarray) -> str:
    doubtful = [
        f"{word} (p = {number(float(p), 3)})"
        for word, p in zip(_TESTS, p_values, strict=True)
        if p < _DOUBTFUL_P
    ]
    known = [float(p) for p in p_values if not np.isnan(p)]
    if doubtful:
        return "doubtful: " + ", ".join(doubtful)
    return f"fits, smallest p = {number(min(known), 2)}" if known else DASH
