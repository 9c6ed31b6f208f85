"""The page of a review and the sheet: words, pictures, cautions, no colours of signals."""

import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import numpy as np
import pytest

from norms.records import CohortDefinition, Level
from norms.records.standard import (
    Decision,
    GolferVerdict,
    NormRange,
    PartVerdict,
    Quantity,
    QuantityErrors,
    Requirement,
    Standard,
)
from norms.standards.asked import CAUTIONS
from norms.standards.compare import Flip, RequirementChange, StandardComparison
from norms.standards.drift import Drift
from norms.standards.progress import GolferProgress, PartProgress
from norms.standards.realism import LevelShare, LevelTrend, Realism, Share
from norms.standards.review import LevelVerdicts, StandardReview
from reports.figures.standard_ranges import on_phase_axis, range_strip, strip_places
from reports.figures.verdicts import verdict_bars
from reports.standard_words import measured_words, set_words, should_sentence, target_words
from reports.standards_page import lead_sentence, standards_page, trend_sentence
from reports.standards_sheet import standard_pdf, standard_sheet
from reports.standards_tables import (
    changes_table,
    findings_table,
    flips_sentence,
    golfers_table,
    review_table,
    standard_table,
    standards_table,
)

LEVEL = Level(key="to_12", label="handicap over 5, to 12", above=5.0, to=12.0)
NORM = NormRange(golfers=64, percents=(5.0, 95.0), low=6.0, median=10.0, high=14.0)
TRAVEL = Quantity(feature="sway_travel")
LIFT = Quantity(axis="lift", first_node=100, last_node=150)


def asked(quantity=TRAVEL, low=7.62, high=12.7, **facts) -> Requirement:
    whole = {"set_by": "percentiles", "low_percent": 10, "high_percent": 90, "norm": NORM}
    return Requirement(quantity=quantity, low=low, high=high, **(whole | facts))


def build_standard(*requirements: Requirement, **facts) -> Standard:
    whole = {
        "name": "driver",
        "title": "Driver, 5 to 12",
        "edition": "spring",
        "edition_hash": "c0ffee" * 10 + "abcd",
        "evidence": "driver/to_12",
        "golfers": CohortDefinition(key="driver", name="driver", club="driver", levels=(LEVEL,)),
        "requirements": requirements or (asked(), asked(LIFT, low=-5.08, high=None, priority=2)),
        "rationale": "What we teach.",
        "cautions": CAUTIONS,
        "review_on": date(2027, 5, 1),
    }
    return Standard(**(whole | facts))


DECISION = Decision(
    state="approved",
    role="director of coaching",
    reason="agreed",
    decided_on=date(2026, 6, 1),
    standard_hash="ab" * 32,
    edition_hash="cd" * 32,
)


def part(key, verdict, value=9.0, gap=0.0) -> PartVerdict:
    return PartVerdict(
        key=key, verdict=verdict, value=value, error=0.5, gap=gap, smallest_change=1.4
    )


