"""The placement page's words on the whole curve and on golfers of the same handicap."""

import re
from dataclasses import replace

import numpy as np
import pytest

from norms.placement.place import place_swing
from norms.records import FeatureValues, PhaseCurve, Placement
from norms.vocabulary import NODES
from reports.placement_findings import handicap_table, whole_curve_sentences
from reports.placement_page import placement_page


@pytest.fixture(scope="module")
def placed(small_academy, placement) -> Placement:
    """A swing of golfer Q0020, whose sway is far out in the downswing."""
    cohort = small_academy.edition.cell("driver/all").cohort
    values = cohort.curves_cm[cohort.golfers.index("Q0020")].copy()
    values[0, 150:161] += 30.0
    swing = placement.swing
    times = np.interp(np.arange(NODES), [0, 100, 200, 300], [0.5, 1.5, 1.8, 2.6])
    swing = replace(
        swing,
        label=replace(swing.label, golfer="Q0020"),
        curve=PhaseCurve(values_cm=values, times_s=times),
        features=FeatureValues(values={"sway_travel": 9.0, "tempo": 3.0}, missing={}),
    )
    golfer = small_academy.golfers["Q0020"]
    return place_swing(swing, small_academy.edition, golfer=golfer, level="all")


def test_where_and_how_long_the_curve_leaves_the_band_is_said(placed):
    first, second, last = whole_curve_sentences(placed, "cm")
    assert first == (
        "Taken together, the three curves are outside the band for 90 % of peers’ whole curves "
        "for 33 ms in all."
    )
    assert second.startswith(
        "Sway lies above it from 50 % of the downswing to 60 % of the downswing, 33 ms, by up to "
    )
    assert "a single swing leaves it more often" in last


def test_a_curve_that_stays_inside_is_said_to_do_so(placed):
    inside = replace(placed, whole_curve=replace(placed.whole_curve, excursions=(), outside_s=0.0))
    assert "stay inside the band for 90 %" in whole_curve_sentences(inside, "in")[0]


def test_no_band_has_a_reason_and_no_finding_no_sentence(placed):
    few = replace(placed.whole_curve, bands=None, outside_s=None, withheld="7 golfers")
    assert whole_curve_sentences(replace(placed, whole_curve=few), "in") == [
        "No whole-curve band: 7 golfers."
    ]
    assert whole_curve_sentences(replace(placed, whole_curve=None), "in") == []


def test_features_stand_with_z_percentile_interval_and_golfers_near(placed):
    table = handicap_table(placed, "cm")
    assert table["title"] == f"Among golfers of handicap {placed.handicap:.1f}"
    place = placed.by_handicap[0]
    row = table["rows"][0]
    assert row["subject"] == "Forward travel"
    assert row["value"] == "9.0 cm"
    assert row["near"] == f"{place.golfers} golfers"
    low, high = place.percentile_low, place.percentile_high
    assert row["percentile"] == f"{place.percentile:.0f} ({low:.0f} to {high:.0f})"


def test_a_handicap_without_golfers_shows_the_reason_once_and_no_number(placed):
    far = tuple(
        replace(p, z=None, percentile=None, withheld="no centile at handicap 50.0; none near")
        for p in placed.by_handicap
    )
    table = handicap_table(replace(placed, by_handicap=far), "cm")
    assert table["rows"] == []
    assert len(table["withheld"]) == 1
    assert handicap_table(replace(placed, by_handicap=()), "cm") is None


def test_the_page_shows_both(placed):
    text = re.sub(r"<[^>]+>", " ", placement_page(placed, unit="cm"))
    assert "Sway lies above it" in text
    assert f"Among golfers of handicap {placed.handicap:.1f}" in text
