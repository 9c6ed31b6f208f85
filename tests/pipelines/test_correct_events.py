"""Corrections of events: the swing follows, and who and why are kept."""

from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from norms.errors import NormsError
from norms.records import Golfer
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths
from pipelines.collect.profile import load_profile
from pipelines.collect_captures import collect_captures
from pipelines.compare_hip_methods import compare_methods, comparison_document
from pipelines.correct_events import EventsRequest, correct_events
from pipelines.lab_profiles import keep_profile
from pipelines.store import Store, open_store

SWING = SwingParameters()
NOW = datetime(2026, 5, 20, 12, 0, tzinfo=UTC)
PROFILE = """
[lab]
name = "North bay"
[points]
left_asis = "left_asis"
right_asis = "right_asis"
left_psis = "left_psis"
right_psis = "right_psis"
left_hand = "left_hand"
right_hand = "right_hand"
club_head = "club_head"
[units]
length = "cm"
[axes]
source = "declared"
target = "+x"
up = "+z"
ball = "-y"
"""


def write_capture(path: Path, times: int = 1) -> Path:
    """A table of the invented swing, or of it several times over."""
    paths = marker_paths(SWING, Body(), capture_times(SWING, 240.0))
    points = {role: np.concatenate([path] * times) for role, path in paths.items()}
    del points["left_foot"], points["right_foot"]
    header = ",".join(["time_s", *(f"{role}_{letter}" for role in points for letter in "xyz")])
    values = np.concatenate(list(points.values()), axis=1)
    if times > 1:  # from the end of one swing the body glides back to the address of the next
        cut, glide = len(capture_times(SWING, 240.0)), np.linspace(0, 1, 480)[:, None]
        ease = glide * glide * (3 - 2 * glide)
        back = values[cut - 1] + ease * (values[cut] - values[cut - 1])
        values = np.concatenate([values[:cut], back, values[cut:]])
    seconds = np.arange(len(values)) / 240.0
    rows = np.column_stack([seconds, values])
    path.write_text(header + "\n" + "\n".join(",".join(map(repr, r)) for r in rows.tolist()))
    return path


@pytest.fixture
def profile_path(tmp_path: Path) -> Path:
    path = tmp_path / "north_bay.toml"
    path.write_text(PROFILE, encoding="utf-8")
    return path


@pytest.fixture
def store(tmp_path: Path, profile_path: Path):
    with open_store(tmp_path / "store.duckdb", create=True) as opened:
        opened.add_golfers([Golfer(code="Q0001", hand="right")])
        keep_profile(opened, load_profile(profile_path))
        yield opened


def collect(store: Store, path: Path, profile_path: Path) -> str:
    (outcome,) = collect_captures(
        [path],
        store,
        load_profile(profile_path),
        golfer="Q0001",
        club="driver",
        recorded_on=date(2026, 5, 14),
        workers=1,
    )
    return outcome.code


def test_a_stored_swing_follows_the_correction(tmp_path, store, profile_path) -> None:
    path = write_capture(tmp_path / "a.csv")
    assert collect(store, path, profile_path) == "ok"
    before = correct_events(store, EventsRequest(capture=path))
    assert before.corrections == ()
    later = before.swing.events.top.time_s + 0.02
    request = EventsRequest(
        capture=path, times_s={"top": later}, person="head coach", reason="seen on the film"
    )
    correct_events(store, request)
    kept = store.swing("a")
    assert kept.events.top.time_s == later
    assert kept.events.top.method == "corrected by head coach"
    added = kept.features.values["backswing_time"] - before.swing.features.values["backswing_time"]
    assert added == pytest.approx(0.02, abs=1e-9)
    (word,) = correct_events(store, EventsRequest(capture=path)).corrections
    assert (word.event, word.person, word.reason) == ("top", "head coach", "seen on the film")
    assert len(store.swing_pool().swings) == 1


def test_earlier_corrections_still_count_and_the_last_on_an_event_wins(
    tmp_path, store, profile_path
) -> None:
    path = write_capture(tmp_path / "a.csv")
    collect(store, path, profile_path)
    signed = {"person": "head coach", "reason": "film"}
    for times in ({"top": 1.42}, {"finish": 2.3}, {"top": 1.41}):
        correct_events(store, EventsRequest(capture=path, times_s=times, **signed))
    events = store.swing("a").events
    assert (events.top.time_s, events.finish.time_s) == (1.41, 2.3)
    assert len(store.event_corrections(store.swing("a").label.content_hash)) == 3


