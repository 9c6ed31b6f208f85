"""Plain rows for a terminal: the first row is the heading, every cell is text."""

from collections.abc import Mapping, Sequence
from typing import Any

from norms.cohort.annex_contents import weightings
from norms.cohort.weights import weighted_moves
from norms.records import Edition, FeaturePlace, FileOutcome
from norms.records.decided_exclusion import DecidedExclusion
from norms.records.golfer_place import GolferPlace, SurePlace
from reports.atlas.golfers import grades
from reports.atlas.membership import level_labels, missing_kinds
from reports.collect_page import STATUS_WORDS, file_words, reason_words, status_counts
from reports.edition_page import shown_words, sorted_cells
from reports.phrases import phrase
from reports.placement_page import measured_words
from reports.quantities import DASH, check_unit, number
from reports.sentences import count_words, peers_summary, percentile_words, value_words

Rows = list[list[str]]
OTHERS_SHOWN = 40


def collect_table(outcomes: Sequence[FileOutcome]) -> Rows:
    """Files by lab and status, with a last row of totals where there are several labs."""
    labs = sorted({outcome.lab for outcome in outcomes})
    rows: Rows = [["lab", *STATUS_WORDS.values(), "files"]]
    groups = [(lab, [o for o in outcomes if o.lab == lab]) for lab in labs]
    if len(labs) > 1:
        groups.append(("all labs", list(outcomes)))
    for name, group in groups:
        rows.append([name, *(f"{count:,}" for count in status_counts(group)), f"{len(group):,}"])
    return rows


def reasons_table(outcomes: Sequence[FileOutcome]) -> Rows:
    """Every file that was rejected, or stored before, with its reason."""
    told = [o for o in outcomes if o.status in ("rejected", "duplicate")]
    return [
        ["file not stored", "because"],
        *([file_words(o.source), reason_words(o)] for o in told),
    ]


def others_table(others: Sequence[str]) -> Rows:
    """Files that were not looked at, by folder and name; of very many the first."""
    shown: Rows = [[file_words(one)] for one in others[:OTHERS_SHOWN]]
    more = len(others) - len(shown)
    return [["not looked at"], *shown, *([[f"and {more:,} more"]] if more else [])]


def edition_table(edition: Edition) -> Rows:
    """Cells of an edition with their counts, their grade and what each of them shows."""
    rows: Rows = [["group", "golfers", "swings", "grade", "shown"]]
    graded = grades(edition)
    for cell in sorted_cells(edition):
        golfers, swings = cell.counts
        definition = cell.cohort.definition
        grade = graded.get(definition.key, DASH)
        rows.append([definition.label, f"{golfers:,}", f"{swings:,}", grade, shown_words(cell)])
    return rows


def membership_table(edition: Edition) -> Rows:
    """Groups over all levels held against the roster, and what weights to the membership move."""
    rows: Rows = [
        [
            "group",
            "missing more than the rest",
            "count as",
            "design effect",
            "out of interval",
        ]
    ]
    stated: Any = edition.evidence
    missing = stated.get("who_is_missing", {})
    weighed, labels = weightings(edition), level_labels(edition)
    for cell in sorted_cells(edition):
        key = cell.cohort.definition.key
        if cell.cohort.definition.level is not None:
            continue
        kinds = "; ".join(missing_kinds(missing.get(key, ()), labels)) or DASH
        told = [DASH] * 3
        if key in weighed and cell.bands is not None:
            moves = weighted_moves(weighed[key], cell.bands)
            told = [
                f"{number(weighed[key].effective_golfers, 0)} of {weighed[key].golfers:,}",
                number(weighed[key].design_effect, 2),
                f"{sum(move.beyond_interval for move in moves)} of {len(moves)} percentiles",
            ]
        rows.append([cell.cohort.definition.label, kinds, *told])
    return rows


def exclusions_table(decisions: Sequence[DecidedExclusion]) -> Rows:
    """Every decision to leave a golfer or a swing out of norms, withdrawn ones too."""
    rows: Rows = [["left out", "because", "decided by", "on", "withdrawn"]]
    for decided in decisions:
        withdrawn = DASH
        if decided.withdrawn_at is not None:
            withdrawn = (
                f"{decided.withdrawn_at:%Y-%m-%d} by {decided.withdrawn_by}: "
                f"{decided.withdrawn_reason}"
            )
        made, day = decided.exclusion, f"{decided.decided_at:%Y-%m-%d}"
        rows.append([decided.subject, made.reason, made.decided_by, day, withdrawn])
    return rows


def placement_table(place: GolferPlace, *, unit: str = "in") -> Rows:
    """Every feature of a placement as on its sheet: value, place and the peers' range.

    Parameters
    ----------
    place : GolferPlace
    unit : {"in", "cm"}
        The reader's unit of length.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    rows: Rows = [
        ["feature", measured_words(len(place.swings)), "among the peers", "percentile", "peers"]
    ]
    features = place.placement.features
    return rows + [_placed(*one, unit) for one in zip(features, place.places, strict=True)]


def kept_placements_table(placements: Sequence[Mapping[str, Any]]) -> Rows:
    """Kept placements of one golfer, with the edition and the peers each was held against."""
    rows: Rows = [["swing", "recorded", "edition", "edition hash", "peers", "how many"]]
    for one in placements:
        swing, cohort = one["document"]["swing"], one["document"]["cohort"]
        rows.append(
            [
                one["swing"],
                swing["recorded_on"],
                one["edition"],
                one["edition_hash"][:12],
                cohort["label"],
                f"{cohort['peers']:,}",
            ]
        )
    return rows


def kept_verdicts_table(verdicts: Sequence[Mapping[str, Any]]) -> Rows:
    """Kept verdicts on placed swings, with the standard and the edition each was judged by."""
    rows: Rows = [
        ["swing", "standard", "verdict", "standard hash", "edition", "edition hash"],
    ]
    for one in verdicts:
        rows.append(
            [
                one["swing"],
                one["standard"],
                one["verdict"]["verdict"],
                one["standard_hash"][:12],
                one["edition"],
                one["edition_hash"][:12],
            ]
        )
    return rows


def _placed(place: FeaturePlace, sure: SurePlace, unit: str) -> list[str]:
    subject = phrase(place.feature).subject
    if place.value is None:
        return [subject, DASH, place.reason or "not given by this swing", DASH, DASH]
    value = value_words(place.feature, place.value, unit)
    percentile = percentile_words(sure)
    if percentile is None:
        return [subject, value, f"not placed, peers: {place.peers}", DASH, DASH]
    peers = peers_summary(place, unit) or DASH
    return [subject, value, count_words(place), percentile, peers]
