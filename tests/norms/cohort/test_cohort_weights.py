from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.cohort.bands import bands_of
from norms.cohort.coverage import in_order
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.membership import membership_of
from norms.cohort.weights import WeightedMove, weigh_cell, weighted_moves, weights_to
from norms.errors import CohortRefused
from norms.records import Cohort, CohortDefinition, CohortNorms, DatedHandicap, Golfer

DAY = date(2025, 6, 1)
ALL = CohortDefinition(key="driver/all", club="driver")


def person(code, sex="female", handicap=8.0, born=1985, **facts):
    handicaps = () if handicap is None else (DatedHandicap(since=DAY, index=handicap),)
    facts = {"sex": sex, "birth_year": born, "handicaps": handicaps} | facts
    return Golfer(code=code, hand="right", **facts)


def cell_of(codes, values, definition=ALL):
    """A cell whose golfers bring one feature and no curve."""
    cohort = Cohort(
        definition=definition,
        golfers=tuple(sorted(codes)),
        swing_counts=np.ones(len(codes)),
        curves_cm=np.zeros((len(codes), 3, 301)),
        feature_names=("tempo",),
        features=np.asarray(values, dtype=float)[:, None],
    )
    return CohortNorms(cohort=cohort, bands=bands_of(cohort))


def weighed(cell, roster, smallest=5):
    return weigh_cell(cell, roster, DEFAULT_LEVELS, DAY, smallest)


def raked(cell, roster, smallest=5):
    membership = membership_of(cell.cohort, roster, DEFAULT_LEVELS, DAY, smallest)
    return membership, weights_to(membership, "driver", smallest)


@pytest.fixture
def few_women():
    """80 members, half of them women; 10 women and all 40 men were recorded; women swing higher."""
    roster = {f"Q{i:04d}": person(f"Q{i:04d}", "female" if i < 40 else "male") for i in range(80)}
    codes = [f"Q{i:04d}" for i in [*range(10), *range(40, 80)]]
    values = np.r_[5.0 + np.linspace(0, 0.5, 10), np.linspace(2.0, 4.0, 40)]
    return cell_of(codes, values), roster


def test_weights_are_those_computed_by_hand(few_women):
    membership, raking = raked(*few_women)
    # 10 women for 25, 40 men for 25: weights 2.5 and 0.625.
    np.testing.assert_allclose(raking.weights, [2.5] * 10 + [0.625] * 40)
    effect = (10 * 2.5**2 + 40 * 0.625**2) / 50  # Kish (1965)
    assert raking.design_effect == pytest.approx(effect)
    found = weighed(*few_women)
    assert found.design_effect == round(effect, 2) == 1.56
    assert found.effective_golfers == 32.0
    assert [(one.categories, one.membership, one.cohort) for one in found.margins] == [
        (("female",), 0.5, 0.2),
        (("male",), 0.5, 0.8),
    ]
    assert (membership.members, membership.reached, found.reach) == (80, 80, 1.0)


def test_a_percentile_moves_to_where_the_missing_would_have_brought_it(few_women):
    cell, roster = few_women
    moves = {move.percent: move for move in weighted_moves(weighed(cell, roster), cell.bands)}
    # Half of the members swing above 5 and half below 4.
    assert moves[50.0].plain < 3.5
    assert 3.5 < moves[50.0].weighted < 5.1
    assert moves[75.0].weighted > 5.0
    assert moves[75.0].beyond_interval
    assert moves[75.0].share_of_interval > 0.5
    for move in moves.values():
        assert move.weighted_low <= move.weighted <= move.weighted_high


def test_the_membership_counts_who_did_not_agree_and_who_was_not_recorded():
    roster = {f"Q{i:04d}": person(f"Q{i:04d}", "female" if i < 10 else "male") for i in range(30)}
    roster |= {
        f"Q{i:04d}": person(f"Q{i:04d}", "female", consents_norms=False) for i in range(30, 40)
    }
    cell = cell_of([f"Q{i:04d}" for i in range(5, 25)], np.arange(20.0))
    found = weighed(cell, roster)
    assert [(one.membership, one.cohort) for one in found.margins] == [(0.5, 0.25), (0.5, 0.75)]


def test_who_moved_on_since_counts_as_a_member():
    to_12 = replace(ALL, key="driver/to_12", level=DEFAULT_LEVELS[2])
    roster = {f"Q{i:04d}": person(f"Q{i:04d}", "female" if i < 5 else "male") for i in range(12)}
    roster["Q0005"] = person("Q0005", "male", handicap=3.0)
    cell = cell_of(list(roster), np.arange(12.0), to_12)
    membership, raking = raked(cell, roster)
    assert membership.members == membership.reached == 12
    assert [margin.name for margin in membership.margins] == ["sex"]
    np.testing.assert_allclose(raking.weights, 1.0)


def test_no_weight_brings_back_who_is_missing_and_the_others_are_weighed():
    roster = {f"Q{i:04d}": person(f"Q{i:04d}", "female" if i < 20 else "male") for i in range(40)}
    roster |= {f"Q{i:04d}": person(f"Q{i:04d}", "male", handicap=40.0) for i in range(40, 50)}
    cell = cell_of([f"Q{i:04d}" for i in range(10, 40)], np.arange(30.0))
    found = weighed(cell, roster)
    assert [(one.margin, one.category) for one in found.absent] == [("level", "above_36")]
    assert found.reach == 0.8
    assert found.not_weighed == ("level",)
    # Women and men among the 40 who are reached, not among all 50.
    assert [one.membership for one in found.margins] == [0.5, 0.5]


