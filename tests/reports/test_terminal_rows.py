import re
from dataclasses import replace
from datetime import datetime

import pytest

from norms.records import Exclusion, FileOutcome
from norms.records.decided_exclusion import DecidedExclusion
from norms.records.golfer_place import GolferPlace, SurePlace
from reports.sheet_page import sheet_page
from reports.tables import (
    collect_table,
    edition_table,
    exclusions_table,
    placement_table,
    reasons_table,
)


def files(lab, **counts):
    return [
        FileOutcome(source=f"{status}{i}", lab=lab, status=status, code="ok", message="")
        for status, count in counts.items()
        for i in range(count)
    ]


def test_collected_files_are_counted_by_lab_and_in_all():
    outcomes = [
        *files("Range hut", accepted=1200, rejected=1),
        *files("North bay", accepted=2, accepted_with_warnings=1, duplicate=3),
    ]
    assert collect_table(outcomes) == [
        ["lab", "accepted", "with warnings", "rejected", "duplicate", "files"],
        ["North bay", "2", "1", "0", "3", "6"],
        ["Range hut", "1,200", "0", "1", "0", "1,201"],
        ["all labs", "1,202", "1", "1", "3", "1,207"],
    ]


def test_one_lab_needs_no_row_of_totals():
    assert len(collect_table(files("North bay", accepted=2))) == 2
    assert len(collect_table([])) == 1


def test_every_cell_of_an_edition_has_a_row(edition):
    rows = edition_table(edition)
    assert len(rows) == 1 + len(edition.cells)
    assert ["driver, handicap over 0, to 5", "41", "246", "–", "percentiles 10 to 90"] in rows
    assert rows[1][-1] == "withheld: 12 golfers where 20 are needed."


def held(placement, low=2.0, high=97.0):
    """A golfer's place whose percentiles all carry an interval of their own."""
    return GolferPlace(
        placement=placement,
        swings=(placement.swing.label.swing,),
        days=1,
        places=tuple(
            SurePlace(
                feature=one.feature,
                percentile=None if placement.withheld else one.percentile,
                low=low,
                high=high,
                holds="few swings and few golfers",
                error=0.1,
                p=0.5,
            )
            for one in placement.features
        ),
        map=None,
        typicality=None,
        nearest=None,
        pattern=None,
        look_alikes=None,
        findings=(),
    )


def test_every_feature_of_a_placement_has_a_row_of_text(placement):
    rows = placement_table(held(placement), unit="cm")
    assert len(rows) == 1 + len(placement.features)
    assert {len(row) for row in rows} == {5}
    assert all(isinstance(cell, str) for row in rows for cell in row)
    missing = next(row for row in rows if row[0] == "Sway turns toward the target")
    assert missing[1:3] == ["–", "the curve does not give it"]


def test_the_terminal_shows_the_interval_that_the_sheet_shows(placement):
    place = held(placement)
    rows = placement_table(place)
    on_the_sheet = re.findall(r'<td class="percentile"[^>]*>(.*?)</td>', sheet_page(place))
    shown = [row[3] for row in rows[1:] if row[3] != "–"]
    assert shown == [text.replace("\u00a0", " ") for text in on_the_sheet]
    assert all(text.endswith("(2 to 97)") for text in shown)


def test_several_swings_are_not_called_this_swing(placement):
    place = replace(held(placement), swings=("a", "b"))
    assert placement_table(place)[0][1] == "mean of 2 swings"


def test_a_withheld_placement_prints_no_percentile(placement):
    kept_back = replace(placement, bands=None, withheld="kept back")
    rows = placement_table(held(kept_back), unit="in")
    assert {row[3] for row in rows[1:]} == {"–"}
    assert {row[4] for row in rows[1:]} == {"–"}


def test_an_unknown_unit_is_refused(placement):
    with pytest.raises(ValueError, match="mile"):
        placement_table(held(placement), unit="mile")


def test_reasons_name_only_the_files_that_were_not_stored():
    outcomes = [
        *files("North bay", accepted=1, accepted_with_warnings=1),
        FileOutcome(
            source="disk/captures/b1.c3d",
            lab="North bay",
            status="rejected",
            code="no_impact",
            message="b1.c3d: ends before impact",
        ),
        FileOutcome(
            source="disk/captures/b2.c3d",
            lab="North bay",
            status="duplicate",
            code="duplicate",
            message="same content as b0.c3d",
        ),
    ]
    assert reasons_table(outcomes)[1:] == [
        ["captures/b1.c3d", "ends before impact"],
        ["captures/b2.c3d", "same content as b0.c3d"],
    ]


def test_exclusions_are_listed_with_who_why_and_whether_they_still_stand():
    first = DecidedExclusion(
        exclusion=Exclusion(golfer="Q0001", reason="wore a brace", decided_by="head coach"),
        decided_at=datetime(2026, 5, 1, 9, 30),
    )
    second = DecidedExclusion(
        exclusion=Exclusion(swing="S2", reason="slipped", decided_by="lab lead"),
        decided_at=datetime(2026, 5, 2),
        withdrawn_reason="looked again",
        withdrawn_by="head coach",
        withdrawn_at=datetime(2026, 5, 3),
    )
    assert exclusions_table([first, second])[1:] == [
        ["golfer Q0001", "wore a brace", "head coach", "2026-05-01", "–"],
        ["swing S2", "slipped", "lab lead", "2026-05-02", "2026-05-03 by head coach: looked again"],
    ]
