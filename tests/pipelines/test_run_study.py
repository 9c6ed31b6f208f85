"""A study file through a store of invented golfers: answer, register of looks, files."""

import json
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from norms.errors import NormsError, StudyRefused, TableRefused
from norms.records import BallSpeed, Exclusion, Golfer, Swing
from norms.records.consent import Consent
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.export_frame import export_frame
from pipelines.lab_profiles import keep_profile
from pipelines.run_study import declare_study, run_study
from pipelines.store import Store, open_store
from pipelines.study_file import read_study
from pipelines.study_patterns import read_patterns
from pipelines.study_results import effects_table, study_document, write_results
from reports.study_page import study_page

NOW = datetime(2026, 11, 1, tzinfo=UTC)
RISE = np.sin(np.linspace(0, 3, 301))
STUDY = """
name = "travel"
question = "Does more forward travel go with more ball speed?"
primary = ["sway_travel"]
[cohort]
clubs = ["driver"]
[model]
features = ["sway_travel", "tempo"]
covariates = ["sex"]
random_slope = "never"
relabellings = 199
folds = 5
"""


def fill(store: Store, swing_with: Callable[..., Swing]) -> None:
    """Forty golfers of four swings: forward travel acts within the golfer, 0.6 m/s a cm."""
    rng = np.random.default_rng(8)
    swings, speeds = [], []
    for number in range(40):
        code = f"Q{number:04d}"
        mean, own = 10 + 2 * rng.normal(), 2 * rng.normal()
        for k in range(4):
            sway = mean + rng.normal()
            features = dict(
                zip(FEATURE_NAMES, rng.normal(size=len(FEATURE_NAMES)).tolist(), strict=True)
            )
            curves = np.outer([sway, *rng.normal(size=2)], RISE)
            swings.append(
                swing_with(
                    f"{code}-{k}",
                    code,
                    curves,
                    features | {"sway_travel": sway},
                    boundaries_s=(0.5, 1.3, 1.6, 2.3),
                )
            )
            ball = 62 + own + 0.6 * (sway - mean) + 0.3 * rng.normal()
            speeds.append(BallSpeed(swing=f"{code}-{k}", ball_speed_mps=ball))
    sexes = ("female", "male")
    store.add_golfers([Golfer(code=f"Q{n:04d}", hand="right", sex=sexes[n % 2]) for n in range(40)])
    store.add_swings(swings, [], store.begin_run("North bay", NOW))
    store.add_ball_speeds(speeds[:-3])
    store.consents.add([research(n) for n in range(40)])


def research(number: int, *, given: bool = True, day: date = date(2026, 1, 1)) -> Consent:
    return Consent(golfer=f"Q{number:04d}", purpose="research", given=given, decided_on=day)


@pytest.fixture
def store(swing_with, north_bay) -> Iterator[Store]:
    with open_store(":memory:") as opened:
        keep_profile(opened, north_bay)
        fill(opened, swing_with)
        yield opened


def written(tmp_path: Path, text: str = STUDY) -> Path:
    file = tmp_path / "study.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_study_file_answers_from_the_store_and_runs_again_exactly(store, tmp_path):
    file = written(tmp_path)
    study, frame = run_study(store, file)
    travel = study.model("sway_travel")
    assert travel.within.low < 0.6 < travel.within.high
    assert not travel.between.found
    assert frame.rates_cm_s is not None
    assert study.left_out["no ball speed measured"] == 3
    assert [(one.kind, one.part) for one in study.along] == [
        ("curves", "within"),
        ("curves", "between"),
        ("rates", "within"),
        ("rates", "between"),
    ]
    assert study.along[0].p_value <= 0.01
    again, _ = run_study(store, file)
    assert study_document(again) == study_document(study)
    assert study_page(again) == study_page(study)


