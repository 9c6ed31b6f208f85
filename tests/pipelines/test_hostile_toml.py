"""Any one value of a person's file may be anything: it is read, or refused as it should be."""

import copy
import tomllib
from datetime import date, datetime
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

import demo_data
from norms.cohort.levels import DEFAULT_LEVELS
from norms.errors import NormsError
from pipelines.coaching_notes import read_coaching_notes
from pipelines.cohort_file import read_cohorts
from pipelines.collect.profile import load_profile
from pipelines.feature_mapping import read_mapping, table_columns
from pipelines.settings import read_settings
from pipelines.standard_file import read_standard
from pipelines.study_file import definitions_of, read_study

EXAMPLES = Path(demo_data.__file__).parent
SETTINGS = """
smallest_cell = 8
one_person = "alone"
clubs = ["driver", {name = "iron 7", also = ["7i"]}]
levels = [{key = "one", label = "one"}, {key = "none", label = "none", kind = "none"},
          {key = "pro", label = "pro", kind = "professional"}]
"""
COHORTS = """
[[cohort]]
name = "women"
club = "driver"
sex = "female"
age_from = 18
handicap_above = 2.0
handicap_to = 20.0
labs = ["North bay"]
recorded_from = 2025-03-01
recorded_to = 2026-02-28
largest_filled_share = 0.1
"""
NOTES = '[[note]]\nfeature = "tempo"\nside = "above"\ntext = "slower"\n'
HOSTILE = (
    10**12, -1, 0, 1e23, 1e300, float("nan"), float("inf"), "", " ", "x" * 5_000, "\u202e\n",
    "../../e", [], ["x"] * 1_500, {}, {"a": {"b": 1}}, date(2062, 1, 1), date(1, 1, 1),
    date(9999, 12, 31), datetime(2025, 1, 1), True, [[1]],
)  # fmt: skip


def study(file):
    definitions_of(read_study(file).cohort, DEFAULT_LEVELS, [])


KINDS = {
    "settings": (SETTINGS, read_settings),
    "cohorts": (COHORTS, lambda file: read_cohorts(file, DEFAULT_LEVELS)),
    "notes": (NOTES, read_coaching_notes),
    "standard": ("juniors_driver.toml", lambda file: read_standard(file, DEFAULT_LEVELS)),
    "study": ("forward_travel_study.toml", study),
    "profile": ("north_bay.toml", load_profile),
    "mapping": ("open_features.toml", lambda file: table_columns(read_mapping(file))),
}


def places(document, here=()):
    """Every place of a document, inner ones too."""
    inner = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in inner:
        yield (*here, key)
        if isinstance(value, dict | list):
            yield from places(value, (*here, key))


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=30)
@given(data=st.data())
def test_any_one_value_replaced_is_read_or_refused(tmp_path_factory, kind, data):
    text, read = KINDS[kind]
    whole = text if "\n" in text else (EXAMPLES / text).read_text(encoding="utf-8")
    document = tomllib.loads(whole)
    file = tmp_path_factory.mktemp("toml") / "file.toml"
    *way, last = data.draw(st.sampled_from(list(places(document))))
    inside = document
    for key in way:
        inside = inside[key]
    inside[last] = copy.deepcopy(data.draw(st.sampled_from(HOSTILE)))
    file.write_text(tomlkit.dumps(document), encoding="utf-8")
    try:
        read(file)
    except NormsError as refusal:
        said = refusal.message
        assert said
        assert len(said.splitlines()) <= 21


@pytest.mark.parametrize("kind", KINDS)
def test_the_example_itself_is_read(tmp_path, kind):
    text, read = KINDS[kind]
    file = tmp_path / "file.toml"
    file.write_text(text if "\n" in text else (EXAMPLES / text).read_text(encoding="utf-8"))
    read(file)
