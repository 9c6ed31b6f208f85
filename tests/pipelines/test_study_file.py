from datetime import date
from pathlib import Path

import pytest

import demo_data
from norms.cohort.levels import DEFAULT_LEVELS
from norms.errors import StudyRefused
from norms.records import CohortDefinition
from pipelines.run_study import plan_hash
from pipelines.study_file import definitions_of, read_study

WHOLE = """
name = "travel"
question = "Does more forward travel go with more ball speed?"
primary = ["sway_travel"]
[cohort]
clubs = ["driver", "iron 7"]
sex = "female"
levels = ["to_5", "to_12"]
recorded_from = 2025-03-01
labs = ["North bay"]
[model]
features = ["sway_travel", "tempo"]
covariates = ["height", "club_speed"]
random_slope = "never"
along = ["rates"]
predict = false
confounders = ["wind"]
relabellings = 999
folds = 5
seed = 7
"""
LEAST = 'name = "a"\nquestion = "?"\n[cohort]\nclubs = ["driver"]\n'


def read(tmp_path: Path, text: str):
    file = tmp_path / "study.toml"
    file.write_text(text, encoding="utf-8")
    return read_study(file)


def test_everything_stated_is_in_the_plan(tmp_path):
    stated = read(tmp_path, WHOLE)
    plan = stated.plan
    assert (plan.name, plan.outcome, plan.primary) == ("travel", "ball_speed", ("sway_travel",))
    assert plan.features == ("sway_travel", "tempo")
    assert plan.covariates == ("height", "club_speed")
    assert (plan.random_slope, plan.along, plan.predict) == ("never", ("rates",), False)
    assert (plan.relabellings, plan.folds, plan.seed) == (999, 5, 7)
    assert plan.confounders == ("wind",)
    assert plan.cohort == (
        "driver and iron 7, level to_5 or to_12, female, recorded at North bay, "
        "recorded from 2025-03-01"
    )


def test_what_is_left_out_has_its_default_and_stands_in_the_document(tmp_path):
    stated = read(tmp_path, LEAST)
    assert stated.plan.covariates == ("sex", "age", "height")
    assert stated.plan.along == ("curves", "rates")
    assert stated.document["model"]["relabellings"] == 1999
    assert stated.patterns is None


def test_definitions_are_one_for_each_club(tmp_path):
    found = definitions_of(read(tmp_path, WHOLE).cohort, DEFAULT_LEVELS, ())
    assert [one.club for one in found] == ["driver", "iron 7"]
    assert {one.sex for one in found} == {"female"}
    assert found[0].recorded_from == date(2025, 3, 1)
    assert [level.key for level in found[0].levels] == ["to_5", "to_12"]


def test_cohorts_kept_by_name_are_taken_as_they_are(tmp_path):
    kept = CohortDefinition(key="women", name="women", club="driver", sex="female")
    text = LEAST.replace('clubs = ["driver"]', 'named = ["women"]')
    stated = read(tmp_path, text)
    assert stated.plan.cohort == "cohort women"
    assert definitions_of(stated.cohort, DEFAULT_LEVELS, (kept,)) == (kept,)
    with pytest.raises(StudyRefused, match="no cohort is called 'women'"):
        definitions_of(stated.cohort, DEFAULT_LEVELS, ())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (LEAST.replace('"a"', '"A b"'), "name"),
        (LEAST + "[model]\nseeds = 3\n", "model.seeds"),
        (LEAST + '[model]\ncovariates = ["strength"]\n', "model.covariates.0"),
        (LEAST + "[model]\nrelabellings = 10\n", "model.relabellings"),
        (LEAST + 'named = ["x"]\n', "exactly one of clubs, named and feature_cohort"),
        (LEAST.replace('clubs = ["driver"]', ""), "0 are stated"),
        (
            LEAST.replace('clubs = ["driver"]', 'feature_cohort = "x"\nsex = "male"'),
            "cohort.sex: a cohort kept by name has its own rules",
        ),
        ("name = ", "is not a TOML file"),
        (LEAST + "handicap_to = +2.0\n", "handicap_to: write a plus handicap in quotes"),
        (LEAST.replace('outcome = "x"', "") + 'outcome = "score"\n', "cohort.outcome"),
    ],
)
def test_a_fault_names_the_file_and_the_key(tmp_path, text, words):
    with pytest.raises(StudyRefused) as refused:
        read(tmp_path, text)
    assert words in refused.value.message
    assert "study.toml" in refused.value.message
    assert "\n" not in refused.value.message


def test_levels_that_the_academy_does_not_have_are_refused(tmp_path):
    stated = read(tmp_path, LEAST + 'levels = ["expert"]\n')
    with pytest.raises(StudyRefused, match="'expert' is none of scratch"):
        definitions_of(stated.cohort, DEFAULT_LEVELS, ())


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(StudyRefused, match="check the path"):
        read_study(tmp_path / "nothing.toml")


def test_the_example_study_is_valid():
    file = Path(demo_data.__file__).with_name("forward_travel_study.toml")
    assert read_study(file).plan.primary[0] == "sway_travel"


def test_a_default_spelt_out_is_the_same_plan(tmp_path):
    plain = read(tmp_path, LEAST)
    spelt = read(tmp_path, LEAST + "[model]\nseed = 1\nfolds = 10\n")
    other = read(tmp_path, LEAST + "[model]\nseed = 2\n")
    assert plan_hash(plain) == plan_hash(spelt) != plan_hash(other)
