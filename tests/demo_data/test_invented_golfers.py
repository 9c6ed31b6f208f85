"""Who the invented golfers are, how their swings vary, and the truth behind ball speed."""

from collections import Counter, defaultdict
from datetime import date

import numpy as np
import pytest

from demo_data.academy import invent_academy
from demo_data.ball_speed import BALL_SPEED
from demo_data.people import LEVELS, PATTERNS, levels_for
from demo_data.tables import handicap_text
from norms.synthetic import true_features


@pytest.fixture(scope="module")
def golfers():
    return invent_academy()


@pytest.fixture(scope="module")
def swings(golfers):
    return [(golfer, swing) for golfer in golfers for swing in golfer.swings]


def level_of(golfer, day):
    if golfer.professional:
        return "professional"
    index = golfer.handicap_on(day)
    if index is None:
        return "none"
    limits = {"to_0": 0, "to_5": 5, "to_12": 12, "to_20": 20, "to_36": 36}
    return next((key for key, limit in limits.items() if index <= limit), "above")


def test_the_golfers_are_as_various_as_promised(golfers):
    people = [one.person.golfer for one in golfers]
    assert len(people) == 300
    assert len({one.code for one in people}) == 300
    assert min(Counter(one.sex for one in people).values()) > 90
    assert 0.05 < np.mean([one.hand == "left" for one in people]) < 0.12
    ages = [2026 - one.birth_year for one in people]
    assert min(ages) < 16
    assert max(ages) > 70
    assert 1 <= sum(not one.consents_norms for one in people) <= 10
    assert all(one.consents_norms or one.birth_year > 2007 for one in people)
    assert any(one.height_cm is None for one in people)
    indices = [entry.index for one in people for entry in one.handicaps]
    assert min(indices) < -2
    assert 40 < max(indices) <= 54
    assert not any(one.handicaps for one in people if one.professional)


def test_cells_of_club_and_level_run_from_well_filled_to_thin(swings):
    cells = defaultdict(set)
    for golfer, swing in swings:
        level = level_of(golfer.person.golfer, swing.recorded_on)
        cells[swing.club, level].add(swing.golfer)
    sizes = sorted(len(cell) for cell in cells.values())
    assert len(cells) == 2 * len(LEVELS)
    assert sizes[0] < 5
    assert sizes[-1] >= 60
    assert sum(size >= 25 for size in sizes) >= 10


def test_every_golfer_swings_4_to_12_times_on_several_days_of_two_seasons(golfers, swings):
    for golfer in golfers:
        assert 4 <= len(golfer.swings) <= 12
        assert len({swing.recorded_on for swing in golfer.swings}) >= 2
        assert {swing.recorded_on.year for swing in golfer.swings} == {2025, 2026}
    assert max(swing.recorded_on for _, swing in swings) <= date(2026, 10, 31)
    assert {swing.club for _, swing in swings} == {"driver", "iron 7"}
    assert min(Counter(swing.lab for _, swing in swings).values()) > 1000
    assert len({swing.code for _, swing in swings}) == len(swings)


def test_handicaps_are_known_before_the_first_swing_and_some_golfers_change_level(golfers):
    changed = 0
    for golfer in golfers:
        one = golfer.person.golfer
        if not one.handicaps:
            continue
        days = [swing.recorded_on for swing in golfer.swings]
        assert one.handicap_on(min(days)) is not None
        assert [entry.since for entry in one.handicaps] == sorted(e.since for e in one.handicaps)
        changed += len({level_of(one, day) for day in days}) > 1
    assert changed >= 15


def test_levels_of_a_small_academy_are_shared_out_too():
    drawn = levels_for(20, np.random.default_rng(1))
    assert len(drawn) == 20
    assert {"to_12", "to_20", "to_36"} <= set(drawn)


def test_swings_look_like_swings_by_common_practice(swings):
    # Common practice, no published source: about 2 in back, 4 to 6 in forward for the best and
    # less for weak players, about 1 in of thrust, tempo near 3 to 1, lowest just after the top.
    drivers = [
        (s.ability, true_features(s.parameters, rate_hz=500.0))
        for _, s in swings
        if s.club == "driver"
    ]
    assert all(len(features) == 29 for _, features in drivers)

    def median(name, lowest=-99.0, highest=99.0):
        values = [f[name] for ability, f in drivers if lowest <= ability <= highest]
        return float(np.median(values))

    assert -2.5 < median("sway_back") / 2.54 < -1.5
    assert 4 < median("sway_travel", highest=5.0) / 2.54 < 6
    assert 2 < median("sway_travel", lowest=20.0) / 2.54 < 4
    assert 0.7 < median("thrust_back_max") / 2.54 < 1.5
    assert median("thrust_sit_back") < 0 < median("thrust_late_rise")
    assert 2.7 < median("tempo") < 3.3
    assert 0.7 < median("backswing_time") < 0.9
    assert 0.0 < median("lift_low_after_top") < 0.08
    assert 0.0 < median("sway_turn_lead") < 0.15
    assert median("lift_low") < 0 < median("lift_rise")
    assert median("lift_after") < 0


