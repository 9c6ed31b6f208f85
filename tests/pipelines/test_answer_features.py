from pathlib import Path

import numpy as np
import pytest

from norms.errors import CohortRefused
from norms.records import BallSpeed
from norms.records.study import StudyFrame
from pipelines.answer_features import NEED_CURVES, answer_features
from pipelines.flag_speeds import flagged_speeds
from pipelines.store import open_store
from reports.study_rows import feature_bands_table, feature_partition_table


@pytest.fixture(scope="module")
def store():
    rng = np.random.default_rng(2)
    golfers = np.repeat(np.arange(40), 3)
    values = rng.normal(size=(40, 3))[golfers] + 0.2 * rng.normal(size=(120, 3))
    values[:, 1] += 4.0 * (golfers % 2)
    frame = StudyFrame(
        swings=tuple(f"t{n}" for n in range(120)),
        golfers=tuple(f"s{n:02d}" for n in golfers),
        clubs=("driver",) * 60 + ("iron 7",) * 60,
        labs=("open",) * 120,
        ball_speed_mps=np.full(120, np.nan),
        club_speed_mps=np.full(120, np.nan),
        golfer_facts={"sex": (golfers % 2).astype(float)},
        feature_names=("a", "b", "c"),
        feature_units=("cm", "deg", "ratio"),
        feature_labels=("first", "second", "third"),
        features=values,
    )
    with open_store(":memory:") as opened:
        opened.save_feature_cohort("open", frame)
        yield opened


def test_bands_partition_and_their_rows(store):
    found = answer_features(store, "open", ("bands", "partition"))
    rows = feature_bands_table(found.bands, found.labels, unit="cm")
    assert rows[0][:3] == ["feature", "unit", "golfers"]
    assert [row[:3] for row in rows[1:]] == [
        ["first", "cm", "40"],
        ["second", "deg", "40"],
        ["third", "", "40"],
    ]
    assert rows[1][3] == "–"  # 40 golfers support no 5th percentile
    table = feature_partition_table(found.partition, found.labels, found.units, unit="cm")
    answers = {row[0]: row[2] for row in table[1:]}
    assert answers["second"] == "own norms"
    assert answers["first"] != "own norms"
    assert found.patterns is None


def test_lengths_are_in_the_readers_unit_and_nothing_else_is_converted(store):
    found = answer_features(store, "open", ("bands", "partition"))
    told = {
        unit: (
            feature_bands_table(found.bands, found.labels, unit=unit),
            feature_partition_table(found.partition, found.labels, found.units, unit=unit),
        )
        for unit in ("in", "cm")
    }
    median = found.bands.percents.index(50.0)
    inches = float(found.bands.value[median, 0]) / 2.54
    assert told["in"][0][1][1] == "in"
    assert told["in"][0][1][3 + median].startswith(f"{inches:.2f} (".replace("-", "−"))
    assert told["in"][0][2:] == told["cm"][0][2:]
    means = [mean / 2.54 for mean in found.partition[0].means]
    shown = " and ".join(f"{mean:.2f}" for mean in means).replace("-", "−")
    assert told["in"][1][1][1:5:3] == ["in", shown]
    assert told["in"][1][2:] == told["cm"][1][2:]
    with pytest.raises(ValueError, match="unit"):
        feature_bands_table(found.bands, found.labels, unit="ft")


def test_a_club_by_itself_counts_its_own_golfers(store):
    found = answer_features(store, "open", club="iron 7")
    assert found.bands.golfers.tolist() == [20, 20, 20]


@pytest.mark.parametrize("question", NEED_CURVES)
def test_what_needs_curves_says_so(store, question):
    with pytest.raises(CohortRefused, match="needs curves") as refused:
        answer_features(store, "open", (question,))
    assert refused.value.code == "no_curves"


def test_what_nobody_answers_is_refused(store):
    with pytest.raises(CohortRefused, match="'score' is none of bands, partition, patterns"):
        answer_features(store, "open", ("score",))


def test_impossible_and_doubtful_ball_speeds_are_named_with_why(tmp_path: Path):
    speeds = {"S1": (80.0, 50.0), "S2": (76.0, 50.0), "S3": (70.0, 50.0), "S4": (2.0, None)}
    with open_store(":memory:") as opened:
        opened.add_ball_speeds(
            [
                BallSpeed(swing=swing, ball_speed_mps=ball, club_speed_mps=club)
                for swing, (ball, club) in speeds.items()
            ]
        )
        flagged = {one.swing: (one.verdict, one.because) for one in flagged_speeds(opened)}
    assert list(flagged) == ["S1", "S2", "S4"]
    assert flagged["S1"][0] == "impossible"
    assert "1.60 times" in flagged["S1"][1]
    assert flagged["S2"][0] == "doubtful"
    assert "2.0 m/s is outside 5 to 115 m/s" in flagged["S4"][1]
