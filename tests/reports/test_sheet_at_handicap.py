"""The sheet gives the percentile among the peers and then that at the golfer's handicap."""

from dataclasses import replace

import pytest

from norms.placement.place_golfer import place_golfer, placing_ground
from norms.records import FeatureValues
from reports.placement_findings import at_handicap, handicap_table
from reports.sheet_page import sheet_page


@pytest.fixture
def placed(small_academy, placement):
    swing = replace(
        placement.swing,
        features=FeatureValues(values={"sway_travel": 8.0, "tempo": 3.0}, missing={}),
    )
    return place_golfer([swing], placing_ground(small_academy.edition), handicap=12.0)


def test_both_percentiles_stand_in_the_row_with_their_intervals(placed):
    page = sheet_page(placed)
    assert "Percentile; then at handicap" in page.replace("\u00a0", " ")
    words = at_handicap(placed.placement, "sway_travel")
    assert words.count(" to ") == 1
    assert words in page


def test_without_a_noise_budget_the_interval_is_said_to_be_of_few_golfers(placed):
    table = handicap_table(placed.placement, "in")
    assert table["holds"] == "few golfers"
    assert "±" in table["rows"][0]["z"]
