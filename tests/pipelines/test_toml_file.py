"""Files in TOML that a person writes: a wrong key is answered with those there are."""

from pathlib import Path

import pytest

from norms.errors import NormsError
from pipelines.coaching_notes import read_coaching_notes
from pipelines.feature_mapping import FeatureMapping
from pipelines.settings import read_settings
from pipelines.study_file import read_study
from pipelines.toml_file import Section, allowed_keys

STUDY = """
name = "travel"
question = "Does it?"
[cohort]
clubs = ["driver"]
"""
NOTE = '[[note]]\nfeature = "sway_travel"\nside = "above"\ntext = "Feel it."\n'


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (
            read_settings,
            'length_units = "in"',
            "setting length_units: is no key of this file; allowed here: levels, smallest_cell, "
            "length_unit, speed_unit, erased_from_editions",
        ),
        (
            read_settings,
            '[[levels]]\nkey = "a"\nlable = "b"',
            "allowed here: key, label, above, to",
        ),
        (read_study, f"{STUDY}club = 1", "cohort.club: is no key of this file; allowed here: "),
        (read_study, f"{STUDY}[model]\nfold = 5", "model.fold: is no key of this file; allowed"),
        (read_coaching_notes, f'{NOTE}texts = "x"', "allowed here: feature, side, text"),
        (read_coaching_notes, NOTE.replace('text = "Feel it."', ""), "text: is missing; state it"),
        # A misspelt key is unknown and missing at once: the first says more.
        (read_coaching_notes, NOTE.replace("text", "txt"), "allowed here: feature, side, text"),
    ],
)
def test_a_wrong_key_is_named_with_those_that_may_stand_there(read, text, words, tmp_path):
    file = tmp_path / "file.toml"
    file.write_text(text)
    with pytest.raises(NormsError) as refused:
        read(file)
    assert words in refused.value.message
    assert "Extra inputs" not in refused.value.message


class Inner(Section):
    deep: int = 0


class Outer(Section):
    many: list[Inner]
    named: dict[str, Inner | str]
    plain: int = 0


@pytest.mark.parametrize(
    ("place", "keys"),
    [
        ((), ["many", "named", "plain"]),
        (("many", 3), ["deep"]),
        (("named", "anything"), ["deep"]),
    ],
)
def test_allowed_keys_follow_lists_tables_and_choices(place, keys):
    assert allowed_keys(Outer, place) == keys


def test_a_mapping_lists_the_keys_of_one_feature():
    assert {"column", "name", "unit"} <= set(allowed_keys(FeatureMapping, ("features", 0)))


def test_a_file_that_is_not_there_is_refused_with_its_path(tmp_path: Path):
    with pytest.raises(NormsError, match=r"cannot be read .*check the path"):
        read_settings(tmp_path / "none.toml")
