"""The page behind a placement sheet: curves in numbers, events, golfers of the same handicap."""

from datetime import date
from typing import Final

from norms.records import Placement, Swing
from norms.vocabulary import AXES, EVENT_NODES, EVENTS, PHASE_NAMES, PHASES
from reports import sentences
from reports.figures.curves import placement_figure
from reports.placement_findings import handicap_table, whole_curve_sentences
from reports.quantities import (
    DASH,
    check_unit,
    digits,
    handicap_words,
    middle_share,
    number,
    percent_of,
    plural,
)
from reports.render import picture, render
from reports.style import BAND_PAIRS

AXIS_TITLES: Final[dict[str, str]] = {
    "sway": "Sway, along the target line",
    "thrust": "Thrust, toward and away from the ball",
    "lift": "Lift, up and down",
    "path": "The path as a whole",
    "time": "Time",
}
PELVIS_METHODS: Final[dict[str, str]] = {
    "harrington": "Hip joint centres from the pelvis markers by the regression of Harrington and "
    "others (2007).",
    "bell": "Hip joint centres from the pelvis markers by the regression of Bell and others "
    "(1990).",
    "davis": "Hip joint centres from the pelvis markers by the regression of Davis and others "
    "(1991).",
    "given hips": "Hip joint centres as the capture itself gives them.",
    "given centre": "It is given by the capture itself.",
}
AXES_SOURCES: Final[dict[str, str]] = {
    "declared": "Target line and vertical as the laboratory’s profile declares them.",
    "feet_line": "The line through the feet at address stands in for the target line.",
}

READ_PLACE: Final = (
    "a place is read between published percentiles by monotone cubics (Fritsch and Carlson, 1980), "
    "its limits off theirs and widened by a quarter of the way to the next published one."
)


def placement_page(placement: Placement, *, swings: int = 1, unit: str = "in") -> str:
    """Curves, events and like handicaps of a placement, as a self-contained HTML page.

    Findings and features stand on the sheet alone, with all their uncertainty: said twice, they
    could disagree.

    Parameters
    ----------
    placement : Placement
    swings : int, optional
        Swings whose mean is placed; of several the page says what is of the newest alone.
    unit : {"in", "cm"}
        The reader's unit of length.

    Returns
    -------
    str
        The same bytes for the same placement.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    return render(
        "placement.html",
        title=_title(placement, swings),
        facts=_facts(placement, swings),
        this=measured_words(swings),
        withheld=sentences.withheld_sentence(placement),
        stand_ins=stand_in_words(placement.swing),
        figure=picture(placement_figure(placement, measured_words(swings), unit=unit)),
        key=band_key(placement),
        peers_words=plural(placement.peers, "peer"),
        caption=_caption(placement, swings),
        newest=newest_words(swings),
        unit_name={"in": "inches", "cm": "centimetres"}[unit],
        curve_range_title=_curve_range_title(placement),
        curve_rows=_curve_rows(placement, unit),
        whole_curve=whole_curve_sentences(placement, unit),
        handicap=handicap_table(placement, unit),
        events=_events(placement.swing),
        cautions=placement.cautions,
        standing_cautions=sentences.STANDING_CAUTIONS,
        made=made_words(placement),
    )


def day_words(day: date) -> str:
    """A date without doubt about the order of day and month, e.g. "14 May 2026"."""
    return f"{day.day} {day:%B %Y}"


def measured_words(swings: int) -> str:
    """What a curve or a value is of."""
    return "this swing" if swings == 1 else f"mean of {swings} swings"


def newest_words(swings: int) -> str:
    """Whose the events, times and rebuilt samples are; empty where there is but one swing."""
    return "" if swings == 1 else f"the newest of the {swings} swings"


def _title(placement: Placement, swings: int) -> str:
    label = placement.swing.label
    if placement.withheld is not None:
        what, it = ("one swing", "it") if swings == 1 else (plural(swings, "swing"), "them")
        return f"Golfer {label.golfer}: {what}, no peers to hold {it} against"
    return f"Golfer {label.golfer} beside {plural(placement.peers, 'golfer')}"


def _facts(placement: Placement, swings: int) -> str:
    label = placement.swing.label
    handicap = handicap_words(placement.handicap)
    own = " The golfer’s own swings are left out of the group." if placement.left_out else ""
    peers = "" if placement.withheld is not None else f", {plural(placement.peers, 'golfer')}"
    mean = "" if swings == 1 else f"{measured_words(swings)}, the newest of "
    return (
        f"{sentences.sentence_case(label.club)}, {mean}{day_words(label.recorded_on)}, "
        f"{label.lab}. Handicap that day: {handicap}. Held against: {placement.cohort_label}"
        f"{peers}, {edition_words(placement)}.{own}"
    )


def edition_words(placement: Placement) -> str:
    """The edition and, where it is not the academy's own, whose it is."""
    return f"edition “{placement.edition}”" + (" of another academy" * placement.imported)


def band_key(placement: Placement) -> list[dict[str, str]]:
    """Shares of the bands that a figure of the placement shows, narrowest first."""
    shown = placement.bands.shown_percents() if placement.bands else ()
    return [
        {"share": f"{high - low:.0f}"}
        for low, high in reversed(BAND_PAIRS)
        if low in shown and high in shown
    ]


