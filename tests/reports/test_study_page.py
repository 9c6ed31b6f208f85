"""The study page: sentences a coach understands, two effects never merged, nothing found said."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from norms.records.study import StudyFrame, StudyPlan
from norms.records.study_look import Look
from norms.study.answer import answer_study
from norms.study.export import own_names
from norms.study.limits import adjusted_for
from norms.swing.catalogue import FEATURE_NAMES
from reports.study_page import study_page
from reports.study_rows import study_table
from reports.study_sentences import (
    along_sentences,
    effect_sentences,
    look_sentences,
    multiplicity_sentence,
    power_sentence,
    prediction_sentences,
)
from reports.study_words import MORE, effect_sentence, reversal_sentence, signed_speed, step_of

PLAN = StudyPlan(
    name="travel",
    question="Does <more> forward travel go with more ball speed?",
    cohort="driver",
    primary=("sway_travel",),
    relabellings=199,
    along=("curves",),
    random_slope="never",
    confounders=("wind & rain",),
)
LOOK = Look(
    number=7,
    of=12,
    kind="study",
    study="travel",
    question="?",
    tests=7,
    tests_before=210,
    frames_before=1,
    looked_at="2026-11-01 10:00 UTC",
    declared_at="2026-10-30 09:00 UTC",
)


def invented(golfers=60, effect=0.6, labs=("North bay", "Range hut")):
    rng = np.random.default_rng(5)
    code = np.repeat(np.arange(golfers), 5)
    swings = len(code)
    means, own = rng.normal(size=(golfers, 3)), 0.7 * rng.normal(size=(swings, 3))
    speed = 62 + 2 * rng.normal(size=golfers)[code] + 0.6 * rng.normal(size=swings)
    speed += effect * own[:, 0] + effect * own[:, 1] - 2.5 * effect * means[code, 1]
    wave = np.sin(np.arange(301) / 120.0)
    curves = np.stack([(means[code, k] + own[:, k])[:, None] * wave for k in range(3)], axis=1)
    return StudyFrame(
        swings=tuple(f"S{n}" for n in range(swings)),
        golfers=tuple(f"Q{n:04d}" for n in code),
        clubs=("driver",) * swings,
        labs=tuple(labs[n % len(labs)] for n in range(swings)),
        ball_speed_mps=speed,
        club_speed_mps=speed / 1.45,
        golfer_facts={
            "sex": rng.integers(0, 2, golfers).astype(float)[code],
            "age": rng.integers(20, 60, golfers).astype(float)[code],
            "height": 175 + 6 * rng.normal(size=golfers)[code],
        },
        feature_names=("sway_travel", "thrust_late_rise", "tempo"),
        feature_units=("cm", "cm", "ratio"),
        feature_labels=("forward travel", "late move toward the ball", "tempo"),
        features=means[code] + own,
        curves_cm=curves,
        left_out={"no ball speed measured": 3},
    )


@pytest.fixture(scope="module")
def study():
    return replace(answer_study(PLAN, invented()), look=LOOK)


@pytest.fixture(scope="module")
def nothing():
    return answer_study(PLAN, invented(effect=0.0))


class Text(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.words, self.ids = [], [], []

    def handle_starttag(self, tag, attrs):
        if tag not in ("meta", "br", "path", "use", "rect"):
            self.open.append(tag)
        self.ids += [value for name, value in attrs if name == "id"]

    def handle_startendtag(self, tag, attrs):
        self.ids += [value for name, value in attrs if name == "id"]

    def handle_endtag(self, tag):
        if tag not in ("path", "use", "rect"):
            assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.words.append(data)


def text_of(page):
    parser = Text()
    parser.feed(page)
    parser.close()
    assert parser.open == []
    assert len(set(parser.ids)) == len(parser.ids)
    return re.sub(r"\s+", " ", " ".join(parser.words).replace("\u00a0", " "))


def with_slope(model, slope, low, high):
    within = replace(model.within, slope=slope, low=low, high=high)
    return replace(model, within=within)


def test_the_sentence_that_a_coach_understands(study):
    # 0.44704 m/s on 2.54 cm is one mile an hour on an inch.
    unit = 0.44704 / 2.54
    model = with_slope(study.model("sway_travel"), 0.6 * unit, 0.2 * unit, 1.0 * unit)
    assert effect_sentence(model, "within", "in", "mph") == (
        "One inch more forward travel goes with +0.6 mph within a golfer, 95 % CI 0.2 to 1.0."
    )
    assert effect_sentence(with_slope(model, -0.5, -0.9, 0.1), "within", "cm", "mps") == (
        "One centimetre more forward travel goes with −0.5 m/s within a golfer, "
        "95 % CI −0.9 to 0.1."
    )


def test_an_effect_that_cannot_be_told_says_why(study):
    model = study.model("tempo")
    gone = replace(
        model.within,
        slope=None,
        low=None,
        high=None,
        p_value=None,
        adjusted_p=None,
        reason="does not vary within any golfer",
    )
    assert effect_sentence(replace(model, within=gone), "within", "in", "mph") == (
        "0.1 more tempo (backswing over downswing): nothing can be said within a golfer, as it "
        "does not vary within any golfer."
    )
    page = study_page(replace(study, models=(replace(model, within=gone),)))
    assert "cannot be told: does not vary within any golfer" in text_of(page)


def test_a_reversal_is_two_opposite_effects(study):
    late = study.model("thrust_late_rise")
    assert late.reversal
    words = reversal_sentence(late)
    assert "two opposite effects" in words
    assert "more speed within a golfer and with less speed between golfers" in words
    turned = replace(late, within=replace(late.within, slope=-1.0))
    assert "more speed between golfers and with less speed within a golfer" in reversal_sentence(
        turned
    )
    assert "No single number can stand for both" in text_of(study_page(study))


def test_declared_features_come_first_whatever_was_found(study, nothing):
    assert effect_sentences(study, "in", "mph")[0]["declared"]
    first = effect_sentences(nothing, "in", "mph")
    assert len(first) == 1
    assert first[0]["standing"] == "Neither holds after adjustment for all questions asked."


def test_multiplicity_is_counted_and_said(study):
    words = multiplicity_sentence(study)
    assert words.startswith("6 questions were asked together")
    assert "3 hold after adjustment by Benjamini and Hochberg" in words


def test_one_is_told_in_the_singular(study):
    two = replace(study, models=study.models[:2])
    named, other = two.models
    two = replace(two, models=(replace(named, declared=True), replace(other, declared=False)))
    assert "1 other feature was looked at beside" in " ".join(look_sentences(two))


def test_the_look_is_numbered_and_what_was_declared_is_said(study):
    said = " ".join(look_sentences(study))
    assert "This is look 7 of 12 at this cohort." in said
    assert "declared beforehand, on 2026-10-30 09:00 UTC" in said
    assert "forward travel; 2 other features were looked at beside" in said
    assert "Earlier looks ran 210 tests" in said
    assert "1 analysis frame of it was taken out before" in said
    late = replace(study, look=replace(LOOK, declared_at=None))
    assert "not declared beforehand: read it as exploration" in " ".join(look_sentences(late))
    assert look_sentences(replace(study, look=None)) == ["This study is in no register of looks."]


def test_adding_nothing_is_a_result(nothing, study):
    said = prediction_sentences(nothing, "mph")
    assert "add nothing that this cohort can show" in said[-1] or "worse" in said[-1]
    better = replace(study.prediction, adds=True, r2_gain=(0.1, 0.05, 0.15))
    words = prediction_sentences(replace(study, prediction=better), "mph")[-1]
    assert words == (
        "The features add to the prediction: R² +0.100, 95 % interval +0.050 to +0.150."
    )


def test_the_smallest_effect_is_that_of_the_declared_feature(study):
    travel = study.model("sway_travel").within.smallest_detectable * 2.54 / 0.44704
    assert f"had it gone with {travel:.1f} mph within a golfer" in power_sentence(
        study, "in", "mph"
    )


def test_fits_that_failed_along_the_swing_are_said(study):
    assert not any("points" in said for said in along_sentences(study))
    along = tuple(replace(one, unsettled=3, singular=12) for one in study.along)
    told = along_sentences(replace(study, along=along))[-2:]
    assert told[0].startswith("Curves: at 3 of 903 points the model did not converge")
    assert told[1].startswith("Curves: at 12 of 903 points golfers do not differ beyond")


def test_how_much_golfers_own_slopes_differ_is_said_where_they_have_their_own(study):
    assert "one for all" in text_of(study_page(study))
    travel = replace(study.model("sway_travel"), slope_sd=0.44704 / 2.54)
    said = text_of(study_page(replace(study, models=(travel, *study.models[1:]))))
    assert "1.0 per 1 in" in said


def test_the_page_holds_together_and_hides_codes_and_labs(study):
    page = study_page(study)
    said = text_of(page)
    assert "Does <more> forward travel" in said
    assert "<more>" not in page
    assert "Associations are not causes" in said
    assert "wind & rain" in said
    assert "no ball speed measured 3" in said
    assert "licensed physician or physiotherapist" in said
    assert not re.search(r"Q00\d\d|North bay|Range hut", page)
    assert "http" not in page.replace("http-equiv", "")
    assert "<script" not in page
    assert "nan" not in said.lower().replace("naturally", "").split()
    assert study_page(study) == page


def test_the_academys_own_page_names_labs_and_golfers_and_says_that_it_stays(study):
    page = study_page(study, own_names(invented(), PLAN))
    said = text_of(page)
    assert "without North bay" in said
    assert "without Range hut" in said
    assert re.search(r"\(Q00\d\d\)", said)
    assert not re.search(r"\bR\d{3}\b|lab 1", said)
    assert "a page for the academy alone" in said
    assert "a page for the academy alone" not in text_of(study_page(study))


def test_what_was_adjusted_for_names_the_club_only_of_several(study):
    said = text_of(study_page(study))
    assert "Adjusted for sex, age, height." in said
    assert "Adjusted for: sex, age, height." in said
    frame = invented()
    clubs = tuple("iron 7" if n % 5 == 4 else "driver" for n in range(len(frame.swings)))
    both = answer_study(PLAN, replace(frame, clubs=clubs))
    said = text_of(study_page(both))
    assert "Adjusted for club, sex, age, height." in said
    assert "Adjusted for: club, sex, age, height." in said
    assert adjusted_for(replace(PLAN, covariates=()), clubs=1) == "nothing"


def test_a_page_of_nothing_says_so(nothing):
    said = text_of(study_page(nothing))
    assert "nothing goes with ball speed anywhere" in said
    assert "This study is in no register of looks." in said


def test_metric_pages_speak_metric(study):
    said = text_of(study_page(study, unit="cm", speed_unit="mps"))
    assert "One centimetre more forward travel" in said
    assert "m/s" in said
    assert " mph" not in said


def test_units_that_pages_do_not_show_are_refused(study):
    with pytest.raises(ValueError, match="unit"):
        study_page(study, unit="ft")
    with pytest.raises(ValueError, match="speed_unit"):
        study_page(study, speed_unit="knots")


def test_every_feature_of_the_catalogue_has_its_words():
    assert set(MORE) == set(FEATURE_NAMES)


@pytest.mark.parametrize(
    ("unit", "amount", "words"),
    [
        ("cm", 2.54, "1 in"),
        ("cm_s", 25.4, "10 in/s"),
        ("s", 0.05, "0.05 s"),
        ("pct", 10.0, "10 points"),
        ("ratio", 0.1, "0.1"),
        ("deg", 1.0, "1 deg"),
    ],
)
def test_steps_are_of_a_size_that_means_something(unit, amount, words):
    step = step_of(unit, "in")
    assert (step.amount, step.words) == (pytest.approx(amount), words)


def test_small_speeds_keep_two_decimals_and_nothing_has_no_sign():
    assert signed_speed(0.44704 * 0.04, "mph") == "+0.04"
    assert signed_speed(0.0, "mph") == "0.00"
    assert signed_speed(-0.44704 * 1.26, "mph") == "−1.3"


def test_rows_for_a_terminal_hold_both_effects(study):
    rows = study_table(study)
    assert rows[0][1:4:2] == ["within a golfer", "between golfers"]
    assert len(rows) == 4
    assert rows[1][0] == "1 in more forward travel *"
    assert "mph, 95 % CI" in rows[1][1]
