"""A slip in a club's name does not become a club of its own."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.errors import CaptureRefused, NormsError
from norms.records import Golfer
from pipelines.known_clubs import KnownClubs
from pipelines.settings import Settings, keep_settings, plain_club, read_settings
from pipelines.store import open_store

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "academy.duckdb", create=True) as opened:
        opened.add_golfers([Golfer(code="Q0001", hand="right")])
        yield opened


@pytest.fixture
def collect(store, swing_with):
    def add(*clubs, finished=True):
        run = store.begin_run("North bay", NOON)
        curve = np.zeros((3, 301))
        swings = [
            swing_with(f"{club}-{run}", "Q0001", curve + run, {}, club=club) for club in clubs
        ]
        store.add_swings(swings, [], run)
        if finished:
            store.finish_run(run)

    return add


def refusal(known, club):
    with pytest.raises(CaptureRefused) as refused:
        known.name(club, "a.c3d")
    assert refused.value.code == "club_unknown"
    assert "\n" not in refused.value.message
    return refused.value.message


def test_a_store_that_never_collected_takes_clubs_as_they_come_each_under_one_spelling(store):
    known = KnownClubs.of(store)
    assert [known.name(club, "a") for club in ("7 iron", "7iron", "7_Iron")] == ["7 iron"] * 3


def test_from_then_on_another_club_is_stopped_with_the_nearest_and_what_to_do(store, collect):
    collect("driver", "iron 7")
    said = refusal(KnownClubs.of(store), "iron 77")
    for words in ('did you mean "iron 7"?', "--club", "settings", '--new-club "iron 77"'):
        assert words in said
    assert "(known: driver, iron 7)" in refusal(KnownClubs.of(store), "wood")
    assert KnownClubs.of(store).name("IRON-7", "a") == "iron 7"


def test_a_first_run_that_was_interrupted_can_be_repeated_with_all_of_its_clubs(store, collect):
    collect("driver", finished=False)
    assert KnownClubs.of(store).name("iron 7", "a") == "iron 7"
    collect("iron 7")
    refusal(KnownClubs.of(store), "wedge")


def test_the_academys_list_holds_from_the_first_file_on_and_knows_other_spellings(store, collect):
    keep_settings(
        store,
        Settings.model_validate(
            {"clubs": ["Driver", {"name": "iron 7", "also": ["7 iron", "7i", "Eisen 7"]}]}
        ),
    )
    known = KnownClubs.of(store)
    spelt = ("7-iron", "7i", "Eisen7", "iron 7", "DRIVER")
    assert [known.name(club, "a") for club in spelt] == ["iron 7"] * 4 + ["driver"]
    refusal(known, "wedge")
    collect("7 iron", "putter")  # stored before the list was written
    known = KnownClubs.of(store)
    assert (known.name("7 iron", "a"), known.name("putter", "a")) == ("iron 7", "putter")


def test_a_person_lets_a_club_in(store, collect):
    collect("driver")
    known = KnownClubs.of(store, ["Hybrid-4"])
    assert known.name("hybrid 4", "a") == "hybrid 4"
    refusal(known, "hybrid 5")


@pytest.mark.parametrize("club", ["", "---", "  ", "x" * 65])
def test_what_names_no_club_is_refused_even_at_first(store, club):
    refusal(KnownClubs.of(store), club)


@given(st.text(max_size=30))
def test_comparing_leaves_case_blanks_and_punctuation_out(club):
    plain = plain_club(club)
    assert plain == plain_club(plain)
    assert plain == plain_club(f" {club}- ")
    assert not any(letter.isspace() or letter in "-_.,'" for letter in plain)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('clubs = ["driver", "Driver"]', "share a spelling"),
        ('clubs = ["driver", {name = "wood 1", also = ["DRIVER"]}]', "share a spelling"),
        ('clubs = ["-"]', "no letter or digit"),
        ("clubs = [7]", "clubs.0"),
        ('clubs = "driver"', "clubs"),
        ('clubs = [{name = "x", spelt = ["y"]}]', "allowed here: name, also"),
    ],
)
def test_a_fault_of_the_list_is_named(tmp_path, text, words):
    file = tmp_path / "academy.toml"
    file.write_text(text)
    with pytest.raises(NormsError, match=words):
        read_settings(file)


def test_a_list_comes_back_from_the_store_as_it_was_written(store, tmp_path):
    file = tmp_path / "academy.toml"
    file.write_text('clubs = ["driver", {name = "iron 7", also = ["7i"]}]')
    kept = read_settings(file)
    keep_settings(store, kept)
    assert Settings.model_validate(store.setting("academy")) == kept