def build_review(standard: Standard, golfers: int = 3) -> StandardReview:
    first, second = (one.quantity.key for one in standard.requirements)
    kinds = [
        ("met", "met", "met"),
        ("not yet", "not yet", "met"),
        ("cannot tell", "met", "cannot tell"),
    ]
    verdicts = tuple(
        GolferVerdict(
            golfer=f"Q{i:04d}",
            verdict=whole,
            swings=5,
            days=1,
            parts=(part(first, one), part(second, other)),
            close=whole == "cannot tell",
        )
        for i in range(golfers)
        for whole, one, other in [kinds[i % 3]]
    )
    share = Share(golfers=40, inside=20, share=0.5, low=0.37, high=0.63)
    return StandardReview(
        standard=standard,
        standard_hash="ab" * 32,
        state="approved",
        held_on=date(2026, 6, 1),
        verdicts=verdicts,
        without_swings=("Q0900",),
        left_out=(("session held back, out of control", 12),),
        levels=(
            LevelVerdicts(label=LEVEL.label, golfers={"met": 1, "not yet": 1, "cannot tell": 1}),
        ),
        errors=QuantityErrors(
            swing_sd=np.ones(2),
            day_sd=np.full(2, 0.3),
            caution_factor=np.ones(2),
            individuality=np.full(2, 0.5),
            confidence=0.95,
        ),
        realism=Realism(
            levels=(
                LevelShare(
                    key="driver/to_12", label=LEVEL.label, whole=share, parts=(share, share)
                ),
                LevelShare(
                    key="driver/none",
                    label="no handicap",
                    whole=Share(golfers=3),
                    parts=(Share(golfers=3),) * 2,
                ),
            ),
            trend=LevelTrend(inside=20, outside=20, better=0.7, p_value=0.01),
        ),
        drift=Drift(new_golfers=0),
        reminders=("Standard driver is to be reviewed in 20 days.",),
        progress=(
            GolferProgress(
                golfer="Q0000",
                then="not yet",
                now="met",
                parts=(
                    PartProgress(key=first, change=2.54, smallest_change=1.4, movement="nearer"),
                    PartProgress(key=second, change=None, smallest_change=None, movement=None),
                ),
            ),
        ),
        last_review_on=date(2026, 3, 1),
    )


class Outline(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.ids, self.refs, self.text = [], [], [], []

    def handle_starttag(self, tag, attrs):
        named = dict(attrs)
        self.ids += [named["id"]] if "id" in named else []
        self.refs += (named.get("aria-labelledby") or "").split()
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        pass

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.text.append(data)


def outline(page):
    parser = Outline()
    parser.feed(page)
    assert parser.open == []
    parser.text = re.sub(r"\s+", " ", " ".join(parser.text))
    return parser


@pytest.fixture(scope="module")
def evidence(edition):
    return edition.cell("driver/to_12")


@pytest.fixture(scope="module")
def page():
    return standards_page(build_review(build_standard()), DECISION)


@pytest.fixture(scope="module")
def sheet(evidence):
    return standard_sheet(build_standard(), evidence, DECISION)


def test_pages_hold_together_and_fetch_nothing(page, sheet):
    for one in (page, sheet):
        told = outline(one)
        assert len(told.ids) == len(set(told.ids))
        assert set(told.refs) <= set(told.ids)
        assert not re.search(r"<script|https?://(?!www\.w3\.org)|url\((?!#)", one)


def test_both_carry_every_caution_of_juniors_and_backs(page, sheet):
    for one in (page, sheet):
        text = outline(one).text.replace("\u00a0", " ").replace("’", "'")
        for caution in CAUTIONS:
            assert caution in text


def test_the_sheet_says_should_with_the_readers_unit(sheet, evidence):
    text = outline(sheet).text.replace("\u00a0", " ")
    assert "Forward travel should be 3.0 to 5.0 in." in text
    metric = outline(standard_sheet(build_standard(), evidence, DECISION, unit="cm")).text
    assert "Forward travel should be 7.6 to 12.7 cm." in metric.replace("\u00a0", " ")


def test_norm_and_target_stand_apart(sheet):
    text = outline(sheet).text.replace("\u00a0", " ")
    assert "middle 90 % of 64 golfers: 2.4 to 5.5 in" in text
    assert "Tints show what golfers do; brackets and boxes in ink show what is asked." in text


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        (None, "A draft: not in force"),
        (replace(DECISION, state="in review"), "In review: not in force"),
        (replace(DECISION, state="retired"), "Retired: no longer in force"),
    ],
)
def test_a_sheet_that_is_not_in_force_says_so(evidence, decision, words):
    assert words in outline(standard_sheet(build_standard(), evidence, decision)).text
    assert words not in outline(standard_sheet(build_standard(), evidence, DECISION)).text


def test_an_override_is_on_the_sheet(evidence):
    signed = replace(DECISION, override="pilot of one season")
    text = outline(standard_sheet(build_standard(), evidence, signed)).text
    assert "Approved below the sufficiency floor" in text
    assert "pilot of one season" in text


