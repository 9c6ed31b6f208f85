"""What was entered is listed, put right, withdrawn and brought back, each in one act."""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.errors import NormsError
from norms.records import BallSpeed, DatedHandicap, Exclusion, FileOutcome, Golfer
from norms.records.consent import Consent
from norms.records.progress import GolferEvent
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.amend import amend, withdraw
from pipelines.audit import read_log
from pipelines.entries import KINDS, list_entries
from pipelines.erase_golfer import erase_golfer
from pipelines.store import open_store
from pipelines.take_back import undo_last

SIGNED = {"who": "office", "why": "filed wrongly"}
CODE = "Q0001_2026-05-01_driver_1"
HANDICAPS = (DatedHandicap(since=date(2026, 4, 1), index=12.0),)


def fill(store, swing_with):
    store.add_golfers(
        [
            Golfer(code="Q0001", hand="right", birth_year=1980, handicaps=HANDICAPS),
            Golfer(code="Q0002", hand="right", birth_year=2000),
            Golfer(code="Q0003", hand="left"),
        ]
    )
    swings = [
        swing_with(code, "Q0001", np.full((3, 301), n), dict.fromkeys(FEATURE_NAMES, 1.5 + n))
        for n, code in enumerate((CODE, "Q0001_2026-05-01_driver_2"))
    ]
    swings.append(
        swing_with("Q0002_2026-05-01_iron_1", "Q0002", np.zeros((3, 301)), {}, club="iron")
    )
    swings = [
        replace(one, label=replace(one.label, content_hash=f"{n}" * 64))
        for n, one in enumerate(swings)
    ]
    outcomes = [
        FileOutcome(
            source=one.label.source,
            lab="North bay",
            status="accepted",
            code="ok",
            message="",
            swing=one.label.swing,
            content_hash=one.label.content_hash,
        )
        for one in swings
    ]
    run = store.begin_run("North bay", datetime.now(UTC))
    with store.act("collect", can_undo=False):
        store.add_swings(swings, outcomes, run)
    store.finish_run(run)
    store.add_ball_speeds([BallSpeed(swing=CODE, ball_speed_mps=60.0)])
    store.consents.add(
        [Consent(golfer="Q0001", purpose="norms", given=False, decided_on=date(2026, 4, 2))]
    )
    for _ in range(2):
        store.golfer_shelf.mark(GolferEvent(golfer="Q0001", day=date(2026, 5, 2), kind="lesson"))
    store.add_exclusion(
        Exclusion(golfer=None, swing=CODE, reason="blurred", decided_by="lab"), datetime.now(UTC)
    )


@pytest.fixture
def store(swing_with):
    with open_store(":memory:") as opened:
        fill(opened, swing_with)
        yield opened


def everything(store):
    return {entry.name: entry.said() for entry in list_entries(store)} | {
        "curves": {
            code: store.swing(code).curve.values_cm.tobytes() for code in store.swing_codes()
        }
    }


def names(store, **asked):
    return [entry.name for entry in list_entries(store, **asked)]


def test_every_entry_is_listed_by_the_words_that_name_it(store):
    assert names(store, kind="handicap") == ["handicap Q0001 2026-04-01"]
    mine = names(store, golfer="Q0001")
    assert {one.split()[0] for one in mine} == {
        "golfer", "handicap", "consent", "capture", "speed", "mark", "exclusion",
    }  # fmt: skip
    assert not any("Q0002" in one for one in mine)


def test_a_capture_under_the_wrong_golfer_day_and_club_is_put_right_in_one_command_and_undone(
    store,
):
    before = everything(store)
    done = amend(
        store,
        ["capture", CODE],
        {"golfer": "Q0002", "club": "IRON", "date": "2026-05-03"},
        **SIGNED,
    )
    new = "Q0002_2026-05-03_iron_1"
    assert done.name == f"capture {new}"
    assert ("golfer", "Q0001", "Q0002") in done.changes
    label = store.swing(new).label
    assert (label.golfer, label.club, label.recorded_on) == ("Q0002", "iron", date(2026, 5, 3))
    assert store.swing(new).features.values["tempo"] == 1.5
    assert store.ball_speeds()[new].ball_speed_mps == 60.0
    assert CODE not in store.swing_codes()
    assert store.outcomes()[0].swing == new
    undo_last(store, **SIGNED)
    assert everything(store) == before
    assert store.outcomes()[0].swing == CODE
    assert read_log(store).faults == ()


