from dataclasses import replace

import numpy as np
import pytest

from norms.errors import CohortRefused
from norms.placement.cautions import ONE_SWING
from norms.placement.golfer_document import COLUMNS, feature_rows, golfer_document
from norms.placement.golfer_mean import mean_of_swings
from norms.placement.place_golfer import NO_NOISE, ONE_DAY, place_golfer, placing_ground


def rows_of(ground, golfer):
    return [row for row, code in enumerate(ground.pool.golfers) if code == golfer]


@pytest.fixture(scope="module")
def one(ground, swing_at):
    return place_golfer(
        [swing_at(0)], ground.placing, golfer=ground.roster["Q0000"], level="all",
        history=ground.history,
    )  # fmt: skip


@pytest.fixture(scope="module")
def several(ground, swing_at):
    swings = [swing_at(row) for row in rows_of(ground, "Q0000")]
    return place_golfer(
        swings, ground.placing, golfer=ground.roster["Q0000"], level="all", history=ground.history
    )


def test_own_swings_are_left_out_of_every_comparison(one):
    assert one.placement.left_out
    assert one.placement.peers == 59
    assert one.typicality.peers == 59
    assert "Q0000" not in {alike.golfer for alike in one.look_alikes.group}


def test_nine_shares_add_to_a_hundred_and_overall_is_their_root_mean_square(one):
    assert len(one.map.parts) == 9
    assert sum(part.share_pct for part in one.map.parts) == pytest.approx(100.0)
    squares = [part.distance_cm**2 for part in one.map.parts]
    assert one.map.overall_cm == pytest.approx(np.sqrt(np.mean(squares)))
    assert one.typicality.overall_cm == pytest.approx(one.map.overall_cm)
    assert one.map.overall_detectable_cm > 0


def test_more_swings_make_every_interval_and_detectable_change_smaller(one, several):
    for alone, together in zip(one.places, several.places, strict=True):
        assert together.error < alone.error
    assert several.map.overall_detectable_cm < one.map.overall_detectable_cm
    widths = [
        np.mean([place.high - place.low for place in sheet.places]) for sheet in (one, several)
    ]
    assert widths[1] < widths[0]


def test_percentile_lies_in_its_interval_and_is_the_count(one):
    for feature, place in zip(one.placement.features, one.places, strict=True):
        assert place.low <= place.percentile <= place.high
        assert place.percentile == pytest.approx(feature.percentile)
        # The interval of few golfers alone lies within that of both.
        assert place.high - place.low >= feature.percentile_high - feature.percentile_low - 15


def test_typicality_is_said_as_a_count_that_fits_its_p(one):
    found = one.typicality
    n = found.peers
    assert found.p == pytest.approx((n - found.more_unusual_than + 1) / (n + 1))
    assert found.p >= 1 / (n + 1)


def test_a_swing_of_another_kind_is_unusual_fits_nothing_and_has_findings(ground, swing_at):
    odd = swing_at(0, golfer="Q9999", shift_cm=40.0)
    far = dict.fromkeys(odd.features.values, 50.0)
    odd = replace(odd, features=replace(odd.features, values=far))
    place = place_golfer([odd], ground.placing, level="all")
    assert place.typicality.p == pytest.approx(1 / 61)
    assert place.typicality.more_unusual_than == 60
    assert place.pattern.none_fits
    assert 1 <= len(place.findings) <= 3
    assert all(finding.strength == "very unusual" for finding in place.findings)
    assert place.map.index < 90


def test_several_swings_are_not_warned_as_one(one, several):
    assert ONE_SWING in one.placement.cautions
    assert ONE_SWING not in several.placement.cautions
    assert several.days == 2


def test_several_swings_of_one_day_are_told_so(ground, swing_at):
    rows = rows_of(ground, "Q0003")[:3]
    place = place_golfer([swing_at(row) for row in rows], ground.placing, level="all")
    assert place.days == 1
    assert ONE_DAY in place.placement.cautions


def test_without_a_noise_budget_the_interval_says_what_it_holds(ground, swing_at):
    plain = placing_ground(ground.edition)
    place = place_golfer([swing_at(0)], plain, level="all")
    assert NO_NOISE in place.placement.cautions
    assert {one.holds for one in place.places} == {"few golfers only"}


def test_an_edition_without_shapes_still_places_features(ground, swing_at):
    bare = placing_ground(replace(ground.edition, annexes=()))
    place = place_golfer([swing_at(0)], bare, level="all")
    assert place.typicality is None
    assert place.pattern is None
    assert place.nearest is None
    assert place.map is not None
    assert place.map.index is None


def test_a_level_of_few_golfers_shows_nothing_of_them(ground, swing_at):
    place = place_golfer([swing_at(0, golfer="Q9999")], ground.placing, handicap=53.0)
    assert place.placement.withheld is not None
    assert place.map is None
    assert place.findings == ()
    assert all(one.percentile is None and one.p is None for one in place.places)


def test_nearest_handicap_has_an_interval_around_it(one):
    nearest = one.nearest
    assert nearest.low <= nearest.handicap <= nearest.high


def test_document_is_plain_and_rows_hold_value_and_range(one):
    import json

    document = golfer_document(one, curves=False)
    json.dumps(document, allow_nan=False)
    rows = feature_rows(one)
    assert tuple(rows[0]) == COLUMNS
    assert rows[0]["value"] == one.placement.features[0].value
    assert rows[0]["peers_median"] == one.placement.features[0].peers_median


def test_mean_of_swings_is_the_mean(ground, swing_at):
    rows = rows_of(ground, "Q0001")
    mean = mean_of_swings([swing_at(row) for row in rows])
    np.testing.assert_allclose(mean.swing.curve.values_cm, ground.pool.curves_cm[rows].mean(axis=0))
    assert mean.codes == tuple(sorted(ground.pool.swings[row] for row in rows))


def test_swings_of_two_golfers_are_refused(swing_at):
    with pytest.raises(CohortRefused, match="several golfers"):
        mean_of_swings([swing_at(0), swing_at(0, golfer="Q9999")])
    with pytest.raises(CohortRefused, match="no swing to place"):
        mean_of_swings([])