def test_words_of_a_person_are_escaped(evidence):
    hostile = build_standard(title='<script>alert("x")</script>', rationale="<b>bold</b> & more")
    for one in (
        standard_sheet(hostile, evidence, DECISION),
        standards_page(build_review(hostile), DECISION),
    ):
        assert "<script" not in one
        assert "<b>bold" not in one


def test_the_pdf_is_one_page_of_the_same_bytes(evidence):
    first = standard_pdf(build_standard(), evidence, DECISION)
    assert first == standard_pdf(build_standard(), evidence, DECISION)
    assert first.startswith(b"%PDF-")
    assert first.count(b"/Type /Page\n") + first.count(b"/Type /Page ") == 1


def test_smaller_pictures_keep_a_wordy_standard_on_one_page(evidence):
    whole = build_standard()
    wordy = replace(
        whole, requirements=whole.requirements[:1] * 4, rationale="Why it is asked. " * 38
    )
    pdf = standard_pdf(wordy, evidence, DECISION)
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") == 1


def test_a_long_standard_takes_a_second_page(evidence):
    many = [asked(Quantity(feature=name)) for name in (
        "sway_travel", "sway_impact", "thrust_impact", "lift_impact", "sway_top", "thrust_top",
        "lift_top", "sway_back", "sway_drift", "sway_settle", "lift_rise", "path_length",
    )]  # fmt: skip
    pdf = standard_pdf(build_standard(*many), evidence, DECISION)
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") == 2


def test_sheet_without_evidence_draws_the_target_alone():
    text = outline(standard_sheet(build_standard(), None)).text
    assert "No norm is drawn" in text
    assert "median of golfers" not in text


@pytest.mark.parametrize(
    ("requirement", "words"),
    [
        (asked(low=7.62, high=None), "3.0 in or more"),
        (asked(low=None, high=12.7), "5.0 in or less"),
        (asked(LIFT, low=-5.08, high=None), "2.0 in below address or higher"),
        (asked(Quantity(feature="sway_impact"), low=5.08, high=None),
         "2.0 in toward the target or farther toward the target"),
        (asked(Quantity(feature="sway_top"), low=-5.08, high=None),
         "2.0 in away from the target or less far away from the target"),
        (asked(Quantity(feature="sway_top"), low=-5.08, high=-2.54),
         "1.0 to 2.0 in away from the target"),
    ],
)  # fmt: skip
def test_open_sides_are_said_in_the_words_of_the_direction(requirement, words):
    assert target_words(requirement, "in") == words


def test_a_stretch_is_named_by_its_points():
    assert should_sentence(asked(LIFT, low=-5.08, high=2.54), "in") == (
        "Mean lift from the top to 50 % of the downswing should be 2.0 in below address to 1.0 in "
        "above address."
    )


@pytest.mark.parametrize(
    ("requirement", "words"),
    [
        (asked(), "percentiles 10 to 90 of 64 golfers"),
        (asked(high=None, high_percent=None), "percentile 10 of 64 golfers"),
        (
            asked(set_by="centiles", at_handicap=-2.4),
            "centiles 10 to 90 at handicap +2.4 of 64 golfers",
        ),
        (
            asked(set_by="numbers", low_percent=None, high_percent=None, reason="as taught"),
            "numbers of the academy: as taught",
        ),
    ],
)
def test_how_limits_were_set(requirement, words):
    assert set_words(requirement) == words


