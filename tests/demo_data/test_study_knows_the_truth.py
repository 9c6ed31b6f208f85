"""A study of the invented academy finds what is true of it, within and between golfers."""

import numpy as np
import pytest

from demo_data.academy import invent_academy
from demo_data.ball_speed import BALL_SPEED
from norms.records.study import StudyFrame, StudyPlan
from norms.study.answer import answer_study

NAMES = tuple(BALL_SPEED.centre)
PLAN = StudyPlan(
    name="truth",
    question="Does the study know the academy's truth?",
    cohort="driver",
    primary=NAMES,
    covariates=("sex", "age", "height", "handicap"),
    along=(),
    predict=False,
    random_slope="never",
)


@pytest.fixture(scope="module")
def study():
    rows = [
        (golfer.person, swing)
        for golfer in invent_academy(golfers=240)
        for swing in golfer.swings
        if swing.club == "driver"
    ]
    people, swings = zip(*rows, strict=True)
    frame = StudyFrame(
        swings=tuple(swing.code for swing in swings),
        golfers=tuple(swing.golfer for swing in swings),
        clubs=tuple(swing.club for swing in swings),
        labs=tuple(swing.lab for swing in swings),
        ball_speed_mps=[swing.ball_mps for swing in swings],
        club_speed_mps=[swing.club_mps for swing in swings],
        golfer_facts={
            "sex": [float(person.golfer.sex == "male") for person in people],
            "age": [float(person.age_on(s.recorded_on)) for person, s in rows],
            "height": [person.height_cm for person in people],
            "handicap": [swing.ability for swing in swings],
        },
        feature_names=NAMES,
        feature_units=("cm", "cm", "cm", "ratio"),
        feature_labels=NAMES,
        features=np.array([[swing.model_features[n] for n in NAMES] for swing in swings]),
    )
    return answer_study(PLAN, frame)


@pytest.mark.parametrize("feature", NAMES)
def test_what_acts_within_a_golfer_is_found_and_what_does_not_is_not(study, feature):
    truth = BALL_SPEED.within[feature]
    together = next(one for one in study.together if one.feature == feature)
    assert (together.within.adjusted_p <= 0.01) == (truth != 0.0)
    if truth:
        assert study.model(feature).within.adjusted_p < 0.001
    assert together.within.slope == pytest.approx(truth, abs=3 * together.within.standard_error)


@pytest.mark.parametrize("feature", NAMES)
def test_effects_between_golfers_hold_the_truth_once_the_others_are_held(study, feature):
    between = next(one.between for one in study.together if one.feature == feature)
    truth = BALL_SPEED.between[feature]
    assert between.slope == pytest.approx(truth, abs=3 * between.standard_error)
    assert (between.adjusted_p <= 0.01) == (truth != 0.0)


def test_the_reversal_is_two_opposite_effects(study):
    late = study.model("thrust_late_rise")
    assert late.reversal
    assert late.within.low > 0 > late.between.high


def test_forward_travel_is_never_called_an_effect_between_golfers(study):
    travel = study.model("sway_travel")
    assert not travel.between.found
    assert travel.difference_p < 0.01
