import pytest

from norms.cohort.levels import DEFAULT_LEVELS
from norms.errors import NormsError
from norms.records import Level
from pipelines.settings import (
    SETTINGS_KEY,
    Settings,
    change_settings,
    keep_settings,
    levels_of,
    read_settings,
    settings_of,
    shown_unit,
)
from pipelines.store import open_store

OWN = """
length_unit = "cm"
speed_unit = "mps"
smallest_cell = 8

[[levels]]
key = "single"
label = "single figures"
to = 9.9

[[levels]]
key = "others"
label = "10 and over"
above = 9.9

[[levels]]
key = "none"
label = "no handicap"
kind = "none"

[[levels]]
key = "professional"
label = "playing professional"
kind = "professional"
"""


def test_a_store_without_settings_has_the_defaults():
    with open_store(":memory:") as store:
        assert levels_of(store) == DEFAULT_LEVELS
        assert shown_unit(store) == "in"
        assert settings_of(store) == Settings()
        assert (Settings().speed_unit, Settings().smallest_cell) == ("mph", 5)


def test_settings_of_a_file_are_kept_in_the_store(tmp_path):
    file = tmp_path / "academy.toml"
    file.write_text(OWN)
    path = tmp_path / "store.duckdb"
    with open_store(path, create=True) as store:
        keep_settings(store, read_settings(file))
    with open_store(path, read_only=True) as store:
        assert settings_of(store) == read_settings(file)
        assert shown_unit(store) == "cm"
        assert levels_of(store)[:2] == (
            Level(key="single", label="single figures", to=9.9),
            Level(key="others", label="10 and over", above=9.9),
        )
        assert settings_of(store).smallest_cell == 8


def test_a_plus_handicap_bounds_a_level_on_the_better_side_of_scratch(tmp_path):
    file = tmp_path / "academy.toml"
    file.write_text(OWN.replace("9.9", '"+2.0"'))
    assert [level.to for level in read_settings(file).levels][:2] == [-2.0, None]
    assert read_settings(file).levels[1].above == -2.0


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ('length_unit = "yd"', "setting length_unit: "),
        ("smallest_cell = 4", "setting smallest_cell: "),
        ("smallest_cell = 7.5", "setting smallest_cell: "),
        ("smalest_cell = 9", "setting smalest_cell: "),
        (OWN.replace("above = 9.9", "above = 11"), "setting levels: "),
        (OWN.replace('key = "others"', 'key = "single"'), "setting levels: "),
        (OWN.replace("above = 9.9", "abov = 9.9"), "setting levels.1.abov: "),
        (OWN.replace("to = 9.9", "to = nan"), "setting levels.0.to: "),
        (OWN.replace('label = "10 and over"', ""), "setting levels.1.label: "),
        (OWN.replace("to = 9.9", "to = +9.9"), "to: write a plus handicap in quotes"),
        (OWN.replace("to = 9.9", 'to = "+x"'), "setting levels: "),
        ("length_unit = ", "is not a TOML file: "),
    ],
)
def test_a_fault_of_a_settings_file_is_named(tmp_path, text, where):
    file = tmp_path / "academy.toml"
    file.write_text(text)
    with pytest.raises(NormsError) as refused:
        read_settings(file)
    assert refused.value.message.startswith(f"{file}: {where}")
    assert "\n" not in refused.value.message
    assert refused.value.code == "settings"


def test_a_settings_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(NormsError, match="cannot be read") as refused:
        read_settings(tmp_path / "none.toml")
    assert refused.value.code == "settings"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("smallest_cell = 1e23", "smallest_cell"),
        ("smallest_cell = 1000000000", "smallest_cell"),
        ('one_person = ""', "one_person"),
        ('one_person = "   "', "one_person"),
        (OWN.replace("9.9", "60.0"), "'single': handicaps run from -10 to 54, and 60 is none"),
        ("[[levels]]\nkey = 'a'\nlabel = 'a'\n" * 60, "60 levels, at most 50"),
        (OWN.replace("single figures", "s" * 65), "a key or label of 1 to 64"),
        (OWN.replace('"single"', '" "'), "a key or label of 1 to 64"),
    ],
)
def test_what_is_beyond_reason_is_refused(tmp_path, text, words):
    file = tmp_path / "academy.toml"
    file.write_text(text)
    with pytest.raises(NormsError, match=words) as refusal:
        read_settings(file)
    assert "\n" not in refusal.value.message


def test_a_setting_of_an_earlier_version_that_is_beyond_reason_can_be_put_right():
    with open_store(":memory:") as store:
        store.set_setting(SETTINGS_KEY, {"smallest_cell": 10**12})
        with pytest.raises(NormsError, match="smallest_cell"):
            settings_of(store)
        change_settings(store, Settings(smallest_cell=6))
        assert settings_of(store).smallest_cell == 6
