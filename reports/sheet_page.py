"""The placement sheet: two printed pages that a coach and a golfer look at together."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from markupsafe import Markup

from norms.records import Placement
from norms.records.findings import Finding
from norms.records.golfer_place import GolferPlace, SurePlace
from norms.swing.catalogue import BY_NAME
from norms.units import cm_to
from norms.vocabulary import AXES, PHASE_NAMES, PHASES
from reports import finding_sentences as words
from reports import sentences
from reports.figures.panels import PanelBand, PanelLine, curve_panels
from reports.figures.strips import place_strip
from reports.phrases import brief, phrase
from reports.placement_findings import at_handicap
from reports.placement_page import (
    AXIS_TITLES,
    band_key,
    day_words,
    edition_words,
    made_words,
    measured_words,
    range_title,
    stand_in_words,
)
from reports.quantities import DASH, check_unit, digits, handicap_words, number, plural
from reports.render import picture, render
from reports.sheet_parts import alike_rows, map_rows, map_words
from reports.style import BAND_PAIRS

UNIT_NAMES: Final = {"in": "inches", "cm": "centimetres"}


def sheet_page(place: GolferPlace, *, unit: str = "in", speed_unit: str = "mph") -> str:
    """A golfer's placement sheet, as a self-contained HTML page.

    Parameters
    ----------
    place : GolferPlace
    unit : {"in", "cm"}
        The reader's unit of length.
    speed_unit : {"mph", "mps"}

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    placement = place.placement
    group = sentences.group_words(placement)
    return render(
        "sheet.html",
        panel_style=panel_style(),
        title=_title(place),
        facts=_facts(place),
        findings=[_finding(finding, unit, group) for finding in place.findings],
        nothing=_nothing(placement),
        stand_ins=stand_in_words(placement.swing),
        figure=picture(_figure(place, unit)),
        this_words=measured_words(len(place.swings)),
        key=band_key(placement),
        peers_words=plural(placement.peers, "peer"),
        outside=_outside(placement),
        unit_name=UNIT_NAMES[unit],
        phases=[PHASE_NAMES[phase] for phase in PHASES],
        map_rows=map_rows(place.map, unit),
        map_words=map_words(place.map, unit),
        whole=_whole(place, group, unit),
        alike_rows=alike_rows(place.look_alikes, unit, speed_unit),
        alike_words=words.look_alike_sentence(place.look_alikes, unit) if place.look_alikes else "",
        table_words=_table_words(place),
        range_title=range_title(placement),
        percentile_title=_percentile_title(placement),
        handicap=handicap_words(placement.handicap),
        groups=_groups(place, unit),
        whose=placement.cautions[0] if placement.imported else "",
        cautions=placement.cautions[1 if placement.imported else 0 :],
        standing_cautions=sentences.STANDING_CAUTIONS,
        made=_made(place),
    )


def sheet_findings(place: GolferPlace, *, unit: str = "in") -> list[str]:
    """What to look at first, a sentence each, or that nothing stands out."""
    group = sentences.group_words(place.placement)
    return [
        f"{words.finding_head(one, unit)}: {words.finding_words(one, group)}"
        for one in place.findings
    ] or [_nothing(place.placement)]


def panel_style() -> Markup:
    """Looks of curves and maps, for the head of a page that has them."""
    return Markup((Path(__file__).parent / "pages" / "panels.css").read_text(encoding="utf-8"))


def _title(place: GolferPlace) -> str:
    golfer = place.placement.swing.label.golfer
    if place.placement.withheld is not None:
        return f"Golfer {golfer}: no peers to be held against"
    return f"Golfer {golfer} beside {plural(place.placement.peers, 'golfer')}"


def _facts(place: GolferPlace) -> str:
    placement, label = place.placement, place.placement.swing.label
    swings = plural(len(place.swings), "swing")
    days = f" of {plural(place.days, 'day')}" if len(place.swings) > 1 else ""
    own = " The golfer’s own swings are left out of the group." if placement.left_out else ""
    return (
        f"{sentences.sentence_case(label.club)}, {swings}{days}, {day_words(label.recorded_on)}, "
        f"{label.lab}. Handicap that day: {handicap_words(placement.handicap)}. Held against: "
        f"{placement.cohort_label}, {edition_words(placement)}.{own}"
    )


def _nothing(placement: Placement) -> str:
    if placement.withheld is not None:
        return sentences.withheld_sentence(placement)
    if placement.imported:
        return words.NOT_JUDGED
    return words.NOTHING


def _finding(finding: Finding, unit: str, group: str) -> dict[str, object]:
    return {
        "mark": words.finding_mark(finding),
        "head": words.finding_head(finding, unit),
        "words": words.finding_words(finding, group),
        "note": finding.note,
        "ball_speed": finding.ball_speed,
    }


