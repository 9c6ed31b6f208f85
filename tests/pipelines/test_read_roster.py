"""What a roster changes for swings that are stored, and that who was erased does not come back."""

import json
from datetime import UTC, datetime

import numpy as np
import pytest
from typer.testing import CliRunner

from norms.errors import CaptureRefused, NormsError, TableRefused
from norms.records import BallSpeed, Golfer
from pipelines.backup import backup_store
from pipelines.cli import app
from pipelines.collect.profile import CaptureSection
from pipelines.erase_golfer import erase_golfer
from pipelines.erased_codes import (
    BITS,
    erased_codes,
    keep_erased,
    refuse_erased_capture,
    remember_erased,
)
from pipelines.import_tables import import_ball_speeds, import_roster
from pipelines.lab_profiles import keep_profile
from pipelines.read_roster import read_roster
from pipelines.restore import restore_store
from pipelines.store import open_store
from reports.intake_sentences import NAMED, other_hand_sentences, speeds_sentence

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)
HEAD = "golfer,hand,professional,consents_norms\n"
GONE = "Q0003"


@pytest.fixture
def table(tmp_path):
    def write(*rows, head=HEAD):
        path = tmp_path / "roster.csv"
        path.write_text(head + "".join(f"{row}\n" for row in rows))
        return path

    return write


@pytest.fixture
def place(tmp_path, swing_with):
    """A store of four golfers of whom three have a swing."""
    path = tmp_path / "academy.duckdb"
    with open_store(path, create=True) as store:
        store.add_golfers([Golfer(code=f"Q000{n}", hand="right") for n in range(1, 5)])
        swings = [
            swing_with(f"Q000{n}_{k}", f"Q000{n}", np.full((3, 301), n + k / 10), {})
            for n in range(1, 4)
            for k in range(2)
        ]
        store.add_swings(swings, [], store.begin_run("North bay", NOON))
    return path


def row(code, hand="right"):
    return f"{code},{hand},no,yes"


# A changed hand


def test_a_changed_hand_names_the_stored_swings_that_were_read_with_the_other(place, table):
    with open_store(place) as store:
        found = read_roster(store, table(row("Q0001", "left"), row("Q0002"), row("Q0004", "left")))
        assert [(one.swing, one.hand) for one in found.other_hand] == [
            ("Q0001_0", "right"), ("Q0001_1", "right"),
        ]  # fmt: skip
        assert read_roster(store, table(row("Q0001", "left"))).other_hand == ()
        # Back again: the swings, never read anew, fit once more.
        assert read_roster(store, table(row("Q0001"))).other_hand == ()


def test_the_sentence_says_how_to_read_them_again():
    (said,) = other_hand_sentences([("Q1", f"Q1_{n}", f"{n}.c3d", "right") for n in range(25)])
    assert "plays from the left now, and 25 stored swings were read from the right" in said
    assert "Q1_0 (0.c3d)" in said
    assert f"and {25 - NAMED} more" in said
    assert "norms amend capture Q1_0 hand=left --capture FILE" in said
    (said,) = other_hand_sentences([("Q1", "Q1_0", "0.c3d", "left")])
    assert "from the right now, and 1 stored swing was read" in said
    assert other_hand_sentences([]) == []


# Ball speeds


def test_speeds_of_swings_that_are_not_stored_are_counted_and_named(place, tmp_path):
    file = tmp_path / "speeds.csv"
    file.write_text("swing,ball_speed_mps\nQ0001_0,60\nQ0009_0,61\nQ0001_1,\n")
    with open_store(place) as store:
        found = import_ball_speeds(store, file)
        assert (found.count, found.not_stored) == (2, ("Q0009_0",))
        assert store.ball_speeds()["Q0009_0"] == BallSpeed(swing="Q0009_0", ball_speed_mps=61.0)
    said = speeds_sentence(found.count, found.not_stored)
    assert said == (
        "2 ball speeds read, 1 of them for swings that are not in the store yet: Q0009_0"
    )
    assert speeds_sentence(1, ()) == "1 ball speed read, each for a stored swing"


# An erased golfer


@pytest.fixture
def erased(place):
    erase_golfer(place, GONE, why="asked for it", who="data officer")
    return place


@pytest.mark.parametrize("code", [GONE, "q0003", "Q0003"])
def test_a_roster_that_names_an_erased_golfer_is_stopped_as_a_whole(erased, table, code):
    with open_store(erased) as store:
        with pytest.raises(TableRefused, match=r"roster\.csv:3 golfer .*was erased") as refusal:
            import_roster(store, table(row("Q0001", "left"), row(code)))
        assert f"--again {code}" in refusal.value.message
        assert store.golfers()["Q0001"].hand == "right"
        assert code not in store.golfers()


def test_golfers_who_stayed_are_read_again_as_ever(erased, table):
    with open_store(erased) as store:
        assert import_roster(store, table(*(row(f"Q000{n}") for n in (1, 2, 4)))) == 3


def test_with_who_and_why_an_erased_golfer_comes_back_and_the_log_says_so(erased, table):
    file = table(row(GONE))
    with open_store(erased) as store:
        unsigned = (("not stated", "x"), ("", "x"), ("director", " "), ("director", f"{GONE} asks"))
        for who, why in unsigned:
            with pytest.raises(NormsError) as refusal:
                read_roster(store, file, again=[GONE], who=who, why=why)
            assert refusal.value.code == "again_unsigned"
        assert GONE not in store.golfers()
        read_roster(store, file, again=[GONE], who="director", why="joined again")
        entry = store.audit.entries()[-1]
        assert (entry.action, entry.who) == ("roster", "director")
        assert store.golfers().keys() >= {GONE}
        (again,) = json.loads(entry.details)["let_in_again"]
        assert store.audit.golfers_by_pseudonym()[again] == GONE
        assert "joined again" in entry.details
        assert GONE not in entry.details
        assert import_roster(store, file) == 1  # is on the roster, so nobody asks again