def test_a_code_that_is_taken_gets_a_number(store):
    amend(store, ["capture", CODE], {"golfer": "Q0002", "club": "iron"}, **SIGNED)
    assert "Q0002_2026-05-01_iron_1_2" in store.swing_codes()


def test_a_moved_capture_is_no_longer_erased_with_the_one_who_had_it(tmp_path, swing_with):
    path = tmp_path / "academy.duckdb"
    with open_store(path, create=True) as store:
        fill(store, swing_with)
        name = amend(store, ["capture", CODE], {"golfer": "Q0002"}, **SIGNED).name
    erase_golfer(path, "Q0001", why="asked for it", who="office")
    code = name.split()[1]
    with open_store(path) as store:
        kept = store.swing(code)
        assert kept.label.golfer == "Q0002"
        assert len(kept.features.values) == len(FEATURE_NAMES)
        assert "Q0001" not in kept.label.source
        assert read_log(store).faults == ()
    assert b"Q0001" not in path.read_bytes()


def test_another_hand_needs_the_file_and_says_so(store):
    with pytest.raises(NormsError, match="add hand=left and --capture FILE"):
        amend(store, ["capture", CODE], {"golfer": "Q0003"}, **SIGNED)
    with pytest.raises(NormsError, match="name it with --capture FILE"):
        amend(store, ["capture", CODE], {"golfer": "Q0003", "hand": "left"}, **SIGNED)
    amend(store, ["capture", CODE], {"golfer": "Q0003", "hand": "right"}, **SIGNED)


@pytest.mark.parametrize(
    ("words", "stated", "entry", "field", "value"),
    [
        (["golfer", "Q0001"], {"height_cm": "181.5"}, "golfer Q0001", "height_cm", 181.5),
        (["golfer", "Q0002"], {"birth_year": ""}, "golfer Q0002", "birth_year", None),
        (["handicap", "Q0001", "2026-04-01"], {"index": "+1.2"}, "handicap Q0001 2026-04-01",
         "index", -1.2),
        (["handicap", "Q0001", "2026-04-01"], {"date": "2026-03-01"},
         "handicap Q0001 2026-03-01", "index", 12.0),
        (["consent", "Q0001", "norms", "2026-04-02"], {"given": "yes"},
         "consent Q0001 norms 2026-04-02", "given", True),
        (["speed", CODE], {"ball_speed_mph": "100"}, f"speed {CODE}", "ball_speed_mps",
         pytest.approx(44.704)),
        (["mark", "2"], {"kind": "new driver", "note": "longer"}, "mark 2", "note", "longer"),
        (["exclusion", "1"], {"reason": "marker lost"}, "exclusion 1", "reason", "marker lost"),
    ],
)  # fmt: skip
def test_each_kind_is_put_right_and_undone(store, words, stated, entry, field, value):
    before = everything(store)
    assert amend(store, words, stated, **SIGNED).name == entry
    assert everything(store)[entry][field] == value
    undo_last(store, **SIGNED)
    assert everything(store) == before
    assert read_log(store).faults == ()


@pytest.mark.parametrize(
    ("words", "stated", "says"),
    [
        (["handicp", "Q0001"], {"index": "1"}, 'did you mean "handicap"'),
        (
            ["handicap", "Q0001"],
            {"index": "1"},
            "is named by golfer and since, e.g. handicap Q0001",
        ),
        (["handicap", "Q0001", "2026-04-02"], {"index": "1"}, "did you mean"),
        (["golfer", "Q0001"], {"hand": "right"}, "says so already"),
        (["handicap", "Q0001", "2026-04-01"], {"indx": "1"}, 'did you mean "index"'),
        (["handicap", "Q0001", "2026-04-01"], {"index": "99"}, "allowed is"),
        (["handicap", "Q0001", "2026-04-01"], {}, "say what is to be put right"),
        (["handicap", "Q0001", "2026-04-01"], {"date": "2062-01-01"}, "is after today"),
        (["capture", CODE], {"golfer": "Q0009"}, "is not on the roster"),
        (["capture", CODE], {"date": "1979-01-01"}, "before the golfer was born"),
        (["capture", CODE], {"club": "irn"}, 'did you mean "iron"'),
        (["mark", "77"], {"kind": "x"}, "no such entry"),
        (["mark", "eins"], {"kind": "x"}, "is not a number"),
        (["correction", "1"], {"time": "1"}, "holds no correction"),
        (["speed", CODE], {"ball_speed_mph": "100", "ball_speed_kmh": "160"}, "stated twice"),
    ],
)
def test_a_slip_is_told_in_one_line_and_nothing_changes(store, words, stated, says):
    before, lines = everything(store), len(store.audit.entries())
    with pytest.raises(NormsError, match=says) as refusal:
        amend(store, words, stated, **SIGNED)
    assert "\n" not in refusal.value.message
    assert (everything(store), len(store.audit.entries())) == (before, lines)