@pytest.mark.parametrize(
    ("requirement", "value_cm", "words"),
    [
        (asked(), 9.0, "3.5 in"),
        (asked(LIFT, low=-5.6, high=-2.0), -5.0, "2.0 in below address"),
        (asked(LIFT, low=-5.6, high=-2.0), -6.2, "2.4 in below address"),
        # Rounded to a tenth of an inch both would be 2.2: a mean would stand outside a range
        # that seems to hold it.
        (asked(LIFT, low=-5.56, high=-2.0), -5.6,
         "2.20 in below address, the limit 2.19 in below address"),
        (asked(LIFT, low=-5.578, high=-2.0), -5.580,
         "2.197 in below address, the limit 2.196 in below address"),
        (asked(low=7.62, high=12.7), 12.75, "5.02 in, the limit 5.00 in"),
        (asked(low=7.62, high=12.7), 12.7, "5.0 in"),
        (asked(Quantity(feature="sway_top"), low=-5.08, high=None), -5.15,
         "2.03 in away from the target, the limit 2.00 in away from the target"),
    ],
)  # fmt: skip
def test_a_mean_is_said_as_the_range_is_and_never_seems_inside_what_it_misses(
    requirement, value_cm, words
):
    assert measured_words(requirement, value_cm, "in") == words


def test_who_is_close_reads_in_the_words_of_the_sheet():
    review = build_review(build_standard(asked(), asked(LIFT, low=-5.56, high=-2.0)))
    missed = replace(
        review.verdicts[2],
        parts=(review.verdicts[2].parts[0], part(LIFT.key, "cannot tell", -5.6, gap=0.04)),
    )
    review = replace(review, verdicts=(*review.verdicts[:2], missed))
    page = standards_page(review)
    # Two short columns and one of words: it wraps, and needs no scrolling on a phone.
    assert not re.search(
        r'<div class="wide">\s*<table[^>]*>\s*<thead><tr><th scope="col">Golfer'
        r'</th><th scope="col">What lies outside',
        page,
    )
    text = outline(page).text.replace("\u00a0", " ")
    assert "should be 0.8 to 2.2 in below address" in text
    assert (
        "mean lift from the top to 50 % of the downswing cannot tell, 2.20 in below address, "
        "the limit 2.19 in below address"
    ) in text


def comparison(*requirements, flips=()) -> StandardComparison:
    return StandardComparison(
        first="first", second="second", first_hash="ab", second_hash="cd",
        changes=(), requirements=requirements, flips=flips, judged=40,
    )  # fmt: skip


def test_standards_are_compared_in_the_words_of_the_sheet_and_the_readers_unit():
    found = comparison(
        RequirementChange(first=asked(LIFT, low=-5.08, high=-2.54), second=None),
        RequirementChange(first=asked(low=7.62), second=asked(low=7.72, priority=1)),
    )
    told = changes_table(found, unit="in")
    assert told[1] == [
        "Mean lift from the top to 50 % of the downswing",
        "1.0 to 2.0 in below address, priority 1",
        "not asked",
    ]
    # To a tenth both begin at 3.0: said finer, so that what changed is seen.
    assert told[2][1:] == ["3.00 to 5.00 in, priority 1", "3.04 to 5.00 in, priority 1"]
    assert changes_table(found, unit="cm")[1][1] == "2.5 to 5.1 cm below address, priority 1"


def test_a_comparison_says_who_flips_or_that_nobody_does():
    assert flips_sentence(comparison()) == "Nobody's verdict flips, of 40 golfers judged."
    flip = Flip(golfer="Q0001", first="met", second=None)
    assert flips_sentence(comparison(flips=(flip,))) == (
        "1 of 40 golfers would be judged differently: 1 from met to not concerned."
    )


def test_only_what_has_a_place_in_the_swing_is_drawn_there():
    assert on_phase_axis(asked()) is None
    assert on_phase_axis(asked(Quantity(feature="lift_impact"))) == ("lift", 200, 200)
    assert on_phase_axis(asked(LIFT)) == ("lift", 100, 150)


def test_a_strip_keeps_norm_and_target_in_order_on_one_scale():
    places = strip_places(asked(low=8.0, high=16.0))
    assert places.norm_low < places.low < places.median < places.norm_high < places.high
    assert (places.norm_low, places.high) == pytest.approx((0.12, 0.88))
    assert places.low == pytest.approx(0.12 + 0.76 * 0.2)
    assert "<title" in range_strip(asked(), "in")