def _figure(place: GolferPlace, unit: str) -> str:
    placement = place.placement
    bands, lines = [], []
    if placement.bands is not None:
        shown = placement.bands.shown_percents()
        curve_of = dict(zip(placement.bands.percents, placement.bands.curve_cm, strict=True))
        bands = [
            PanelBand(low_cm=curve_of[low], high_cm=curve_of[high], look=f"band-{high - low:.0f}")
            for low, high in BAND_PAIRS
            if low in shown and high in shown
        ]
        if 50.0 in shown:
            lines.append(PanelLine(curve_cm=curve_of[50.0], look="median"))
    lines.append(PanelLine(curve_cm=placement.swing.curve.values_cm, look="now"))
    return curve_panels(
        bands,
        lines,
        unit=unit,
        name="curves",
        title="Sway, thrust and lift on the bands of the peers",
        description=_curve_words(place, unit),
    )


def _curve_words(place: GolferPlace, unit: str) -> str:
    ends = []
    for axis, row in zip(AXES, place.placement.swing.curve.values_cm, strict=True):
        low, high = (number(cm_to(float(end), unit), 1) for end in (row.min(), row.max()))
        ends.append(f"{axis} runs from {low} to {high} {unit}")
    return f"From start to finish {', '.join(ends)}. Every value stands in the table of features."


def _outside(placement: Placement) -> str:
    whole = placement.whole_curve
    if whole is None or whole.bands is None or whole.outside_s is None:
        return ""
    level = f"{100.0 * whole.level:.0f} %"
    if not whole.excursions:
        return f"The whole curve stays inside the band that holds {level} of golfers’ mean curves."
    axes = [axis for axis in AXES if any(one.axis == axis for one in whole.excursions)]
    return (
        f"The curve leaves the band that holds {level} of golfers’ whole mean curves for "
        f"{number(whole.outside_s, 2)} s, in {' and '.join(axes)}."
    )


def _whole(place: GolferPlace, group: str, unit: str) -> list[str]:
    said = []
    if place.typicality is not None:
        said.append(words.typicality_sentence(place.typicality, group))
    if place.nearest is not None:
        said.append(words.nearest_sentence(place.nearest))
    if place.pattern is not None:
        said += words.pattern_sentences(place.pattern, len(place.swings))
    return said or ["The edition holds nothing to place a whole swing by."]


def _table_words(place: GolferPlace) -> str:
    if place.placement.withheld is not None:
        return "The values. They are not placed, because there are too few peers."
    both = any(one.holds == "few swings and few golfers" for one in place.places)
    holds = "few swings and few golfers" if both else "few golfers, not of few swings"
    return (
        "The bar is the peers’ range, its tick their median, the dot this golfer. In brackets the "
        f"90 % interval of the percentile, which allows for {holds}."
    )


def _percentile_title(placement: Placement) -> str:
    if not any(at_handicap(placement, one.feature) for one in placement.features):
        return "Percentile"
    return f"Percentile; then at handicap {handicap_words(placement.handicap)}"


def _groups(place: GolferPlace, unit: str) -> list[dict[str, object]]:
    groups: dict[str, list[dict[str, object]]] = {}
    found = {finding.feature for finding in place.findings}
    for at, sure in enumerate(place.places):
        row = _feature_row(place, at, sure, unit, sure.feature in found)
        groups.setdefault(BY_NAME[sure.feature].axis, []).append(row)
    return [{"title": AXIS_TITLES[axis], "rows": rows} for axis, rows in groups.items()]


def _feature_row(
    place: GolferPlace, at: int, sure: SurePlace, unit: str, found: bool
) -> dict[str, object]:
    feature = place.placement.features[at]
    row: dict[str, object] = {
        "subject": phrase(feature.feature).subject,
        "value": DASH,
        "outside": found,
        "place": None,
        "why": "",
    }
    if feature.value is None:
        return row | {"why": feature.reason or "not given by this swing"}
    row["value"] = _value(feature.feature, feature.value, sure.error, unit)
    percentile = sentences.percentile_words(sure)
    if percentile is None:
        return row | {"why": f"not placed: {plural(feature.peers, 'peer')}"}
    return row | {
        "place": brief(sentences.count_words(feature)),
        "percentile": percentile,
        "at_handicap": at_handicap(place.placement, feature.feature),
        "peers": brief(sentences.peers_summary(feature, unit) or DASH),
        "strip": picture(place_strip(feature, unit)),
    }


def _value(feature: str, value: float, error: float | None, unit: str) -> str:
    text = brief(sentences.value_words(feature, value, unit))
    if error is None:
        return text
    return f"{text} ± {digits(error, BY_NAME[feature].unit, unit)}"


def _made(place: GolferPlace) -> Sequence[str]:
    finding = (
        "A finding has a small p by Crawford and Howell’s test of one golfer against few, all "
        "features allowed for (Benjamini and Hochberg, one in ten), passes four in five peers, "
        "and lies beyond the golfer’s own noise."
    )
    return [
        *made_words(place.placement),
        "± is the standard error of the mean of these swings about the golfer’s own long-run "
        f"value.{'' if place.placement.imported else f' {finding}'}",
        "The interval of a percentile puts that of the value and that of its place among the peers "
        "together (Zou and Donner, 2008). The overall deviation is the root mean square of the "
        "nine distances (after Baker and others, 2009).",
    ]