def test_every_look_is_counted_and_a_rerun_is_the_same_look(store, tmp_path):
    first, _ = run_study(store, written(tmp_path))
    assert (first.look.number, first.look.of, first.look.declared_at) == (1, 1, None)
    assert first.look.tests == 2 * 2 + 4 + 1
    other = STUDY.replace('["sex"]', "[]")
    second, _ = run_study(store, written(tmp_path, other))
    assert (second.look.number, second.look.of) == (2, 2)
    assert second.look.tests_before == first.look.tests
    again, _ = run_study(store, written(tmp_path))
    assert (again.look.number, again.look.of) == (1, 2)
    questions = [question for question, _, _ in store.tests_of_look("driver", 1)]
    assert questions[0] == "does forward travel go with ball speed within a golfer?"
    elsewhere = STUDY.replace('clubs = ["driver"]', 'clubs = ["driver"]\nsex = "male"')
    third, _ = run_study(store, written(tmp_path, elsewhere))
    assert (third.look.number, third.look.of) == (1, 1)


def test_new_data_are_a_new_look(store, tmp_path):
    run_study(store, written(tmp_path))
    store.add_ball_speeds([BallSpeed(swing="Q0039-3", ball_speed_mps=61.0)])
    study, _ = run_study(store, written(tmp_path))
    assert (study.look.number, study.look.of) == (2, 2)


def test_a_plan_declared_before_it_is_run_says_so_and_one_declared_after_does_not(store, tmp_path):
    file = written(tmp_path)
    declared = declare_study(store, file)
    study, _ = run_study(store, file)
    assert study.look.declared_at == declared.strftime("%Y-%m-%d %H:%M UTC")
    changed = written(tmp_path, STUDY.replace("folds = 5", "folds = 6"))
    run_study(store, changed)
    declare_study(store, changed)
    late, _ = run_study(store, changed)
    assert late.look.declared_at is None
    assert declare_study(store, written(tmp_path)) == declared


def test_golfers_left_out_by_a_persons_decision_are_left_out_of_studies(store, tmp_path):
    before, _ = run_study(store, written(tmp_path))
    decision = Exclusion(golfer="Q0001", reason="borrowed clubs", decided_by="head coach")
    store.add_exclusion(decision, NOW)
    after, _ = run_study(store, written(tmp_path))
    assert after.golfers == before.golfers - 1


def test_an_impossible_ball_speed_does_not_reach_the_study(store, tmp_path):
    speed = BallSpeed(swing="Q0000-0", ball_speed_mps=80.0, club_speed_mps=50.0)
    store.add_ball_speeds([speed])
    study, _ = run_study(store, written(tmp_path))
    flagged = [words for words in study.left_out if "impossible" in words]
    assert [study.left_out[words] for words in flagged] == [1]


def test_results_are_tidy_and_whole(store, tmp_path):
    study, _ = run_study(store, written(tmp_path))
    files = write_results(study, tmp_path / "out")
    assert write_results(study, tmp_path / "out") == files  # over its own tables, nobody else's
    assert sorted(file.name for file in files) == [
        "along.csv", "along.parquet", "effects.csv", "effects.parquet", "models.csv",
        "models.parquet",
    ]  # fmt: skip
    effects = pd.read_parquet(tmp_path / "out" / "effects.parquet")
    assert list(effects["part"]) == ["within", "between"] * 2
    within = study.model("sway_travel").within
    assert effects["slope"][0] == within.slope
    assert pd.read_csv(tmp_path / "out" / "effects.csv")["slope"][0] == pytest.approx(within.slope)
    assert len(pd.read_parquet(tmp_path / "out" / "along.parquet")) == 4 * 3 * 301
    json.dumps(study_document(study), allow_nan=False)
    assert len(effects_table(study)) == 4


def test_an_exported_frame_carries_no_code_and_is_a_look(store, tmp_path):
    file = written(tmp_path)
    files = export_frame(store, file, tmp_path / "frame")
    assert [one.name for one in files] == ["frame.parquet", "frame.csv", "dictionary.csv"]
    table = pd.read_parquet(files[0])
    assert len(table) == 160
    assert table["golfer"].nunique() == 40
    text = files[1].read_text(encoding="utf-8")
    assert "Q0001" not in text
    assert "North bay" not in text
    words = pd.read_csv(files[2])
    assert list(words["column"]) == list(table.columns)
    study, _ = run_study(store, file)
    assert (study.look.number, study.look.frames_before) == (2, 1)
    look = store.study_looks("driver")[0]
    assert (look.kind, look.tests) == ("export", None)


