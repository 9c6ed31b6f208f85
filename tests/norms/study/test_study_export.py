import numpy as np
import pytest

from norms.records.study import StudyPlan
from norms.study.export import analysis_frame, recoded

PLAN = StudyPlan(name="travel", question="?", cohort="driver", seed=5)


def test_new_identifiers_are_one_to_one_and_follow_the_seed():
    codes = [f"Q{n:04d}" for n in range(50)] * 2
    new = recoded(codes, 1)
    assert sorted(new.values()) == [f"R{n:03d}" for n in range(1, 51)]
    assert new == recoded(list(reversed(codes)), 1)
    assert new != recoded(codes, 2)
    assert [new[code] for code in sorted(new)] != sorted(new.values())


def test_no_code_of_the_store_and_no_exact_age_leaves(make_frame):
    frame = make_frame()
    columns, dictionary = analysis_frame(frame, PLAN)
    said = {str(value) for values in columns.values() for value in values}
    assert not said & {*frame.golfers, *frame.swings, *frame.labs}
    assert set(columns["age_from"] % 10) == {0.0}
    assert set(columns["height_cm"] % 5) == {0.0}
    assert [row[0] for row in dictionary] == list(columns)
    assert all(row[2] for row in dictionary)


def test_rows_are_shuffled_by_golfer_and_numbers_stay_with_them(make_frame):
    frame = make_frame()
    columns, _ = analysis_frame(frame, PLAN)
    assert (np.sort(columns["golfer"]) == columns["golfer"]).all()
    new = recoded(frame.golfers, PLAN.seed)
    theirs = sorted(zip([new[g] for g in frame.golfers], frame.ball_speed_mps, strict=True))
    ours = sorted(zip(columns["golfer"].tolist(), columns["ball_speed_mps"], strict=True))
    assert theirs == ours


def test_the_studys_model_can_be_fitted_again_from_the_frame(make_frame):
    columns, _ = analysis_frame(make_frame(), PLAN)
    within = columns["sway_travel_within"]
    for golfer in np.unique(columns["golfer"]):
        assert within[columns["golfer"] == golfer].sum() == pytest.approx(0.0, abs=1e-9)
    assert len(np.unique(columns["sway_travel_between"].round(9))) == 60