def test_bars_share_one_length_and_need_no_colour_to_be_read():
    svg = verdict_bars(
        [
            ("a", {"met": 1, "cannot tell": 2, "not yet": 1}),
            ("b", {"met": 0, "cannot tell": 0, "not yet": 8}),
        ],
        name="v",
        title="Verdicts",
    )
    widths = [float(w) for w in re.findall(r'<rect[^>]* width="([\d.]+)"', svg)]
    assert sum(widths[:3]) == pytest.approx(widths[3], abs=0.2)
    assert "a: 1 met, 2 cannot tell, 1 not yet" in svg


def test_no_signal_colours(page, sheet):
    for one in (page, sheet):
        for colour in re.findall(r"#[0-9a-fA-F]{6}\b", one):
            red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
            assert not (green > 1.3 * red and green > 1.3 * blue), f"{colour} is a green"
            assert colour == "#a8420c" or not (red > 2 * green and red > 2 * blue), colour
        assert not re.search(r"\b(green|red|amber|yellow|lime|crimson)\b", one)


def test_the_page_says_who_is_close_what_is_missed_and_whether_level_matters(page):
    text = outline(page).text.replace("\u00a0", " ")
    assert (
        "Of 3 golfers, 1 meets it and 1 does not yet; for 1 the swings so far cannot tell." in text
    )
    assert "1 golfer is close" in text
    assert "Most often missed: forward travel, not yet met by 1 of 3 golfers." in text
    assert "in 70 % of pairs the golfer inside plays at the better level" in text
    assert "does not say that meeting it makes anybody play better" in text
    assert "50 % (37 % to 63 %)" in text
    assert "too few" in text
    assert "Not used, session held back, out of control: 12 swings." in text
    assert "Without a swing that counts: Q0900." in text
    assert "nearer: 1.0 in more (can be told from 0.6)" in text
    assert "to be reviewed in 20 days" in text


def test_the_page_says_of_how_many_more_swings_would_tell(page):
    assert "fewer swings than" not in outline(page).text
    review = build_review(build_standard(swings=6))
    text = outline(standards_page(review)).text.replace("\u00a0", " ")
    assert "Of the 1 golfer of whom it cannot be told, 1 have fewer swings than the 6" in text


def test_nobody_held_against_it_is_said_plainly():
    review = replace(build_review(build_standard()), verdicts=())
    assert lead_sentence(review) == "No golfer has a swing that counts."
    assert "No part is missed by any golfer for certain." in standards_page(review)


def test_a_very_large_academy_lists_the_close_first_and_says_so():
    review = build_review(build_standard(), golfers=600)
    text = outline(standards_page(review)).text
    assert "400 of 600 golfers are listed" in text
    assert text.count("Q0002") >= 2


@pytest.mark.parametrize(
    ("trend", "words"),
    [
        (LevelTrend(inside=2, outside=30), "cannot be said: 2 golfers"),
        (LevelTrend(inside=30, outside=30, better=0.52, p_value=0.6), "does not visibly go with"),
        (LevelTrend(inside=30, outside=30, better=0.3, p_value=1e-6), "weaker play"),
    ],
)
def test_level_is_spoken_of_without_a_claim_of_cause(trend, words):
    assert words in trend_sentence(trend)


def test_terminal_rows():
    review = build_review(build_standard())
    assert review_table(review)[1] == ["the whole standard", "1", "1", "1"]
    assert golfers_table(review)[3][:4] == ["Q0002", "cannot tell", "close", "5 on 1"]
    assert standard_table(build_standard())[1][2] == "3.0 to 5.0 in"
    assert standards_table([(build_standard(), (DECISION,))])[1][2] == "approved"
    assert findings_table(()) == [["", "where", "what"]]


def test_another_unit_is_refused(evidence):
    for call in (
        lambda: standard_sheet(build_standard(), evidence, unit="ft"),
        lambda: standard_pdf(build_standard(), evidence, unit="ft"),
        lambda: standards_page(build_review(build_standard()), unit="ft"),
    ):
        with pytest.raises(ValueError, match="unit"):
            call()
