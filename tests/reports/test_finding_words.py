"""Sentence, number and mark of a finding and of a change come from one record."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.placement.findings import strength_of
from norms.placement.progress import Spread, judge_change
from norms.records.findings import Finding
from norms.records.golfer_place import (
    LookAlike,
    LookAlikes,
    MapPart,
    NearestHandicap,
    PatternPlace,
    ProfileMap,
    TypicalityPlace,
)
from norms.swing.catalogue import FEATURE_NAMES
from reports import finding_sentences as words
from reports.figures.panels import PanelBand, PanelLine, curve_panels
from reports.sentences import change_amount
from reports.sheet_parts import alike_rows

FINDINGS = st.builds(
    lambda feature, up, value, peers, share, p, swings, error: Finding(
        feature=feature,
        side="above" if up else "below",
        strength=strength_of(p),
        value=value,
        error=error,
        middle=value - 1.0 if up else value + 1.0,
        peers=peers,
        beyond=int(np.ceil(0.8 * peers + share * 0.2 * peers)),
        p=p,
        swings=swings,
    ),
    st.sampled_from(FEATURE_NAMES),
    st.booleans(),
    st.one_of(st.floats(-30, 30), st.sampled_from([0.0, -0.0, 0.0499, -0.0499, 0.127, -0.127])),
    st.integers(5, 400),
    st.floats(0, 1),
    st.one_of(st.floats(1e-9, 0.05), st.sampled_from([0.01, np.nextafter(0.01, 1), 0.0009999])),
    st.integers(1, 12),
    st.one_of(st.none(), st.floats(0.001, 2)),
)


@settings(deadline=None)
@given(FINDINGS, st.sampled_from(["in", "cm"]))
def test_words_number_and_mark_of_a_finding_agree(finding, unit):
    text = words.finding_words(finding, "golfers at this level")
    mark = words.finding_mark(finding)
    assert set(mark) == {"▲" if finding.side == "above" else "▼"}
    assert (len(mark) == 2) == ("Very unusual" in text) == (finding.p <= 0.01)
    if finding.beyond == finding.peers:
        assert f"than all {finding.peers} golfers" in text
    else:
        assert f"than {finding.beyond} of {finding.peers} golfers" in text
    assert ("from 1 swing." in text) == (finding.swings == 1)
    assert ("noise is not known" in text) == (finding.error is None)
    assert words.finding_head(finding, unit)
    assert "p 0.000" not in text
    assert "should" not in text


@settings(deadline=None)
@given(FINDINGS)
def test_the_comparative_goes_with_the_side(finding):
    from reports.phrases import phrase

    text = words.finding_words(finding, "golfers")
    more = phrase(finding.feature).comparative(finding.value, upward=finding.side == "above")
    assert text.startswith(f"{more} than")


@settings(deadline=None)
@given(
    st.floats(-20, 20), st.floats(-20, 20), st.integers(1, 5), st.integers(1, 5),
    st.sampled_from(["sway_top", "tempo", "sway_turn_lead", "lift_rate_max"]),
)  # fmt: skip
def test_words_of_a_change_carry_its_verdict(first, last, before, after, feature):
    change = judge_change(feature, first, last, Spread(2.0, 0.5, 1.0, 0.0), (before, after))
    text = words.change_words(change, "in")
    assert text.startswith(change.verdict.capitalize())
    if change.more_swings is not None:
        assert f"take {change.more_swings} more" in text
    assert "−" not in text  # the way is said in words, as on the sheet


@pytest.mark.parametrize(
    ("feature", "change", "words"),
    [
        ("lift_top", -1.27, "0.5 in lower"),
        ("lift_top", 1.27, "0.5 in higher"),
        ("sway_top", -1.27, "0.5 in away from the target"),
        ("thrust_impact", 1.27, "0.5 in toward the ball"),
        ("sway_travel", -1.27, "0.5 in less"),
        ("sway_turn_lead", 0.05, "0.05 s earlier"),
        ("lift_rate_max_at", -3.0, "3 % earlier"),
        ("tempo", 0.2, "0.20 higher"),
        ("lift_top", -0.01, "0.0 in"),
    ],
)
def test_a_change_is_said_with_its_way(feature, change, words):
    assert change_amount(feature, change, "in") == words


def test_a_change_that_cannot_be_judged_says_so():
    change = judge_change("sway_top", 0.0, 1.0, None, (1, 1))
    assert words.change_words(change, "in").startswith("Cannot be judged")


@settings(deadline=None)
@given(st.integers(1, 300), st.data())
def test_typicality_is_a_count_that_goes_with_its_p(peers, data):
    more = data.draw(st.integers(0, peers))
    p = (peers - more + 1) / (peers + 1)
    place = TypicalityPlace(overall_cm=1.0, more_unusual_than=more, peers=peers, p=p, swings=1)
    text = words.typicality_sentence(place, "golfers")
    if more == peers:
        assert text.startswith(f"More unusual than all {peers}")
    elif more == 0:
        assert text.startswith("Not more unusual than any")
    else:
        assert text.startswith(f"More unusual than {more} of {peers}")
    assert "p 0.000" not in text


def test_nearest_handicap_with_open_ends():
    def said(**changes):
        facts = {
            "handicap": 9.96, "low": 2.04, "high": 18.0, "low_open": False, "high_open": False,
            "golfers": 80,
        }  # fmt: skip
        return words.nearest_sentence(NearestHandicap(**(facts | changes)))

    assert "handicap 10.0 are nearest (90 % interval 2.0 to 18.0, 80 golfers)" in said()
    assert "below +1.5 to" in said(low=-1.5, low_open=True)
    assert "18.0 and above" in said(high_open=True)
    assert said(low_open=True, high_open=True).startswith("No handicap's")


def test_patterns_one_cloud_and_none_fits():
    cloud = PatternPlace(
        names=(), probabilities=(), fit_p=0.4, none_fits=False, reason="One cloud, no types."
    )
    assert words.pattern_sentences(cloud, 1) == (
        "One cloud, no types.",
        "This swing lies within the cloud (p 0.40).",
    )
    assert words.pattern_sentences(cloud, 3)[1].startswith("The mean of the swings lies")
    two = PatternPlace(
        names=("more lift", "less lift"), probabilities=(0.2, 0.8), fit_p=0.4, none_fits=False,
        reason="",
    )  # fmt: skip
    assert words.pattern_sentences(two, 1) == ("Pattern: less lift 80 %; more lift 20 %.",)
    lost = PatternPlace(
        names=("a", "b"), probabilities=(0.5, 0.5), fit_p=0.01, none_fits=True, reason=""
    )
    assert words.pattern_sentences(lost, 1)[0].startswith("None of the patterns fits (p 0.010)")


def part(share, signed, shape):
    return MapPart(
        axis="sway", phase="downswing", distance_cm=float(np.hypot(signed, shape)),
        signed_cm=signed, shape_cm=shape, share_pct=share,
    )  # fmt: skip


def test_the_largest_part_is_told_as_side_or_shape():
    profile = ProfileMap(parts=(part(70.0, -2.54, 1.0), part(30.0, 0.1, 0.2)), overall_cm=1.0)
    text = words.largest_part_sentence(profile, "in")
    assert "70 %" in text
    assert "too far to one side, 1.0 in away from target" in text
    shape = ProfileMap(parts=(part(100.0, 0.1, 1.0),), overall_cm=1.0)
    assert "another shape" in words.largest_part_sentence(shape, "in")
    assert words.signed_words(part(100.0, 0.01, 0.0), "in") == "0.0 in"


def test_look_alikes_are_told_as_a_group():
    one = LookAlike(golfer="Q1", level=None, ball_speed_mps=None, distance=1.0, next_change_cm=-0.5)
    text = words.look_alike_sentence(LookAlikes(group=(one,) * 5), "in")
    assert "Of 5 with a later session" in text
    assert "5 came nearer" in text
    held = LookAlikes(withheld="3 golfers")
    assert words.look_alike_sentence(held, "in").endswith("3 golfers.")
    unseen = LookAlikes(group=(replace(one, next_change_cm=None),) * 5)
    assert "None of them has a later session" in words.look_alike_sentence(unseen, "in")


def test_look_alikes_are_counted_as_their_rows_say():
    changes = (-0.5, -0.05, 0.05, 0.9, None)
    group = tuple(
        LookAlike(golfer="Q1", level=None, ball_speed_mps=None, distance=1.0, next_change_cm=change)
        for change in changes
    )
    rows = [row["change"] for row in alike_rows(LookAlikes(group=group), "in", "mph")]
    assert rows == ["0.2 in nearer", "as before", "as before", "0.4 in farther", "no later session"]
    text = words.look_alike_sentence(LookAlikes(group=group), "in")
    assert "Of 4 with a later session" in text
    assert "1 came nearer" in text
    assert "1 went farther" in text
    assert "2 stayed as before" in text


@given(st.lists(st.floats(0.001, 9.0), min_size=9, max_size=9))
def test_the_nine_shares_shown_add_to_a_hundred(squares):
    total = sum(squares)
    profile = ProfileMap(
        parts=tuple(part(100.0 * one / total, 1.0, 0.0) for one in squares), overall_cm=1.0
    )
    shown = words.whole_shares(profile)
    assert sum(shown) == 100
    assert all(abs(a - one.share_pct) < 1.0 for a, one in zip(shown, profile.parts, strict=True))


def test_panels_draw_bands_under_lines_on_one_scale():
    curve = np.linspace(0, 5, 301) * np.array([[1.0], [-1.0], [0.5]])
    picture = curve_panels(
        [PanelBand(low_cm=curve - 1, high_cm=curve + 1, look="band-90")],
        [PanelLine(curve_cm=curve, look="now")],
        unit="cm", name="test", title="A <title>", description="words",
    )  # fmt: skip
    assert picture.count('class="band-90"') == 3
    assert picture.count('class="now"') == 3
    assert picture.index("band-90") < picture.index('class="now"')
    assert "A &lt;title&gt;" in picture
    same = curve_panels(
        [], [PanelLine(curve_cm=curve, look="now")], unit="in", name="x", title="t",
        description="d",
    )  # fmt: skip
    assert "nan" not in same


def test_a_band_without_numbers_is_not_drawn():
    missing = np.full((3, 301), np.nan)
    picture = curve_panels(
        [PanelBand(low_cm=missing, high_cm=missing, look="own")],
        [PanelLine(curve_cm=np.ones((3, 301)), look="now")],
        unit="cm", name="x", title="t", description="d",
    )  # fmt: skip
    assert 'class="own"' not in picture
    with pytest.raises(ValueError, match="unit"):
        curve_panels([], [], unit="m", name="x", title="t", description="d")
