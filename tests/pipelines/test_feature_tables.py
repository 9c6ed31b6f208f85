"""Someone else's table of features: units, ratios, missing and infinite values, other words."""

from pathlib import Path

import numpy as np
import pytest

import demo_data
from norms.errors import StoreRefused, StudyRefused, TableRefused
from norms.study.feature_cohort import feature_bands, feature_partition
from pipelines.feature_mapping import read_mapping
from pipelines.feature_tables import frame_of_table, import_features
from pipelines.run_study import run_study
from pipelines.store import open_store

MAPPING = """
name = "open-2026"
missing = ["NA", "-999"]
club = "driver"
[columns]
golfer = "Subject"
swing = "Trial"
[facts]
sex = { column = "Gender", female = "F", male = "M" }
height = { column = "Stature", unit = "m" }
mass = { column = "Weight", unit = "lb" }
[speeds]
ball_speed = { column = "BS", unit = "mph" }
club_speed = { column = "CS", unit = "mph" }
[[features]]
column = "Fwd"
name = "sway_travel"
unit = "in"
sign = -1
[[features]]
column = "XF"
name = "hip_to_shoulder"
unit = "deg"
label = "hip to shoulder separation"
[[features]]
column = "Ratio"
name = "tempo"
unit = "ratio"
"""
HEADER = "Subject,Trial,Gender,Stature,Weight,BS,CS,Fwd,XF,Ratio,Comment"


def files(tmp_path: Path, rows: list[str], mapping: str = MAPPING) -> tuple[Path, Path]:
    table, stated = tmp_path / "open.csv", tmp_path / "open.toml"
    table.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    stated.write_text(mapping, encoding="utf-8")
    return table, stated


def invented_rows(golfers: int = 40) -> list[str]:
    """Forward travel acts within golfers, 1 mph an inch; written with the sign turned round."""
    rng = np.random.default_rng(3)
    rows = []
    for golfer in range(golfers):
        mean, own = 4 + rng.normal(), 5 * rng.normal()
        sex, tall = "FM"[golfer % 2], 1.65 + 0.1 * (golfer % 2)
        for k in range(5):
            sway = mean + 0.5 * rng.normal()
            ball = 140 + own + (sway - mean) + 0.5 * rng.normal()
            ratio = "inf" if (golfer, k) == (0, 0) else f"{3 + 0.2 * rng.normal():.3f}"
            turn = "NA" if k == 4 else f"{45 + 5 * rng.normal():.2f}"
            person = f"s{golfer},s{golfer}t{k},{sex},{tall},180"
            rows.append(f"{person},{ball:.2f},{ball / 1.45:.2f},{-sway:.4f},{turn},{ratio},x")
    return rows


def test_units_signs_and_facts_are_turned_into_those_inside(tmp_path):
    row = "s1,t1,F,1.70,150,140.0,98,-4.0,45.5,3.1,fine"
    table, mapping = files(tmp_path, [row])
    frame = frame_of_table(table, read_mapping(mapping))
    assert frame.features[0] == pytest.approx([4.0 * 2.54, 45.5, 3.1])
    assert frame.feature_units == ("cm", "deg", "ratio")
    assert frame.feature_labels == ("forward travel", "hip to shoulder separation", "tempo")
    assert frame.ball_speed_mps[0] == pytest.approx(140 * 0.44704)
    assert frame.golfer_facts["height"][0] == pytest.approx(170.0)
    assert frame.golfer_facts["mass"][0] == pytest.approx(150 * 0.45359237)
    assert frame.golfer_facts["sex"][0] == 0.0
    assert (frame.swings, frame.golfers, frame.clubs) == (("t1",), ("s1",), ("driver",))
    assert frame.curves_cm is None


def test_missing_stays_missing_and_infinite_is_counted_as_missing(tmp_path):
    rows = [
        "s1,t1,F,1.70,150,140.0,98,-4.0,NA,inf,",
        "s1,t2,F,1.70,150,,98,-999,45,-Infinity,",
        "s1,t3,F,1.70,150,160,98,-4,45,nan,",
    ]
    table, mapping = files(tmp_path, rows)
    frame = frame_of_table(table, read_mapping(mapping))
    assert np.isnan(frame.features).tolist() == [
        [False, True, True],
        [True, False, True],
        [False, False, True],
    ]
    assert np.isnan(frame.ball_speed_mps).tolist() == [False, True, True]
    assert frame.left_out == {
        "infinite values taken as missing (their swings stay): Ratio": 2,
        "no ball speed measured": 1,
        "ball speed impossible for the club's speed, or out of any range": 1,
    }


