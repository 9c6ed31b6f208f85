"""Whom an edition's norms speak for: who is missing, and what weights to the membership move."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from norms.cohort.annex_contents import weightings, withheld_findings
from norms.cohort.membership import MEMBERSHIP
from norms.cohort.weights import WeightedMove, weighted_moves
from norms.records import CohortNorms, Edition
from norms.records.weighting import MarginShare, Weighting
from norms.swing.catalogue import BY_NAME
from reports.phrases import phrase
from reports.quantities import digits, number, percent_of, plural, unit_words
from reports.sentences import sentence_case

SHOWN_MOVES: Final = 6
"""Percentiles listed where fewer than that move out of their interval."""

_STANDING: Final[dict[str, str]] = {"missing": "too few", "more than expected": "more than most"}
_MARGINS: Final[dict[str, str]] = {"level": "Level", "sex": "Sex", "age": "Age"}
_UNWEIGHED: Final = (
    "The bands on this page count every golfer once and are not weighed. Beside them, weights ask "
    "whether they would read otherwise if the golfers at hand were the membership in level, sex "
    "and age. In what else those who were not recorded may differ, no weight can tell."
)

Labels = Mapping[str, str]
Row = Mapping[str, Any]


def membership_section(
    edition: Edition, cells: Sequence[CohortNorms], unit: str
) -> dict[str, object] | None:
    """The groups over all levels against the roster, in words and tables, and a row of each group.

    Parameters
    ----------
    edition : Edition
        Counts of the roster are evidence, which an edition from elsewhere does not have.
    cells : sequence of CohortNorms
        In the order of the page.
    unit : {"in", "cm"}

    Returns
    -------
    dict or None
        None where nothing is known of the membership.
    """
    stated: Any = edition.evidence
    missing: Mapping[str, Sequence[Row]] = stated.get("who_is_missing", {})
    weighed, reasons = weightings(edition), withheld_findings(edition, "weighting")
    if not missing and not weighed and not reasons:
        return None
    labels = level_labels(edition)
    return {
        "words": _UNWEIGHED,
        "who": MEMBERSHIP,
        "groups": [
            _group(cell, missing, weighed, reasons, labels, unit)
            for cell in cells
            if cell.cohort.definition.level is None
            and cell.cohort.definition.key in {*missing, *weighed, *reasons}
        ],
        "rows": [
            _weighting_row(cell, weighed, reasons)
            for cell in cells
            if cell.cohort.definition.key in {*weighed, *reasons}
        ],
    }


def level_labels(edition: Edition) -> dict[str, str]:
    """Words of each level by its key."""
    levels: Any = edition.parameters.get("levels", ())
    return {level["key"]: level["label"] for level in levels}


def _group(
    cell: CohortNorms,
    missing: Mapping[str, Sequence[Row]],
    weighed: Mapping[str, Weighting],
    reasons: Mapping[str, str],
    labels: Labels,
    unit: str,
) -> dict[str, object]:
    key = cell.cohort.definition.key
    rows, weighting = missing.get(key, ()), weighed.get(key)
    sentences = _missing_sentences(rows, labels)
    moves: tuple[WeightedMove, ...] = ()
    if weighting is not None and cell.bands is not None:
        moves = weighted_moves(weighting, cell.bands)
        shown = int((cell.bands.feature == cell.bands.feature).sum())
        sentences += _weighting_sentences(weighting, moves, shown, labels)
    elif key in reasons:
        sentences.append(f"{sentence_case(reasons[key])}.")
    return {
        "label": sentence_case(cell.cohort.definition.label),
        "sentences": sentences,
        "coverage": [_coverage_row(row, labels) for row in rows],
        "shares": [_share_row(one, labels) for one in weighting.margins] if weighting else [],
        "moves": _move_rows(moves, unit),
        "confidence": percent_of(weighting.confidence) if weighting else "",
    }


def _missing_sentences(rows: Sequence[Row], labels: Labels) -> list[str]:
    if not rows:
        return []
    one_margin = [row for row in rows if row["margin"] == rows[0]["margin"]]
    roster, here = (sum(row[name] for row in one_margin) for name in ("roster", "cohort"))
    few = missing_kinds(rows, labels)
    held = f"It holds {here:,} of the {plural(roster, 'golfer')} on the roster who belong to it."
    if not few:
        return [f"{held} No level, sex or age group is clearly thinner than the rest."]
    return [f"{held} Missing more than the rest: {'; '.join(few)}."]


def missing_kinds(rows: Sequence[Row], labels: Labels) -> list[str]:
    """Kinds of golfers of whom fewer were reached than of the rest, with their counts."""
    return [
        f"{_category(row['category'], row['margin'], labels)} ({row['cohort']} of {row['roster']})"
        for row in rows
        if row["standing"] == "missing"
    ]


def _weighting_sentences(
    weighting: Weighting, moves: Sequence[WeightedMove], shown: int, labels: Labels
) -> list[str]:
    said = [_cost_sentence(weighting, labels)]
    if weighting.absent:
        kinds = "; ".join(_category(one.category, one.margin, labels) for one in weighting.absent)
        said.append(
            f"Wholly missing: {kinds}. No weight can bring back who is missing: the weights speak "
            f"for {percent_of(weighting.reach)} of the membership."
        )
    if weighting.not_weighed:
        named = " or ".join(weighting.not_weighed)
        said.append(f"It holds too few golfers of a second kind to be weighed by {named}.")
    return [*said, _moves_sentence(moves, shown)]


def _cost_sentence(weighting: Weighting, labels: Labels) -> str:
    margins = list(dict.fromkeys(one.margin for one in weighting.margins))
    by = f"{', '.join(margins[:-1])} and {margins[-1]}" if len(margins) > 1 else margins[0]
    golfers = plural(weighting.golfers, "golfer")
    widest = max(weighting.margins, key=lambda one: abs(one.membership - one.cohort))
    apart = (
        "every share is the membership’s already"
        if widest.membership == widest.cohort
        else f"farthest apart: {_kind(widest, labels)}, {percent_of(widest.membership)} of the "
        f"membership and {percent_of(widest.cohort)} of the group"
    )
    return (
        f"Weighed by {by}, {golfers} count as {number(weighting.effective_golfers, 0)} (design "
        f"effect {number(weighting.design_effect, 2)}); {apart}."
    )


def _moves_sentence(moves: Sequence[WeightedMove], shown: int) -> str:
    """What the weights move, of the percentiles of features that are shown without them."""
    beyond, lost = sum(move.beyond_interval for move in moves), shown - len(moves)
    of_all = f"of the {plural(len(moves), 'percentile')} of features"
    if not beyond:
        said = (
            f"Weighed so, none {of_all} moves out of its interval: as far as level, sex and age "
            "go, they read as the membership’s would."
        )
    else:
        verb = "moves out of its interval" if beyond == 1 else "move out of their intervals"
        said = (
            f"Weighed so, {beyond} {of_all} {verb}: read those as of the golfers recorded, not of "
            "the membership."
        )
    return said + (f" For {lost} more the weights leave too few golfers." if lost else "")


def _kind(share: MarginShare, labels: Labels) -> str:
    return " or ".join(_category(one, share.margin, labels) for one in share.categories)


def _category(category: str, margin: str, labels: Labels) -> str:
    if category == "unknown":
        return f"{margin} not known"
    return labels.get(category, category)


def _coverage_row(row: Row, labels: Labels) -> dict[str, str]:
    return {
        "margin": _MARGINS[row["margin"]],
        "category": _category(row["category"], row["margin"], labels),
        "roster": f"{row['roster']:,}",
        "cohort": f"{row['cohort']:,}",
        "reached": f"{percent_of(row['reached'])} "
        f"({percent_of(row['reached_low'])} to {percent_of(row['reached_high'])})",
        "standing": _STANDING.get(row["standing"], "as expected"),
    }


def _share_row(share: MarginShare, labels: Labels) -> dict[str, str]:
    return {
        "margin": _MARGINS[share.margin],
        "kind": _kind(share, labels),
        "membership": percent_of(share.membership),
        "cohort": percent_of(share.cohort),
    }


def _move_rows(moves: Sequence[WeightedMove], unit: str) -> list[dict[str, str]]:
    """All that move out of their interval, and the next farthest where these are few."""
    farthest = sorted(moves, key=lambda move: (not move.beyond_interval, -move.share_of_interval))
    beyond = sum(move.beyond_interval for move in moves)
    rows = [_move_row(move, unit) for move in farthest[: max(beyond, SHOWN_MOVES)]]
    return [row for row in rows if row["plain"] != row["weighted"]]


def _move_row(move: WeightedMove, unit: str) -> dict[str, str]:
    kind = BY_NAME[move.feature].unit

    def limit(*values: float) -> str:
        value, low, high = (digits(one, kind, unit, finer=1) for one in values)
        return f"{value} ({low} to {high})"

    return {
        "subject": phrase(move.feature).subject,
        "unit": unit_words(kind, unit),
        "percent": f"{move.percent:g}",
        "plain": limit(move.plain, move.plain_low, move.plain_high),
        "weighted": limit(move.weighted, move.weighted_low, move.weighted_high),
        "beyond": "yes" if move.beyond_interval else "no",
    }


def _weighting_row(
    cell: CohortNorms, weighed: Mapping[str, Weighting], reasons: Mapping[str, str]
) -> dict[str, object]:
    key = cell.cohort.definition.key
    label = sentence_case(cell.cohort.definition.label)
    weighting = weighed.get(key)
    if weighting is None or cell.bands is None:
        return {"label": label, "why": reasons.get(key, "not asked")}
    moves = weighted_moves(weighting, cell.bands)
    return {
        "label": label,
        "why": None,
        "golfers": f"{weighting.golfers:,}",
        "effective": number(weighting.effective_golfers, 0),
        "effect": number(weighting.design_effect, 2),
        "reach": percent_of(weighting.reach),
        "beyond": f"{sum(move.beyond_interval for move in moves)} of {len(moves)}",
    }
