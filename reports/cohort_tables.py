"""Plain rows for a terminal about cohorts and editions: the first row is the heading."""

from norms.cohort.adopt import Adoption
from norms.cohort.compare import EditionComparison
from norms.cohort.compare_cells import Move
from norms.cohort.plan import Plan
from norms.cohort.speed_peers import PeerGroup, PeerPlace, TwoWayPeers
from norms.swing.catalogue import BY_NAME
from norms.units import mps_to
from norms.vocabulary import PHASE_NAMES
from reports.phrases import phrase
from reports.quantities import DASH, handicap_words, number, percent_of, plural, quantity
from reports.sentences import value_words

Rows = list[list[str]]


def plan_table(plan: Plan) -> Rows:
    """Groups in the order in which to recruit."""
    rows: Rows = [
        ["group", "grade", "golfers", "needed", "on the roster", "to ask", "missing most"]
    ]
    for row in plan.rows:
        grade = row.sufficiency
        rows.append(
            [
                grade.cohort_label,
                grade.grade,
                str(grade.golfers),
                str(row.needed) if row.needed else DASH,
                str(len(row.invite)),
                str(row.to_ask),
                ", ".join(row.missing) or DASH,
            ]
        )
    return rows


def widths_table(plan: Plan, *, unit: str = "in") -> Rows:
    """Expected width of each percentile's interval by number of golfers."""
    numbers = sorted({width.golfers for width in plan.widths})
    rows: Rows = [["feature", "percentile", *(plural(n, "golfer") for n in numbers)]]
    widths = {(w.feature, w.percent, w.golfers): w.width for w in plan.widths}
    for feature, percent in dict.fromkeys((w.feature, w.percent) for w in plan.widths):
        found = [widths[feature, percent, n] for n in numbers]
        cells = [_value(feature, width, unit) for width in found]
        rows.append([BY_NAME[feature].label, f"{percent:g}", *cells])
    return rows


def comparison_table(comparison: EditionComparison, *, unit: str = "in") -> Rows:
    """What moved by more than sampling error; one line for each group where nothing did."""
    rows: Rows = [
        ["group", "what", "percentile", "before", "after", "change", "of the middle half", "p"]
    ]
    for cell in comparison.cells:
        for move in cell.moved:
            rows.append([cell.cohort_label, *_move_cells(move, unit)])
        if not cell.moved:
            why = cell.note if not cell.moves and cell.note else "no more than sampling error"
            rows.append([cell.cohort_label, why, *[""] * 6])
    return rows


def comparison_sentences(comparison: EditionComparison) -> tuple[str, ...]:
    """Whom the comparison rests on, group by group, and how it tells a move from chance."""
    if comparison.same_numbers:
        return ("Both editions hold the same numbers: nothing can have moved.",)
    said = []
    for cell in comparison.cells:
        if not cell.moves:
            continue
        counts = (
            f"{cell.cohort_label}: {plural(cell.golfers_first, 'golfer')}, then "
            f"{cell.golfers_second}, {cell.golfers_both} of them in both"
        )
        said.append(f"{counts}; {cell.note}." if cell.note else f"{counts}.")
    for name, keys in (
        (comparison.first, comparison.only_first),
        (comparison.second, comparison.only_second),
    ):
        if keys:
            said.append(f"Only {name} has {', '.join(keys)}.")
    return (
        *said,
        comparison.rule,
        "If nothing moved, anything at all would be named in at most "
        f"{percent_of(comparison.false_alarm_rate)} of such comparisons "
        f"({comparison.relabellings:,} relabellings). With many golfers a small move is sure, too: "
        "its size is beside it, in widths of the first edition's middle half.",
    )


def _move_cells(move: Move, unit: str) -> list[str]:
    what = move.subject
    if move.phase is not None:
        what = f"{move.subject}, {PHASE_NAMES[move.phase]} (node {move.node})"
    elif move.subject in BY_NAME:
        what = BY_NAME[move.subject].label
    values = [_value(move.subject, v, unit) for v in (move.first, move.second, move.change)]
    size = DASH if move.of_middle_half is None else percent_of(move.of_middle_half)
    return [what, f"{move.percent:g}", *values, size, f"{move.p_value:.3f}"]