def test_few_of_a_kind_are_taken_together_with_their_neighbour():
    handicaps = [3.0] * 10 + [8.0] * 3 + [15.0] * 10 + [None] * 4
    roster = {f"Q{i:04d}": person(f"Q{i:04d}", handicap=h) for i, h in enumerate(handicaps)}
    membership, _ = raked(cell_of(list(roster), np.arange(27.0)), roster)
    (margin,) = membership.margins
    assert margin.kinds == (("to_5", "to_12"), ("to_20", "none"))


def test_a_cell_of_one_kind_is_refused_with_the_number_that_was_asked_for():
    roster = {f"Q{i:04d}": person(f"Q{i:04d}", "female" if i < 4 else "male") for i in range(12)}
    cell = cell_of(list(roster), np.arange(12.0))
    with pytest.raises(CohortRefused, match="does not hold 5 golfers of each of two"):
        weighed(cell, roster)


def test_margins_that_no_weights_can_meet_are_refused():
    # Every recorded woman is young and every man old, the members are mixed.
    roster = {}
    for i in range(60):
        sex = "female" if i % 2 else "male"
        young = (i % 2 == 1) if i < 30 else (i % 3 == 0)
        roster[f"Q{i:04d}"] = person(f"Q{i:04d}", sex, born=2000 if young else 1950)
    cell = cell_of([f"Q{i:04d}" for i in range(30)], np.arange(30.0))
    with pytest.raises(CohortRefused, match="no weights bring every margin to the membership"):
        weighed(cell, roster)


def test_shares_are_in_whole_percents_so_that_no_count_of_members_left_out_can_be_had(few_women):
    cell, roster = few_women
    less = {code: one for code, one in roster.items() if code not in ("Q0037", "Q0038", "Q0039")}
    found = weighed(cell, less)
    assert [one.membership for one in found.margins] == [0.48, 0.52]  # 37 and 40 of 77


def test_numbers_moved_by_weights_are_no_golfers_own(few_women):
    cell, roster = few_women
    own = cell.cohort.features[:, 0]
    moved = [m for m in weighted_moves(weighed(cell, roster), cell.bands) if m.weighted != m.plain]
    assert len(moved) >= 3
    assert np.abs(own[:, None] - [move.weighted for move in moved]).min() > 1e-6


people = st.lists(
    st.tuples(
        st.sampled_from(["female", "male", None]),
        st.sampled_from([-1.0, 3.0, 8.0, 15.0, 30.0, None]),
        st.sampled_from([2010, 1995, 1980, 1970, 1955, None]),
        st.booleans(),
    ),
    min_size=30,
    max_size=90,
)


@given(people)
def test_after_weighing_every_margin_is_that_of_the_members_reached(facts):
    roster = {
        f"Q{i:04d}": person(f"Q{i:04d}", sex, handicap, born)
        for i, (sex, handicap, born, _) in enumerate(facts)
    }
    codes = [code for code, (*_, here) in zip(roster, facts, strict=True) if here]
    if len(codes) < 5:
        return
    cell = cell_of(codes, np.arange(float(len(codes))))
    try:
        membership, raking = raked(cell, roster)
    except CohortRefused:
        return
    assert raking.weights.mean() == pytest.approx(1.0)
    assert (raking.weights > 0).all()
    for margin in membership.margins:
        assert np.bincount(margin.cohort).min() >= 5
        weighted = np.bincount(margin.cohort, raking.weights) / raking.weights.sum()
        np.testing.assert_allclose(weighted, margin.shares(margin.members), atol=1e-8)


@given(people)
def test_a_cohort_that_is_the_membership_keeps_weights_of_one_and_moves_nothing(facts):
    roster = {
        f"Q{i:04d}": person(f"Q{i:04d}", sex, handicap, born)
        for i, (sex, handicap, born, _) in enumerate(facts)
    }
    cell = cell_of(list(roster), np.random.default_rng(len(facts)).normal(size=len(facts)))
    try:
        found = weighed(cell, roster)
    except CohortRefused:
        return
    assert (found.design_effect, found.effective_golfers) == (1.0, len(facts))
    for move in weighted_moves(found, cell.bands):
        assert (move.weighted, move.weighted_low) == (move.plain, move.plain_low)
        assert move.weighted_high == move.plain_high
        assert not move.beyond_interval


def test_a_move_from_an_interval_of_no_width_is_infinitely_large():
    move = WeightedMove(
        feature="tempo", percent=50.0, plain=3.0, plain_low=3.0, plain_high=3.0,
        weighted=3.1, weighted_low=3.0, weighted_high=3.2,
    )  # fmt: skip
    assert move.share_of_interval == np.inf
    assert replace(move, weighted=3.0).share_of_interval == 0.0


def test_kinds_stand_from_the_best_player_down_and_by_age():
    assert in_order("level", ["none", "to_12", "scratch", "professional"], DEFAULT_LEVELS) == (
        "professional", "scratch", "to_12", "none",
    )  # fmt: skip
    assert in_order("age", ["unknown", "65 and over", "under 18", "35 to 49"], ()) == (
        "under 18", "35 to 49", "65 and over", "unknown",
    )  # fmt: skip