def test_a_file_refused_for_two_swings_is_stored_once_a_person_names_the_impact(
    tmp_path, store, profile_path
) -> None:
    path = write_capture(tmp_path / "two.csv", times=2)
    assert collect(store, path, profile_path) == "two_swings"
    request = EventsRequest(
        capture=path,
        times_s={"impact": SWING.impact_s},
        person="lab assistant",
        reason="the second swing was without a ball",
        profile=profile_path,
        golfer="Q0001",
        club="driver",
        day=date(2026, 5, 14),
    )
    correct_events(store, request)
    assert store.swing("two").events.impact.time_s == SWING.impact_s
    assert store.swing("two").events.top.time_s == pytest.approx(SWING.top_s, abs=0.005)


def test_collecting_a_file_keeps_to_what_a_person_said_of_its_events(
    tmp_path, store, profile_path
) -> None:
    """In another store that has the corrections and not the swing."""
    path = write_capture(tmp_path / "a.csv")
    collect(store, path, profile_path)
    signed = {"person": "head coach", "reason": "film"}
    for times in ({"top": 1.43}, {"top": 1.42}, {"finish": 2.3}):
        correct_events(store, EventsRequest(capture=path, times_s=times, **signed))
    kept = store.swing("a")
    words = store.event_corrections(kept.label.content_hash)
    with open_store(tmp_path / "other.duckdb", create=True) as other:
        other.add_golfers([Golfer(code="Q0001", hand="right")])
        for word in words:
            other._database.rows(
                "add_event_correction",
                (kept.label.content_hash, word.event, word.time_s, word.person, word.reason, NOW),
            )
        assert collect(other, path, profile_path) == "ok"
        again = other.swing("a")
        assert other.event_corrections(kept.label.content_hash) == words
    assert (again.events.top.time_s, again.events.finish.time_s) == (1.42, 2.3)
    assert again.events.top.method == "corrected by head coach"
    assert again.features.values == kept.features.values


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"person": ""}, "correction_unsigned"),
        ({"reason": " "}, "correction_unsigned"),
        ({"times_s": {"top": 99.0}}, "event_outside"),
        ({"times_s": {"start": 1.5}}, "events_out_of_order"),
        ({"times_s": {"top": 1.9}}, "swing_stopped"),
    ],
)
def test_a_correction_that_cannot_be_is_refused_and_nothing_is_kept(
    tmp_path, store, profile_path, fields, code
) -> None:
    path = write_capture(tmp_path / "a.csv")
    collect(store, path, profile_path)
    stated = {"times_s": {"top": 1.41}, "person": "head coach", "reason": "film"} | fields
    before = store.swing("a")
    with pytest.raises(NormsError) as refused:
        correct_events(store, EventsRequest(capture=path, **stated))
    assert refused.value.code == code
    if code != "correction_unsigned":
        event, time_s = next(iter(stated["times_s"].items()))
        assert f"a.csv: with {event} at {time_s:g} s as corrected: " in refused.value.message
    assert store.event_corrections(before.label.content_hash) == ()
    assert store.swing("a").events == before.events


def test_an_unknown_file_needs_a_profile(tmp_path, store) -> None:
    path = write_capture(tmp_path / "b.csv")
    with pytest.raises(NormsError, match="--profile"):
        correct_events(store, EventsRequest(capture=path))


def test_methods_are_compared_on_one_file(tmp_path, profile_path) -> None:
    path = write_capture(tmp_path / "Q0001.csv")
    text = profile_path.read_text()
    profile_path.write_text(text + "[pelvis]\nmarker_radius_cm = 0.7\nleg_length_cm.Q0001 = 88.0\n")
    profile = load_profile(profile_path)
    document = comparison_document(compare_methods(path, profile, hand="right", golfer="Q0001"))
    assert document["own_method"] == "harrington"
    assert {entry["method"] for entry in document["methods"]} == {
        "harrington_full", "harrington_width", "harrington_leg", "bell", "davis",
    }  # fmt: skip
    assert document["not_possible"] == {}
    without = compare_methods(path, profile, hand="right", golfer="Q0002")
    assert "leg_length_cm" in without.refused["davis"]