def _caption(placement: Placement, swings: int) -> str:
    start, top, impact, finish = placement.swing.events.boundaries_s
    whose = "this backswing" if swings == 1 else f"the backswing of {newest_words(swings)}"
    return (
        "Each phase is drawn equally long, so a curve may bend where two phases meet. In time "
        f"{whose} took {number(top - start, 2)} s, the downswing {number(impact - top, 2)} s and "
        f"the follow-through {number(finish - impact, 2)} s. All curves begin from address; a "
        "length is equally tall in all three panels."
    )


def _widest_pair(placement: Placement) -> tuple[float, float] | None:
    """The widest pair of percentiles that the bands support."""
    shown = placement.bands.shown_percents() if placement.bands else ()
    return next((pair for pair in BAND_PAIRS if set(pair) <= set(shown)), None)


def _curve_range_title(placement: Placement) -> str:
    pair = _widest_pair(placement)
    if pair is None or placement.bands is None:
        return "Peers’ range"
    confidence = percent_of(placement.bands.confidence)
    return f"Peers’ {middle_share(pair)} ({confidence} interval of each limit)"


def _curve_rows(placement: Placement, unit: str) -> list[dict[str, str]]:
    rows = []
    for axis, word in enumerate(AXES):
        for event in ("top", "impact", "finish"):
            node = EVENT_NODES[event]
            value = float(placement.swing.curve.values_cm[axis, node])
            rows.append(
                {
                    "axis": word,
                    "event": event,
                    "value": digits(value, "cm", unit),
                    "median": _limit(placement, 50.0, axis, node, unit),
                    "range": _range(placement, axis, node, unit),
                }
            )
    return rows


def _range(placement: Placement, axis: int, node: int, unit: str) -> str:
    pair = _widest_pair(placement)
    if pair is None:
        return DASH
    return " to ".join(_limit(placement, percent, axis, node, unit) for percent in pair)


def _limit(placement: Placement, percent: float, axis: int, node: int, unit: str) -> str:
    """A percentile of a curve at a node with its interval, or a dash where it does not exist."""
    bands = placement.bands
    if bands is None or percent not in bands.shown_percents():
        return DASH
    row = bands.percents.index(percent)
    value, low, high = (
        digits(float(curve[row, axis, node]), "cm", unit)
        for curve in (bands.curve_cm, bands.curve_low_cm, bands.curve_high_cm)
    )
    return f"{value} ({low} to {high})"


def range_title(placement: Placement) -> str:
    """Heading of the peers' column; names the range where all features share one."""
    ranges = {place.range_percents for place in placement.features if place.range_percents}
    return f"Peers’ {middle_share(ranges.pop())}" if len(ranges) == 1 else "Peers’ range"


def stand_in_words(swing: Swing) -> str | None:
    """What on this page rests on a stand-in, in one sentence, or None."""
    found: list[str] = [event for event in EVENTS if swing.events.mark(event).stand_in]
    if swing.axes_source == "feet_line":
        found.append("target line")
    if not found:
        return None
    names = " and ".join(filter(None, [", ".join(found[:-1]), found[-1]]))
    return f"Found by stand-ins, so less sure: {names}."


def _events(swing: Swing) -> list[dict[str, object]]:
    rows = []
    for event in EVENTS:
        mark = swing.events.mark(event)
        spread = f" ± {number(mark.uncertainty_s, 3)}" if mark.uncertainty_s else ""
        rows.append(
            {
                "event": event,
                "time": f"{number(mark.time_s, 3)}{spread} s",
                "method": mark.method,
                "stand_in": mark.stand_in,
            }
        )
    return rows


def made_words(placement: Placement) -> list[str]:
    """How a placement was made, sentence by sentence."""
    swing = placement.swing
    filled = ", ".join(
        f"{PHASE_NAMES[phase]} {percent_of(float(share))}"
        for phase, share in zip(PHASES, swing.filled_share, strict=True)
    )
    return [
        f"Edition “{placement.edition}”, fingerprint {placement.edition_hash[:12]}; group "
        f"{placement.cohort_key}. Every golfer of the group counts once, with the mean of their "
        "swings.",
        "The point is the midpoint of the two hip joint centres. "
        + PELVIS_METHODS.get(swing.pelvis_method, f"Hip joint centres: {swing.pelvis_method}."),
        AXES_SOURCES.get(swing.axes_source, f"Axes: {swing.axes_source}.")
        + " Zero is the mean position while standing still at address. Sway is positive toward "
        "the target, thrust toward the ball, lift up, for right- and left-handers alike.",
        f"Captured at {swing.rate_hz:g} samples per second; smoothed by a low-pass filter run "
        "forward and backward, so that nothing is moved in time. Rebuilt samples of the pelvis: "
        f"{filled}.",
        "A percentile of the group is found between two ranked golfers (type 6 of Hyndman and "
        "Fan, 1996) and is shown only where an order-statistic interval exists for it; "
        + (READ_PLACE if placement.imported else "the interval of a place is Wilson’s (1927)."),
        *_notices(placement),
        f"Capture {swing.label.source}, swing {swing.label.swing}.",
    ]


def _notices(placement: Placement) -> list[str]:
    """What was said about the capture and does not already stand among the cautions."""
    said = [sentences.whole_sentence(notice.message) for notice in placement.swing.notices]
    return [sentence for sentence in said if sentence not in placement.cautions]