def test_letting_in_who_was_not_erased_is_refused(erased, table):
    with open_store(erased) as store:
        for code in ("Q0001", GONE):  # one who stayed, one whom the table does not name
            with pytest.raises(NormsError) as refusal:
                import_roster(store, table(row("Q0001")), again=[code])
            assert refusal.value.code == "not_erased"


def test_speeds_of_an_erased_golfers_swings_are_stopped_and_those_of_others_are_not(
    erased, north_bay, tmp_path
):
    file = tmp_path / "speeds.csv"
    names = CaptureSection(file_name="{golfer}_{date}_{club}_{number}")
    mine, other = (f"{code}_2026-05-01_driver_01" for code in (GONE, "Q0001"))
    with open_store(erased) as store:
        keep_profile(store, north_bay.model_copy(update={"capture": names}))
        file.write_text(f"swing,ball_speed_mps\n{other},60\n")
        assert import_ball_speeds(store, file).not_stored == (other,)
        file.write_text(f"swing,ball_speed_mps\n{other},60\n{mine},61\nno pattern,62\n")
        with pytest.raises(TableRefused, match=r"speeds\.csv:3 swing .*was erased"):
            import_ball_speeds(store, file)


def test_a_capture_of_an_erased_golfer_is_not_placed_and_one_of_a_stranger_is(erased):
    with open_store(erased) as store:
        with pytest.raises(CaptureRefused, match=r"a\.c3d: golfer Q0003 .*was erased") as refusal:
            refuse_erased_capture(store, GONE, "a.c3d")
        assert refusal.value.code == "golfer_erased"
    with open_store(":memory:") as store:  # of a fixed digest, which this guest's code has not
        keep_erased(store, [("ab" * 16, 77)])
        refuse_erased_capture(store, "a guest", "a.c3d")


def test_what_is_kept_of_a_code_is_short_undated_and_under_a_salt_of_its_own(erased):
    with open_store(erased) as store:
        ((salt, digest),) = erased_codes(store)
        assert len(bytes.fromhex(salt)) == 16
        assert 0 <= digest < 2**BITS
        for _ in range(3):
            remember_erased(store, GONE)  # once is enough
        assert len(erased_codes(store)) == 1
        keep_erased(store, [("ff" * 16, 5), ("00" * 16, 5), (salt, digest)])
        # By salts, which are at random: who was erased first is not to be seen.
        assert erased_codes(store) == [("00" * 16, 5), (salt, digest), ("ff" * 16, 5)]
    assert GONE.encode() not in erased.read_bytes()


def test_other_codes_fit_by_chance_as_rarely_as_said(table):
    with open_store(":memory:") as store:
        keep_erased(store, [("ab" * 16, 77)])
        rows = [row(f"N{n:05d}") for n in range(20_000)]
        with pytest.raises(TableRefused, match="faults") as refusal:
            import_roster(store, table(*rows))
        found = int(refusal.value.message.split()[0])
        # Binomial, 20,000 of 1 in 4,096: 4.9 expected; 18 is beyond one in a million.
        assert found < 18


def test_a_backup_that_is_restored_takes_the_digests_over(place, tmp_path, table):
    backup_store(place, tmp_path / "copy.duckdb")
    with open_store(place) as store:
        store.add_golfers([Golfer(code="Q0999", hand="right")])
    for golfer in ("Q0999", GONE):
        erase_golfer(place, golfer, why="asked for it", who="data officer")
    restore_store(tmp_path / "copy.duckdb", place, who="analyst", replace=True)
    with open_store(place) as store:
        for golfer in ("Q0999", GONE):
            with pytest.raises(TableRefused, match="was erased"):
                import_roster(store, table(row(golfer)))


# Days


def test_handicaps_before_birth_or_after_today_are_faults(place, table, tmp_path):
    handicaps = tmp_path / "h.csv"
    handicaps.write_text(
        "golfer,date,handicap_index\nQ0001,1989-12-31,3\nQ0001,1990-01-01,3\nQ0001,2062-01-01,3\n"
    )
    roster = table("Q0001,right,no,yes,1990", head=HEAD.strip() + ",birth_year\n")
    with open_store(place) as store:
        with pytest.raises(TableRefused) as refusal:
            import_roster(store, roster, handicaps)
        lines = refusal.value.message.splitlines()
        assert len(lines) == 3
        assert 'h.csv:2 date "1989-12-31": is before the golfer was born (1990' in lines[1]
        assert 'h.csv:4 date "2062-01-01": is after today' in lines[2]


# The commands


def run(*words):
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, " ".join(done.output.split()), done.exception


def test_the_commands_say_what_was_found(place, table, tmp_path):
    code, said, _ = run("roster", table(row("Q0001", "left")), "--store", place)
    assert code == 0
    assert "1 golfer read" in said
    assert "norms amend capture Q0001_0 hand=left --capture FILE" in said
    speeds = tmp_path / "speeds.csv"
    speeds.write_text("swing,ball_speed_mps\nQ0001_0,60\nQ0009_0,61\n")
    code, said, _ = run("speeds", speeds, "--store", place)
    assert code == 0
    assert "2 ball speeds read, 1 of them for swings that are not in the store yet: Q0009_0" in said


def test_the_roster_command_lets_an_erased_golfer_in_with_who_and_why(erased, table):
    words = ("roster", table(row(GONE)), "--store", erased)
    assert "was erased" in str(run(*words)[2])
    assert "who decides" in str(run(*words, "--again", GONE)[2])
    again = ("--again", GONE, "--who", "director", "--why", "joined again")
    assert run(*words, *again)[0] == 0