def test_golfers_differ_more_than_their_own_swings(golfers):
    groups = [
        np.array([s.model_features["sway_travel"] for s in one.swings if s.club == "driver"])
        for one in golfers
    ]
    groups = [group for group in groups if len(group) > 1]
    within = np.mean([group.var(ddof=1) for group in groups])
    total = np.var([group[0] for group in groups], ddof=1)
    assert 0.6 < 1 - within / total < 0.92


def test_patterns_shift_the_features_they_are_about(golfers):
    travel = {pattern: [] for pattern in PATTERNS}
    for one in golfers:
        travel[one.pattern].extend(s.model_features["sway_travel"] for s in one.swings)
    assert min(len(values) for values in travel.values()) > 100
    mean = {pattern: np.mean(values) for pattern, values in travel.items()}
    assert mean["shifting"] > mean["rising"] + 3
    assert mean["shifting"] > mean["sitting"] + 3


def regression(swings, feature_columns, outcome):
    """Least squares of ball speed on what is known of the golfer, plus columns of features."""
    known = [
        (
            1.0,
            golfer.person.golfer.sex == "female",
            swing.club == "iron 7",
            swing.ability,
            golfer.person.height_cm - 172,
            max(0, golfer.person.age_on(swing.recorded_on) - 45),
            max(0, 17 - golfer.person.age_on(swing.recorded_on)),
        )
        for golfer, swing in swings
    ]
    design = np.column_stack([np.array(known, dtype=float), feature_columns])
    return np.linalg.lstsq(design, outcome, rcond=None)[0]


@pytest.fixture(scope="module")
def parts(swings):
    """Features as they are, and split into the golfer's mean with the club and the rest."""
    names = tuple(BALL_SPEED.centre)
    raw = np.array([[swing.model_features[name] for name in names] for _, swing in swings])
    key = np.array([f"{swing.golfer}/{swing.club}" for _, swing in swings])
    mean = np.empty_like(raw)
    for one in np.unique(key):
        mean[key == one] = raw[key == one].mean(axis=0)
    return names, raw, raw - mean, mean - np.array([BALL_SPEED.centre[name] for name in names])


def test_within_and_between_parts_recover_the_coefficients_exactly_without_noise(swings, parts):
    names, _, within, between = parts
    outcome = np.array([swing.ball_expected_mps for _, swing in swings])
    found = regression(swings, np.column_stack([within, between]), outcome)
    expected = [
        BALL_SPEED.base,
        BALL_SPEED.female,
        BALL_SPEED.iron,
        BALL_SPEED.per_stroke,
        BALL_SPEED.per_cm_height,
        BALL_SPEED.per_year_over_45,
        BALL_SPEED.per_year_under_17,
        *(BALL_SPEED.within[name] for name in names),
        *(BALL_SPEED.between[name] for name in names),
    ]
    np.testing.assert_allclose(found, expected, atol=1e-6)


def test_pooling_swings_misleads_where_splitting_them_does_not(swings, parts):
    names, raw, within, between = parts
    outcome = np.array([swing.ball_mps for _, swing in swings])
    pooled = dict(zip(names, regression(swings, raw, outcome)[7:], strict=True))
    split = regression(swings, np.column_stack([within, between]), outcome)[7:]
    inside = dict(zip(names, split[: len(names)], strict=True))
    # The one that reverses, and the one that only tells golfers apart.
    assert pooled["thrust_late_rise"] < -0.2
    assert inside["thrust_late_rise"] == pytest.approx(
        BALL_SPEED.within["thrust_late_rise"], abs=0.2
    )
    assert pooled["lift_rise"] > 0.2
    assert inside["lift_rise"] == pytest.approx(0.0, abs=0.15)


def test_speeds_are_speeds_of_golf(swings):
    club = np.array([swing.club_mps for _, swing in swings if swing.club == "driver"])
    assert 38 < np.median(club) < 47
    assert club.min() > 20
    assert club.max() < 60
    for _, swing in swings[:50]:
        assert swing.parameters.club_speed_mps == swing.club_mps
        assert 1.2 < swing.ball_mps / swing.club_mps < 1.55


def test_plus_handicaps_are_written_with_a_plus():
    assert [handicap_text(index) for index in (-2.4, 0.0, 12.0)] == ["+2.4", "0.0", "12.0"]