def test_a_cohort_of_features_is_kept_and_studied_and_says_what_needs_curves(tmp_path):
    table, mapping = files(tmp_path, invented_rows())
    study_file = tmp_path / "study.toml"
    study_file.write_text(
        'name = "open"\nquestion = "?"\nprimary = ["sway_travel"]\n'
        '[cohort]\nfeature_cohort = "open-2026"\n[model]\ncovariates = ["sex", "height"]\n'
    )
    with open_store(":memory:") as store:
        done = import_features(store, table, mapping)
        assert (done.golfers, done.swings, done.features) == (40, 200, 3)
        assert store.feature_cohort_names() == ["open-2026"]
        study, frame = run_study(store, study_file)
        # 1 mph an inch is 0.44704 m/s on 2.54 cm.
        within = study.model("sway_travel").within
        assert within.low < 0.44704 / 2.54 < within.high
        assert study.along == ()
        assert any("without curves" in note for note in study.notes)
        assert study.model("hip_to_shoulder").swings == 160
        assert study.plan.cohort == "feature cohort open-2026"
        assert study.look.number == 1
    assert feature_bands(frame).golfers.tolist() == [40, 40, 40]
    assert {one.feature for one in feature_partition(frame, "sex")} == set(frame.feature_names)


def test_the_same_name_is_replaced_and_another_is_unknown(tmp_path):
    table, mapping = files(tmp_path, invented_rows(12))
    with open_store(":memory:") as store:
        import_features(store, table, mapping)
        table.write_text("\n".join([HEADER, *invented_rows(11)]) + "\n")
        import_features(store, table, mapping)
        assert len(set(store.feature_cohort("open-2026").golfers)) == 11
        with pytest.raises(StoreRefused, match="there are: open-2026"):
            store.feature_cohort("other")


def test_a_frame_comes_back_from_the_store_as_it_went_in(tmp_path):
    table, mapping = files(tmp_path, invented_rows(5))
    frame = frame_of_table(table, read_mapping(mapping))
    with open_store(":memory:") as store:
        store.save_feature_cohort("x", frame)
        back = store.feature_cohort("x")
    for word in ("swings", "golfers", "clubs", "labs", "feature_names", "left_out"):
        assert getattr(back, word) == getattr(frame, word)
    assert np.array_equal(back.features, frame.features, equal_nan=True)
    assert np.array_equal(back.ball_speed_mps, frame.ball_speed_mps, equal_nan=True)
    assert list(back.golfer_facts) == sorted(frame.golfer_facts)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("s1,t1,X,1.70,150,140,98,-4,45,3,", 'gender "X": allowed is f or m'),
        ("s1,t1,F,170,150,140,98,-4,45,3,", 'stature "170": allowed is 0.8 to 2.5 m'),
        ("s1,t1,F,1.70,150,140,98,four,45,3,", 'fwd "four": is not a number'),
        (",t1,F,1.70,150,140,98,4,45,3,", 'subject "": must be filled in'),
    ],
)
def test_faults_of_the_table_name_line_column_and_value(tmp_path, row, words):
    table, mapping = files(tmp_path, [row])
    with pytest.raises(TableRefused) as refused:
        frame_of_table(table, read_mapping(mapping))
    assert words in refused.value.message
    assert "open.csv:2" in refused.value.message


def test_a_swing_that_stands_twice_is_refused(tmp_path):
    row = "s1,t1,F,1.70,150,140,98,-4,45,3,"
    table, mapping = files(tmp_path, [row, row])
    with pytest.raises(TableRefused, match="already in line 2"):
        frame_of_table(table, read_mapping(mapping))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('unit = "ratio"', 'unit = "cm"', "tempo is held in ratio; cm cannot become that"),
        ('name = "tempo"', 'name = "sway_travel"', "sway_travel"),
        ('name = "hip_to_shoulder"', 'name = "tempo"', "tempo"),
        ('club = "driver"', "", "club"),
        ('unit = "mph"', 'unit = "knots"', "speeds.ball_speed.unit"),
        ('column = "Ratio"', 'column = "XF"', "column xf serves twice"),
        ('unit = "lb"', 'unit = "stone"', "'stone' is none of kg, lb"),
    ],
)
def test_a_mapping_at_fault_is_refused(tmp_path, old, new, words):
    text = MAPPING.replace(old, new)
    table, mapping = files(tmp_path, ["s1,t1,F,1.70,150,140,98,-4,45,3,"], text)
    with pytest.raises(StudyRefused) as refused:
        frame_of_table(table, read_mapping(mapping))
    assert words in refused.value.message


def test_the_example_mapping_of_the_manual_can_be_read_and_used(tmp_path):
    example = Path(demo_data.__file__).with_name("open_features.toml")
    mapping = read_mapping(example)
    assert [feature.column for feature in mapping.features] == ["fwd", "x_ratio"]
    table = tmp_path / "table.csv"
    table.write_text(
        "subject,trial,site,gender,age,height,weight,hcp,bs,fwd,x_ratio\n"
        "a,a1,here,F,30,1.70,140,12,120,-4,0.5\n"
        "a,a2,here,F,30,1.70,140,12,122,-5,inf\n"
    )
    with open_store(tmp_path / "s.duckdb", create=True) as store:
        imported = import_features(store, table, example)
    assert imported.name == "open-2026"