def test_a_study_holds_only_who_agreed_to_research_and_refuses_where_nobody_did(store, tmp_path):
    file = written(tmp_path)
    store.consents.add([research(n, given=n < 30, day=date(2026, 2, 1)) for n in range(40)])
    study, frame = run_study(store, file)
    assert set(frame.golfers) == {f"Q{n:04d}" for n in range(30)}
    assert study.left_out["golfer did not agree to research"] == 40
    store.consents.add([research(n, given=False, day=date(2026, 3, 1)) for n in range(40)])
    with pytest.raises(StudyRefused, match="none of its 40 golfers agreed to research"):
        run_study(store, file)
    assert len(store.study_looks("driver")) == 1


def test_who_refused_norms_and_agreed_to_research_is_in_a_study(store, tmp_path):
    no = Consent(golfer="Q0003", purpose="norms", given=False, decided_on=date(2026, 2, 1))
    store.consents.add([no])
    assert "Q0003" in run_study(store, written(tmp_path))[1].golfers


def test_a_frame_for_research_is_logged(store, tmp_path):
    file = written(tmp_path)
    store.consents.add([research(n, given=n < 30, day=date(2026, 2, 1)) for n in range(40)])
    files = export_frame(store, file, tmp_path / "frame", research=True, who="analyst")
    table = pd.read_parquet(files[0])
    assert (table["golfer"].nunique(), len(table)) == (30, 120)
    entry = store.audit.entries()[-1]
    assert (entry.action, entry.who) == ("export", "analyst")
    said = json.loads(entry.details)
    del said["tables"], said["folder"]
    assert said == {"for_research": True, "study": "travel", "swings": 120}


def test_patterns_come_from_a_table_beside_the_study(store, tmp_path):
    rows = [f"Q{n:04d},{'early' if n % 2 else 'late'}" for n in range(40)]
    (tmp_path / "patterns.csv").write_text("\n".join(["golfer,pattern", *rows]) + "\n")
    study, _ = run_study(store, written(tmp_path, STUDY + 'patterns = "patterns.csv"\n'))
    early = study.model("pattern early")
    assert early.unit == "share"
    assert early.within.slope is None
    assert early.golfers == 40


def test_shared_memberships_are_read_and_faults_listed(tmp_path):
    file = tmp_path / "patterns.csv"
    file.write_text("swing,pattern,membership\nS1,a,0.7\nS1,b,0.3\nS2,a,1\n")
    assert read_patterns(file) == {"a": {"S1": 0.7, "S2": 1.0}, "b": {"S1": 0.3, "S2": 0.0}}
    file.write_text("swing,pattern,membership\nS1,a,1.7\nS1,a,0.3\n")
    with pytest.raises(TableRefused, match="a share from 0 to 1") as refused:
        read_patterns(file)
    assert "already in line 2" in refused.value.message
    file.write_text("pattern\na\n")
    with pytest.raises(TableRefused, match="a column swing or a column golfer"):
        read_patterns(file)


def test_patterns_of_a_cohort_of_features_are_asked_for_in_its_table(store, tmp_path):
    text = STUDY.replace('clubs = ["driver"]', 'feature_cohort = "x"')
    with pytest.raises(StudyRefused, match="carries its patterns in its table"):
        run_study(store, written(tmp_path, text + 'patterns = "patterns.csv"\n'))


def test_a_cohort_that_holds_nobody_is_refused_and_no_look_is_logged(store, tmp_path):
    text = STUDY.replace('["driver"]', '["putter"]')
    with pytest.raises(NormsError, match="no swing of the store"):
        run_study(store, written(tmp_path, text))
    assert store.study_looks("putter") == []


def test_a_folder_that_cannot_be_made_is_refused_in_one_line(store, tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(NormsError, match="cannot be written"):
        export_frame(store, written(tmp_path), tmp_path / "taken" / "frame")


def test_a_frame_replaces_an_earlier_frame_but_nobodys_table_and_is_then_no_look(store, tmp_path):
    file, folder = written(tmp_path), tmp_path / "frame"
    files = export_frame(store, file, folder)
    assert export_frame(store, file, folder) == files
    mine = folder / "dictionary.csv"
    mine.write_text("golfer,meaning\n")
    looks = store.study_looks(read_study(file).plan.cohort)
    with pytest.raises(NormsError, match="a table that this program did not write"):
        export_frame(store, file, folder)
    assert mine.read_text() == "golfer,meaning\n"
    assert store.study_looks(read_study(file).plan.cohort) == looks
