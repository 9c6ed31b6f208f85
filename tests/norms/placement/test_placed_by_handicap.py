from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.annex_contents import club_centiles
from norms.cohort.centiles import place_by_handicap
from norms.placement.by_handicap import place_features_by_handicap
from norms.placement.document import placement_document
from norms.placement.place import place_swing
from norms.records import FeatureValues, Golfer


@pytest.fixture
def newcomer(swing_of):
    def make(code="Q9999", club="driver", **values):
        swing = swing_of(code, club=club)
        given = {"sway_travel": 8.0, "tempo": 3.0} | values
        missing = {"lift_rise": "no rise"}
        return replace(swing, features=FeatureValues(values=given, missing=missing))

    return make


def test_features_are_placed_among_golfers_of_the_same_handicap(small_academy, newcomer):
    swing = newcomer()
    places = {
        p.name: p for p in place_features_by_handicap(swing, small_academy.edition, 12.0, None)
    }
    assert set(places) == {"sway_travel", "tempo"}
    centiles = club_centiles(small_academy.edition)["driver"].features["sway_travel"]
    straight = place_by_handicap(centiles, 8.0, 12.0)
    assert places["sway_travel"] == straight
    assert 0 < straight.percentile_low < straight.percentile < straight.percentile_high < 100
    assert straight.golfers >= 20


def test_the_same_value_is_farther_out_where_it_is_rarer(small_academy, newcomer):
    z = [
        place_features_by_handicap(newcomer(), small_academy.edition, handicap, None)[0].z
        for handicap in (6.0, 14.0, 22.0)
    ]
    assert z == sorted(z)


def test_where_no_golfers_are_the_nearest_range_is_named(small_academy, newcomer):
    place = place_features_by_handicap(newcomer(), small_academy.edition, 50.0, None)[0]
    assert place.percentile is None
    assert "the nearest range with enough is" in place.withheld


def test_a_golfer_behind_the_centiles_is_taken_out_of_them(small_academy, newcomer):
    edition = small_academy.edition
    far_out = newcomer("Q0050")
    far_out = replace(far_out, features=FeatureValues(values={"lift_rise": 18.0}, missing={}))
    handicap = edition.evidence["handicaps"]["driver"]["Q0050"]
    within = place_by_handicap(
        club_centiles(edition)["driver"].features["lift_rise"], 18.0, handicap
    )
    (without,) = place_features_by_handicap(
        far_out, edition, handicap, small_academy.golfers["Q0050"]
    )
    assert without.z > within.z


def test_without_a_handicap_or_without_centiles_nothing_is_placed(small_academy, newcomer):
    edition = small_academy.edition
    assert place_features_by_handicap(newcomer(), edition, None, None) == ()
    assert place_features_by_handicap(newcomer(club="putter"), edition, 10.0, None) == ()
    assert place_features_by_handicap(newcomer(), replace(edition, annexes=()), 10.0, None) == ()


def test_centiles_that_depend_on_sex_are_withheld_where_it_is_unknown(small_academy, newcomer):
    pool = small_academy.pool
    women = np.array([small_academy.golfers[code].sex == "female" for code in pool.golfers])
    features = pool.features.copy()
    features[women, 0] += 4.0
    edition = replace(small_academy, pool=replace(pool, features=features)).build()
    swing = newcomer()
    (place,) = (
        p for p in place_features_by_handicap(swing, edition, 12.0, None) if p.name == "sway_travel"
    )
    assert "sex" in place.withheld
    placed = [
        place_features_by_handicap(
            swing, edition, 12.0, Golfer(code="Q9999", hand="right", sex=sex, birth_year=1980)
        )[0].z
        for sex in ("female", "male")
    ]
    assert placed[0] < placed[1]


def test_a_placement_and_its_document_carry_both(small_academy, newcomer):
    golfer = small_academy.golfers["Q0020"]
    placement = place_swing(newcomer("Q0020"), small_academy.edition, golfer=golfer)
    assert placement.whole_curve.peers == placement.peers
    assert {place.name for place in placement.by_handicap} == {"sway_travel", "tempo"}
    document = placement_document(placement)
    assert document["whole_curve"]["excursions"]
    assert len(document["whole_curve"]["band_cm"]["low"]["sway"]) == 301
    assert document["by_handicap"][0]["golfers_near"] >= 20
    assert "band_cm" not in placement_document(placement, curves=False)["whole_curve"]


def test_an_edition_without_annexes_places_as_before(small_academy, newcomer):
    edition = small_academy.edition
    plain = replace(
        edition,
        annexes=(),
        parameters={k: v for k, v in edition.parameters.items() if k != "annexes"},
    )
    placement = place_swing(newcomer(), plain)
    assert placement.whole_curve is None
    assert placement.by_handicap == ()
    assert "whole_curve" not in placement_document(placement)
