import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.records.golfer_place import SurePlace
from norms.swing.catalogue import FEATURE_NAMES
from reports.phrases import PHRASES, brief, phrase
from reports.sentences import (
    STANDING_CAUTIONS,
    count_words,
    outside_range,
    peers_summary,
    percentile_words,
    range_words,
    value_words,
    withheld_sentence,
)

JUDGEMENTS = re.compile(
    r"\b(should|must|good|bad|better|worse|best|wrong|correct|ideal|too|poor|fault|normal|ought)\b"
)
tenths = st.integers(-80, 80).map(lambda value: value / 10.0)


def test_every_feature_of_the_catalogue_has_its_own_words():
    assert set(PHRASES) == set(FEATURE_NAMES)


def test_a_place_is_a_count_first(make_place):
    place = make_place("sway_travel", 10.4, [*np.linspace(6.6, 10.3, 17), 10.5, 11.0, 12.0])
    assert value_words("sway_travel", 10.4, "in") == "4.1 in"
    assert count_words(place, "golfers at this level") == "more than 17 of 20 golfers at this level"


@pytest.mark.parametrize(
    ("feature", "value", "words"),
    [
        ("sway_back", -5.1, "2.0 in away from the target"),
        ("sway_impact", 5.1, "2.0 in toward the target"),
        ("thrust_sit_back", -1.0, "0.4 in away from the ball"),
        ("lift_top", -2.5, "1.0 in below address"),
        ("lift_top", 0.01, "0.0 in"),
        ("lift_top", -0.01, "0.0 in"),
        ("sway_turn_lead", 0.08, "0.08 s before the top"),
        ("sway_turn_lead", -0.05, "0.05 s after the top"),
        ("lift_low_after_top", -0.001, "at the top"),
        ("turn_order", -0.03, "0.03 s before sway turns"),
        ("sway_rate_max_at", 62.0, "62 % into the downswing"),
        ("sway_travel", -1.0, "−0.4 in"),
    ],
)
def test_signs_are_spoken(feature, value, words):
    assert value_words(feature, value, "in") == words


@pytest.mark.parametrize(
    ("feature", "low", "high", "words"),
    [
        ("sway_back", -7.4, -3.0, "1.2 to 2.9 in away from the target"),
        ("sway_top", -1.0, 3.0, "0.4 in away from the target to 1.2 in toward the target"),
        ("sway_top", -1.0, 0.01, "0.0 to 0.4 in away from the target"),
        ("sway_top", -0.01, 3.0, "0.0 to 1.2 in toward the target"),
        ("sway_travel", 7.4, 11.7, "2.9 to 4.6 in"),
        ("lift_low_after_top", -0.02, 0.03, "0.02 s before the top to 0.03 s after the top"),
    ],
)
def test_ranges_are_spoken(feature, low, high, words):
    assert range_words(feature, low, high, "in") == words


@given(st.sampled_from(FEATURE_NAMES), tenths, st.lists(tenths, min_size=10, max_size=40))
def test_the_count_said_is_the_count_of_peers(make_place, feature, value, peers):
    place = make_place(feature, value, peers)
    below = sum(peer < value for peer in peers)
    above = sum(peer > value for peer in peers)
    words = count_words(place, "golfers at this level")
    if below == above:
        assert words.startswith(("the same as all", "in the middle of"))
        return
    comparative = phrase(feature).comparative(value, upward=below > above)
    said = re.fullmatch(
        rf"{re.escape(comparative)} than (?:all (\d+)|(\d+) of (\d+)) golfers at this level"
        r"(?:, the same as (\d+))?",
        words,
    )
    assert said
    everyone, count, total, same = said.groups()
    assert int(everyone or count) == max(below, above)
    assert int(everyone or total) == len(peers)
    assert (everyone is not None) == (max(below, above) == len(peers))
    assert int(same or 0) == len(peers) - below - above


@given(tenths.filter(bool), st.lists(tenths, min_size=11, max_size=20, unique=True))
def test_directed_comparatives_agree_with_distances_on_the_values_own_side(
    make_place, value, peers
):
    words = count_words(make_place("sway_top", value, [peer for peer in peers if peer != value]))
    if words.startswith(("in the middle", "the same")):
        return
    side = "toward the target" if value > 0 else "away from the target"
    assert side in words
    count = int(re.search(r"(\d+)", words).group(1))
    others = [peer * np.sign(value) for peer in peers if peer != value]
    nearer = sum(other < abs(value) for other in others)
    farther = len(others) - nearer
    assert count == (nearer if words.startswith("farther") else farther)


@pytest.mark.parametrize("unit", ["in", "cm"])
def test_words_of_a_place_describe_and_never_judge(make_placement, unit):
    placed = [one for one in make_placement(peers=41).features if one.percentile is not None]
    assert placed
    for place in placed:
        for words in (count_words(place), peers_summary(place, unit)):
            assert not JUDGEMENTS.search(words), words


def test_cautions_name_the_target_the_cause_the_load_and_the_young():
    text = " ".join(STANDING_CAUTIONS)
    for words in ("not a target", "not cause", "physiotherapist", "qualified coach"):
        assert words in text


def test_without_a_percentile_there_is_no_count(make_place):
    with pytest.raises(ValueError, match="no place"):
        count_words(make_place("sway_travel", 10.0, [1.0, 2.0, 3.0]))


def test_ties_with_all_and_the_middle_are_told_apart(make_place):
    assert count_words(make_place("tempo", 3.0, [3.0] * 12)) == "the same as all 12"
    middle = make_place("tempo", 3.0, [2.0] * 5 + [3.0] * 2 + [4.0] * 5)
    assert count_words(middle, "peers") == "in the middle of 12 peers, 5 on either side"
    assert count_words(make_place("tempo", 9.0, range(12))).endswith(
        "higher than 9 of 12, the same as 1"
    )


def test_a_percentile_is_never_shown_without_its_interval():
    sure = SurePlace(
        feature="tempo", percentile=20.0, low=8.0, high=41.0, holds="few swings and few golfers",
        error=0.1, p=0.4,
    )  # fmt: skip
    assert percentile_words(sure) == "20 (8 to 41)"
    assert percentile_words(replace(sure, low=None)) is None


def test_the_summary_keeps_the_median_on_its_side(make_place):
    away = make_place("sway_back", -3.0, -np.linspace(2.54, 7.62, 21))
    assert peers_summary(away, "in") == "1.2 to 2.8 in away from the target, median 2.0"
    across = make_place("sway_top", -3.0, np.linspace(-5.08, 7.62, 21))
    assert peers_summary(across, "in").endswith("median 0.5 in toward the target")


def test_a_value_is_outside_only_where_it_lies_beyond_the_shown_range(make_place):
    inside = replace(make_place("tempo", 3.0, range(20)), peers_low=1.0)
    assert not outside_range(inside)
    assert outside_range(make_place("sway_travel", 18.5, range(20)))


def test_a_withheld_placement_says_why(placement, withheld_placement):
    assert withheld_sentence(placement) == ""
    assert withheld_sentence(withheld_placement) == (
        "No place among peers is given: 3 golfers, at least 5 are needed."
    )


def test_brief_words_drop_what_the_heading_says():
    assert brief("2.0 in away from the target") == "2.0 in away"
    assert brief("1.0 in toward the ball") == "1.0 in toward"
    assert brief("1.0 in below address") == "1.0 in below"
    assert brief("0.02 s after the top") == "0.02 s after the top"