def adoption_table(adoption: Adoption, *, unit: str = "in") -> Rows:
    """Every judged feature of one verdict."""
    rows: Rows = [
        ["feature", "golfers", "their median", "our median", "outside", "expected", "p", "decides"]
    ]
    for check in adoption.checks:
        medians = (check.edition_median, check.local_median)
        rows.append(
            [
                BY_NAME[check.feature].label if check.feature in BY_NAME else check.feature,
                str(check.golfers),
                *(_value(check.feature, median, unit) for median in medians),
                str(check.outside),
                number(check.outside_expected, 1),
                f"{check.p_value:.3f}",
                "against" if check.feature in adoption.refused_by else "",
            ]
        )
    return rows


def adoption_sentences(adoption: Adoption) -> tuple[str, ...]:
    """The verdict and how often such a verdict errs."""
    rates = adoption.error_rates
    return (
        f"{adoption.cohort_label}: {adoption.verdict}, on {adoption.local_golfers} local golfers "
        f"against {adoption.edition_golfers}.",
        f"Norms that hold are refused in at most {100 * rates.false_refusal:.0f} of 100 such "
        "checks. Norms that are off in one feature are refused in "
        f"{100 * rates.found_shift_one:.0f} of 100 where golfers lie a whole standard deviation "
        f"away, in {100 * rates.found_shift_half:.0f} where half of one, and in "
        f"{100 * rates.found_spread_half_more:.0f} where they spread half as much again: to accept "
        "is not to prove.",
    )


def peers_table(peers: TwoWayPeers, *, unit: str = "in") -> Rows:
    """A golfer's features among both groups of peers, side by side."""
    rows: Rows = [
        [
            "feature",
            "value",
            "percentile (90 %) at like handicap",
            "percentile (90 %) at like ball speed",
            "finding",
        ]
    ]
    for place in peers.places:
        rows.append(
            [
                phrase(place.feature).subject,
                DASH if place.value is None else value_words(place.feature, place.value, unit),
                _place_words(place.at_like_handicap),
                _place_words(place.at_like_speed),
                place.finding,
            ]
        )
    return rows


def peers_sentences(peers: TwoWayPeers, *, speed_unit: str = "mph") -> tuple[str, ...]:
    """Who the peers are, both ways, and the standing caution."""
    return (
        _group_words(peers.by_handicap, speed_unit),
        _group_words(peers.by_speed, speed_unit),
        peers.caution,
    )


def _group_words(group: PeerGroup, speed_unit: str) -> str:
    if group.withheld is not None:
        return f"Matched on {group.matched_on}: nothing shown, {group.withheld}."
    ends = [_match_words(group, end, speed_unit) for end in (group.low, group.high)]
    own, mean = (_match_words(group, value, speed_unit) for value in (group.own, group.mean))
    return (
        f"Matched on {group.matched_on}: {plural(group.golfers, 'golfer')} from {ends[0]} to "
        f"{ends[1]}, {mean} on average; the golfer's own is {own}."
    )


def _match_words(group: PeerGroup, value: float | None, speed_unit: str) -> str:
    if value is None:
        return DASH
    if group.matched_on == "handicap":
        return handicap_words(round(value, 1))
    shown = {"mps": "m/s", "mph": "mph"}[speed_unit]
    return f"{mps_to(value, speed_unit):.0f} {shown}"


def _place_words(place: PeerPlace) -> str:
    if place.percentile is None or place.low is None or place.high is None:
        return DASH
    return f"{place.percentile:.0f} ({place.low:.0f} to {place.high:.0f}), {place.peers} peers"


def _value(subject: str, value: float | None, unit: str) -> str:
    """A feature in its unit, a curve in the unit of length."""
    if value is None:
        return DASH
    return quantity(value, BY_NAME[subject].unit if subject in BY_NAME else "cm", unit)
