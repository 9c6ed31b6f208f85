"""A study finds what acts, within and between apart, and says when it cannot tell."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from norms.errors import CohortRefused
from norms.records.study import StudyPlan
from norms.study.answer import NO_CURVES, answer_study, questions_asked

PLAN = StudyPlan(
    name="travel",
    question="Does more forward travel go with more ball speed?",
    cohort="driver",
    primary=("sway_travel",),
    along=(),
    predict=False,
    random_slope="never",
)


@pytest.fixture(scope="module")
def study(make_frame):
    return answer_study(PLAN, make_frame(golfers=120))


def test_within_only_between_only_reversed_and_nothing_are_told_apart(study):
    travel, rise, late, tempo = study.models
    assert travel.within.adjusted_p < 0.001
    assert travel.within.low < 0.45 < travel.within.high
    assert not travel.between.found
    assert not rise.within.found
    assert rise.between.adjusted_p < 0.05
    assert not tempo.within.found
    assert not tempo.between.found
    assert late.reversal
    assert late.within.slope > 0 > late.between.slope
    assert late.difference_p < 0.001
    assert [model.reversal for model in (travel, rise, tempo)] == [False, False, False]


def test_a_pooled_regression_would_have_merged_the_reversal(make_frame, study):
    frame = make_frame(golfers=120)
    pooled = np.polyfit(frame.features[:, 2], frame.ball_speed_mps, 1)[0]
    late = study.model("thrust_late_rise")
    assert late.between.slope < pooled < late.within.slope


def test_p_values_are_adjusted_over_both_parts_of_every_feature(study):
    raw = np.array([[m.within.p_value, m.between.p_value] for m in study.models]).ravel()
    rank = np.argsort(np.argsort(raw)) + 1
    largest = [np.min((raw * 8 / rank)[raw >= p]) for p in raw]
    adjusted = [p for m in study.models for p in (m.within.adjusted_p, m.between.adjusted_p)]
    assert adjusted == pytest.approx(np.minimum(largest, 1.0))


def test_only_what_the_plan_names_is_declared(study):
    assert [model.declared for model in study.models] == [True, False, False, False]


def test_the_same_plan_and_rows_give_the_same_answer(make_frame):
    plan = replace(PLAN, predict=True, along=("curves",), relabellings=199)
    frame = make_frame(curves=True)
    one, other = answer_study(plan, frame), answer_study(plan, frame)
    assert one.prediction == other.prediction
    assert one.models == other.models
    assert [a.p_value for a in one.along] == [a.p_value for a in other.along]
    assert (one.along[0].low[0, 50:] == other.along[0].low[0, 50:]).all()


def test_along_the_swing_follows_the_curves_and_keeps_within_and_between_apart(make_frame):
    plan = replace(PLAN, along=("curves", "rates"), relabellings=199)
    frame = make_frame(golfers=100, curves=True)
    study = answer_study(plan, frame)
    assert [(one.kind, one.part) for one in study.along] == [
        ("curves", "within"),
        ("curves", "between"),
    ]
    within, between = study.along
    assert within.p_value <= 0.01
    assert np.isnan(within.value[:, 0]).all()
    assert within.stretches(0, 0.05)
    peak = within.node
    assert within.low[0, peak] * within.high[0, peak] > 0
    assert between.critical > 2.0
    assert any("no times" in note for note in study.notes)


def test_prediction_of_features_that_act_beats_what_is_known_of_a_golfer(make_frame):
    plan = replace(PLAN, predict=True)
    good = answer_study(plan, make_frame(golfers=120, between=(3.0, 0.0, 0.0, 0.0))).prediction
    assert good.adds
    assert good.model_error_mps < good.baseline_error_mps
    assert good.baseline == "sex, age, height"
    none = answer_study(
        plan, make_frame(within=(0.0,) * 4, between=(0.0,) * 4, golfers=120)
    ).prediction
    assert not none.adds


def test_few_golfers_get_no_prediction_and_it_is_said(make_frame):
    study = answer_study(replace(PLAN, predict=True), make_frame(golfers=20))
    assert study.prediction is None
    assert any("No prediction" in note for note in study.notes)


def test_own_slopes_are_kept_where_golfers_differ_in_them(make_frame):
    frame = make_frame(golfers=80)
    rng = np.random.default_rng(3)
    own = rng.normal(size=80)
    golfer = np.array([int(code[1:]) for code in frame.golfers])
    within = frame.features[:, 0] - np.array(
        [frame.features[golfer == g, 0].mean() for g in golfer]
    )
    frame = replace(frame, ball_speed_mps=frame.ball_speed_mps + 1.5 * own[golfer] * within)
    plan = replace(PLAN, random_slope="auto")
    travel = answer_study(plan, frame).model("sway_travel")
    assert travel.slope_sd == pytest.approx(1.5, abs=0.4)
    assert "random slope per golfer" in travel.method
    stiff = answer_study(PLAN, frame).model("sway_travel")
    assert stiff.slope_sd is None
    # Robust by golfer, the error holds golfers' own slopes also where the model lacks them.
    assert stiff.within.standard_error == pytest.approx(travel.within.standard_error, rel=0.2)


def test_a_feature_that_never_varies_within_a_golfer_has_no_within_effect(make_frame):
    frame = make_frame()
    golfer = np.array([int(code[1:]) for code in frame.golfers])
    features = frame.features.copy()
    features[:, 3] = np.random.default_rng(1).normal(size=60)[golfer]
    tempo = answer_study(PLAN, replace(frame, features=features)).model("tempo")
    assert tempo.within.slope is None
    assert tempo.within.reason == "does not vary within any golfer"
    assert tempo.between.slope is not None
    assert tempo.influence is None


def test_a_singular_fit_is_said_with_its_fallback(make_frame):
    frame = make_frame(seed=4)
    rng = np.random.default_rng(11)
    speed = 60.0 + rng.normal(size=len(frame.swings))
    golfer = np.array([int(code[1:]) for code in frame.golfers])
    speed -= np.array([speed[golfer == g].mean() for g in golfer])
    travel = answer_study(PLAN, replace(frame, ball_speed_mps=speed + 60.0)).models[0]
    assert travel.singular
    assert travel.golfer_sd_mps == 0.0
    assert "singular" in travel.method
    assert "fallback" in travel.method
    assert travel.between.freedom < 60


def test_missing_speeds_and_covariates_leave_out_swings_and_are_counted(make_frame):
    frame = make_frame()
    ball, height = frame.ball_speed_mps.copy(), frame.golfer_facts["height"].copy()
    ball[:5] = np.nan
    height[5:12] = np.nan
    frame = replace(
        frame, ball_speed_mps=ball, golfer_facts={**frame.golfer_facts, "height": height}
    )
    study = answer_study(PLAN, frame)
    assert study.swings == len(frame.swings) - 12
    assert study.left_out["no height known"] == 7


def test_adjusting_for_club_speed_takes_it_apart_too_and_warns(make_frame):
    plan = replace(PLAN, covariates=("club_speed",))
    study = answer_study(plan, make_frame())
    assert any("stands between pelvis and ball" in line for line in study.sketch)
    assert abs(study.models[0].within.slope) < 0.1  # club speed here is ball speed over 1.45


def test_two_clubs_are_taken_apart_within_each_club(make_frame):
    frame = make_frame(golfers=120, clubs=("driver", "iron 7"))
    travel = answer_study(PLAN, frame).model("sway_travel")
    assert travel.within.low < 0.45 < travel.within.high


def test_membership_of_a_pattern_is_a_feature(make_frame):
    frame = make_frame(golfers=100)
    golfer = np.array([int(code[1:]) for code in frame.golfers])
    member = (golfer % 3 == 0).astype(float)
    frame = replace(
        frame,
        ball_speed_mps=frame.ball_speed_mps + 6.0 * member,
        feature_names=(*frame.feature_names, "pattern early"),
        feature_units=(*frame.feature_units, "share"),
        feature_labels=(*frame.feature_labels, "pattern early"),
        features=np.column_stack([frame.features, member]),
    )
    found = answer_study(replace(PLAN, features=("tempo",)), frame)
    assert [model.feature for model in found.models] == ["tempo", "sway_travel", "pattern early"]
    pattern = found.model("pattern early")
    assert pattern.between.low < 6.0 < pattern.between.high
    assert pattern.within.slope is None


def test_without_each_lab_the_slopes_stay(study):
    labs = {one.lab for one in study.without_labs}
    assert labs == {"lab 1", "lab 2"}  # called as in the analysis frame, not by name
    travel = [one.within for one in study.without_labs if one.feature == "sway_travel"]
    assert travel == pytest.approx([0.45, 0.45], abs=0.2)


def test_a_lab_whose_features_are_kept_apart_is_left_out_without_a_number(make_frame):
    frame = make_frame(golfers=40)
    features = frame.features.copy()
    features[np.array(frame.labs) == "Range hut"] = np.nan
    alone = answer_study(PLAN, replace(frame, features=features)).without_labs
    without_the_only_one = [one for one in alone if one.lab == "lab 1"]
    assert {one.within for one in without_the_only_one} == {None}
    assert {one.golfers for one in without_the_only_one} == {0}
    assert all(one.within is not None for one in alone if one.lab == "lab 2")


def test_power_and_confounders_are_stated(study):
    travel = study.model("sway_travel")
    assert travel.within.smallest_detectable == pytest.approx(
        2.8 * travel.within.standard_error, rel=0.02
    )
    assert travel.within.e_value > travel.within.e_value_limit > 1.0
    assert "strength and speed of the body" in study.unmeasured


def test_influence_names_nobody_by_the_stores_code(study):
    influence = study.model("sway_travel").influence
    assert influence.golfer.startswith("R")
    assert influence.lowest < study.model("sway_travel").within.slope < influence.highest


def test_every_test_is_there_to_be_logged(study):
    tests = questions_asked(study)
    assert len(tests) == 8
    assert tests[0][0] == "does forward travel go with ball speed within a golfer?"
    assert tests[0][1] == study.models[0].within.p_value


def test_a_table_without_curves_says_so(make_frame):
    study = answer_study(replace(PLAN, along=("curves",)), make_frame())
    assert study.along == ()
    assert NO_CURVES in study.notes


def test_too_few_golfers_and_unknown_features_are_refused(make_frame):
    with pytest.raises(CohortRefused, match="8 golfers have ball speed") as few:
        answer_study(PLAN, make_frame(golfers=8))
    assert few.value.code == "too_few"
    with pytest.raises(CohortRefused, match="no feature is called hip_turn"):
        answer_study(replace(PLAN, features=("hip_turn",)), make_frame())


def test_leaving_golfers_out_agrees_with_the_model_where_swings_are_independent(study):
    for model in study.models:
        assert model.influence.jackknife_error == pytest.approx(
            model.within.standard_error, rel=0.15
        )


def test_swings_tied_by_a_day_do_not_narrow_the_within_effect(make_frame):
    frame = make_frame(golfers=120)
    rng = np.random.default_rng(9)
    golfer = np.array([int(code[1:]) for code in frame.golfers])
    day = golfer * 2 + (np.arange(len(golfer)) % 4 >= 2)
    features = frame.features.copy()
    features[:, 3] += 2.0 * rng.normal(size=240)[day]
    frame = replace(
        frame,
        features=features,
        ball_speed_mps=frame.ball_speed_mps + 2.0 * rng.normal(size=240)[day],
    )
    study = answer_study(PLAN, frame)
    tempo = study.model("tempo")
    assert tempo.within.standard_error == pytest.approx(tempo.influence.jackknife_error, rel=0.1)
    # Errors of a model without the day take every swing for its own.
    assert tempo.within.freedom < 120


def test_kept_calibration_holds_the_within_effect_where_swings_are_tied_together():
    path = Path(__file__).parents[2] / "calibration" / "results" / "study_tied.csv"
    with path.open() as lines:
        rows = list(csv.DictReader(lines))
    assert {row["golfers"] for row in rows} == {"8", "15", "40"}
    for row in rows:
        error = 2 * float(row["standard_error_pct"])
        assert 93.5 - error <= float(row["robust_covered_pct"]) <= 96.5 + error