def test_who_and_why_are_needed(store):
    for signed in ({"who": " ", "why": "x"}, {"who": "office", "why": ""}):
        with pytest.raises(NormsError, match="needs who and why"):
            withdraw(store, ["mark", "1"], **signed)


def test_words_of_health_are_in_no_list(store):
    for mark, kind, health in ((1, "torn ligament", False), (2, "rest", True)):
        store.entry_rows.change("golfer_event", {"number": mark}, {"kind": kind, "health": health})
    said = [entry.said() for entry in list_entries(store, kind="mark")]
    assert {one["kind"] for one in said} == {"health note on record"}
    assert {one["note"] for one in said} == {None}


def test_two_lessons_on_one_day_are_listed_one_edited_the_other_withdrawn(store):
    assert names(store, kind="mark") == ["mark 1", "mark 2"]
    amend(store, ["mark", "1"], {"note": "posture"}, **SIGNED)
    withdraw(store, ["mark", "2"], **SIGNED)
    (left,) = store.golfer_shelf.events("Q0001")
    assert left.note == "posture"
    undo_last(store, **SIGNED)
    assert names(store, kind="mark") == ["mark 1", "mark 2"]


def test_a_withdrawn_capture_may_be_collected_again_and_comes_back_by_undoing(store):
    before = everything(store)
    withdraw(store, ["capture", CODE], **SIGNED)
    assert CODE not in store.swing_codes()
    assert "0" * 64 not in store.content_hashes()
    undo_last(store, **SIGNED)
    assert everything(store) == before


def test_a_golfer_with_captures_is_not_withdrawn_and_one_without_goes_with_handicaps(store):
    with pytest.raises(NormsError, match="2 captures are theirs"):
        withdraw(store, ["golfer", "Q0001"], **SIGNED)
    for code in (CODE, "Q0001_2026-05-01_driver_2"):
        withdraw(store, ["capture", code], **SIGNED)
    withdraw(store, ["golfer", "Q0001"], **SIGNED)
    assert names(store, kind="handicap") == []
    for _ in range(3):
        undo_last(store, **SIGNED)
    assert names(store, kind="handicap") == ["handicap Q0001 2026-04-01"]


def test_an_exclusion_is_not_withdrawn_but_readmitted(store):
    with pytest.raises(NormsError, match="--readmit"):
        withdraw(store, ["exclusion", "1"], **SIGNED)


STEPS = st.lists(
    st.sampled_from(
        [
            lambda s: amend(s, ["golfer", "Q0001"], {"height_cm": "170"}, **SIGNED),
            lambda s: amend(s, ["golfer", "Q0001"], {"height_cm": "180", "sex": ""}, **SIGNED),
            lambda s: amend(s, ["handicap", "Q0001", "2026-04-01"], {"index": "3"}, **SIGNED),
            lambda s: amend(s, ["mark", "1"], {"kind": "injury"}, **SIGNED),
            lambda s: withdraw(s, ["mark", "1"], **SIGNED),
            lambda s: withdraw(s, ["mark", "2"], **SIGNED),
            lambda s: withdraw(s, ["speed", CODE], **SIGNED),
            lambda s: amend(s, ["capture", CODE], {"golfer": "Q0002"}, **SIGNED),
            lambda s: withdraw(s, ["capture", CODE], **SIGNED),
        ]
    ),
    max_size=6,
)


@settings(max_examples=15)
@given(steps=STEPS)
def test_whatever_was_done_is_undone_in_order(swing_with, steps):
    with open_store(":memory:") as store:
        fill(store, swing_with)
        states = [everything(store)]
        for step in steps:
            try:
                step(store)
            except NormsError:  # an entry that an earlier step took away
                continue
            states.append(everything(store))
        for expected in states[-2::-1]:
            undo_last(store, **SIGNED)
            assert everything(store) == expected
        assert read_log(store).faults == ()


def test_every_kind_can_be_listed_in_an_empty_store():
    with open_store(":memory:") as store:
        assert list_entries(store) == []
        for kind in KINDS:
            assert list_entries(store, kind=kind) == []
