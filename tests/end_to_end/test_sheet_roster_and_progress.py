"""A sheet from captures, a roster placed from the store, and a golfer's progress."""

import csv
import io
import json
from datetime import date

import pytest

from norms.cohort.frozen_shapes import frozen_shapes
from norms.errors import CohortRefused
from pipelines.consents import consenting
from pipelines.feature_table import features_csv
from pipelines.place_roster import place_roster
from pipelines.place_sheet import place_sheet
from pipelines.read_capture import PlaceRequest
from pipelines.store import open_store
from pipelines.track_progress import mark_event, track_progress
from reports.patterns_page import patterns_page
from reports.progress_page import progress_page
from reports.sheet_page import sheet_page


@pytest.fixture(scope="module")
def sheet(academy):
    capture = academy.folder / academy.truth.student_captures[0]
    with open_store(academy.store) as store:
        return place_sheet(store, PlaceRequest(capture=capture, edition="spring"))


def test_a_sheet_holds_every_answer_and_says_it_on_its_page(academy, sheet):
    place, document = sheet
    json.dumps(document, allow_nan=False)
    assert place.typicality is not None
    assert place.map is not None
    assert place.pattern is not None
    assert len(place.look_alikes.group) == 5
    page = sheet_page(place)
    assert "What to look at first" in page
    with open_store(academy.store) as store:
        shown = consenting(store, "shown")
    named = [one.golfer for one in place.look_alikes.group if one.golfer is not None]
    assert named
    assert set(named) <= set(shown)
    assert all(golfer in page for golfer in named)
    assert page.count("not named") == len(place.look_alikes.group) - len(named)
    assert "<script" not in page
    assert "http" not in page


def test_several_captures_of_one_golfer_are_one_sheet(academy):
    golfer = next(
        one
        for one in academy.truth.golfers
        if sum(s.club == "driver" and s.lab == "north_bay" for s in one.swings) >= 2
        and one.person.golfer.handicaps
    )
    codes = [s.code for s in golfer.swings if s.club == "driver" and s.lab == "north_bay"][:2]
    files = [academy.folder / "captures" / "north_bay" / f"{code}.c3d" for code in codes]
    with open_store(academy.store) as store:
        request = PlaceRequest(
            capture=files[0], edition="spring", profile=academy.folder / "north_bay.toml",
            level="all",
        )  # fmt: skip
        place, _ = place_sheet(store, request, more=files[1:], look_alikes=False)
    assert place.swings == tuple(sorted(codes))
    assert place.look_alikes is None


def test_a_roster_is_placed_whole_with_value_and_range_in_one_row(academy):
    with open_store(academy.store) as store:
        placed = dict(place_roster(store, "spring", club="driver"))
        with pytest.raises(CohortRefused, match="no norms for club"):
            list(place_roster(store, "spring", club="putter"))
    assert len(placed) > 50
    table = list(csv.DictReader(io.StringIO(features_csv(placed.values()))))
    assert len(table) == len(placed) * len(next(iter(placed.values())).places)
    shown = [row for row in table if row["percentile"]]
    assert shown
    for row in shown:
        assert float(row["percentile_low"]) <= float(row["percentile"])
        assert float(row["percentile"]) <= float(row["percentile_high"])
        assert row["value"]
        assert row["peers_median"]


def test_a_roster_is_held_against_a_cohort_by_those_who_belong_to_it(academy):
    with open_store(academy.store) as store:
        by_own_level = dict(place_roster(store, "spring", club="driver"))
        found = dict(place_roster(store, "spring", cohort="driver/to_12"))
        with pytest.raises(CohortRefused, match="has no norms for club 'iron 7'; it has driver"):
            list(place_roster(store, "spring", cohort="driver/to_12", club="iron 7"))
        with pytest.raises(CohortRefused, match="no cohort 'veterans'"):
            list(place_roster(store, "spring", cohort="veterans"))
    placed = {code for code, one in found.items() if not isinstance(one, CohortRefused)}
    assert placed == {
        code for code, one in by_own_level.items() if one.placement.cohort_key == "driver/to_12"
    }
    assert {found[code].placement.cohort_key for code in placed} == {"driver/to_12"}
    refused = [one for one in found.values() if isinstance(one, CohortRefused)]
    assert {one.code for one in refused} == {"outside_cohort"}
    assert "another level on the day of the swing" in refused[0].message


def test_progress_of_a_golfer_with_a_lesson_in_between(academy):
    with open_store(academy.store) as store:
        golfer, sessions = next(
            (one.person.golfer.code, days)
            for one in academy.truth.golfers
            if len(days := sorted({s.recorded_on for s in one.swings if s.club == "driver"})) >= 2
        )
        mark_event(store, golfer, sessions[-1], "lesson", "posture")
        progress = track_progress(store, golfer, "spring", club="driver")
        with pytest.raises(CohortRefused, match="needs a kind"):
            mark_event(store, golfer, sessions[-1], " ")
        with pytest.raises(CohortRefused, match="not in the roster"):
            track_progress(store, "Q9999", "spring", club="driver")
        with pytest.raises(CohortRefused, match="no stored swing"):
            track_progress(store, golfer, "spring", club="putter")
    assert [event.kind for event in progress.events] == ["lesson"]
    page = progress_page(progress)
    assert "lesson" in page
    assert golfer in page
    assert isinstance(progress.sessions[0].day, date)


def test_the_edition_keeps_its_shapes_exactly(academy):
    with open_store(academy.store) as store:
        kept = store.edition("spring")
    assert kept.content_hash == academy.edition.content_hash
    before, after = frozen_shapes(academy.edition), frozen_shapes(kept)
    assert before.patterns.keys() == after.patterns.keys() == {"driver", "iron 7"}
    for club, patterns in before.patterns.items():
        assert (patterns.strangeness == after.patterns[club].strangeness).all()
        assert patterns.reason in patterns_page(kept)
