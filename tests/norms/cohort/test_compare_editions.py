from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.compare import compare_editions, comparison_document
from norms.cohort.edition import build_edition
from norms.cohort.relabelling import relabelled_moves
from norms.errors import CohortRefused
from norms.records import Cohort


@pytest.fixture
def edition_of(pool_of, golfer):
    def make(name, codes, *, seed=0, shift=0.0, swings=3):
        people = {code: golfer(code) for code in codes}
        pool = pool_of(dict.fromkeys(codes, swings), seed=seed)
        curves = pool.curves_cm + shift * np.sin(np.linspace(0, 3, 301))
        features = pool.features + np.array([shift, 0.0])
        return build_edition(name, replace(pool, curves_cm=curves, features=features), people)

    return make


def codes(first, last):
    return [f"Q{i:04d}" for i in range(first, last)]


def cell(comparison, key="driver/all"):
    return next(one for one in comparison.cells if one.cohort_key == key)


def compare(first, second, **choices):
    return compare_editions(
        first, second, np.random.default_rng(7), **({"relabellings": 999} | choices)
    )


def test_an_edition_against_itself_moves_nothing(edition_of):
    edition = edition_of("spring", codes(0, 40))
    result = compare(edition, replace(edition, name="copy"))
    assert result.same_numbers
    assert all(not one.moved for one in result.cells)
    assert all(move.change == 0 and move.p_value == 1 for move in cell(result).moves)


@pytest.mark.parametrize("second", [(40, 80), (0, 40), (20, 70)])  # others, the same, some of both
def test_a_real_shift_is_found_whoever_the_golfers_are(edition_of, second):
    before = edition_of("spring", codes(0, 40), seed=1)
    after = edition_of("autumn", codes(*second), seed=2, shift=4.0)
    moved = cell(compare(before, after)).moved
    assert {move.subject for move in moved} == {"sway_travel", "sway", "thrust", "lift"}
    median = next(m for m in moved if m.subject == "sway_travel" and m.percent == 50)
    assert median.change == pytest.approx(4.0, abs=1.0)
    assert median.second - median.first == pytest.approx(median.change)
    bands = before.cell("driver/all").bands
    column = bands.feature_names.index("sway_travel")
    low, high = (bands.feature[bands.percents.index(p), column] for p in (25.0, 75.0))
    assert median.of_middle_half == pytest.approx(abs(median.change) / (high - low))


def test_golfers_added_from_elsewhere_are_found(edition_of, pool_of, golfer):
    old, new = codes(0, 40), codes(40, 80)
    people = {code: golfer(code) for code in old + new}
    pool = pool_of(dict.fromkeys(old + new, 3))
    added = np.array([code in new for code in pool.golfers])
    moved_pool = replace(pool, features=pool.features + np.where(added, 5.0, 0.0)[:, None])
    before = build_edition("spring", moved_pool, {code: people[code] for code in old})
    after = build_edition("autumn", moved_pool, people)
    result = cell(compare(before, after))
    assert (result.golfers_first, result.golfers_second, result.golfers_both) == (40, 80, 40)
    assert {move.subject for move in result.moved} >= {"sway_travel", "tempo"}


def test_other_golfers_of_the_same_kind_move_nothing(edition_of):
    before = edition_of("spring", codes(0, 40), seed=1)
    after = edition_of("autumn", codes(40, 90), seed=2)
    assert cell(compare(before, after)).moved == ()


def test_a_curve_says_where_it_moved(edition_of):
    before = edition_of("spring", codes(0, 60), seed=1)
    after = edition_of("autumn", codes(60, 120), seed=2, shift=5.0)
    moves = [m for m in cell(compare(before, after)).moves if m.subject == "lift"]
    assert {m.phase for m in moves} == {"backswing", "downswing", "follow_through"}
    for move in moves:
        low = {"backswing": 0, "downswing": 100, "follow_through": 200}[move.phase]
        assert low < move.node <= low + 100
    assert {m.percent for m in moves} == {5, 10, 25, 50, 75, 90, 95}


def test_more_swings_each_are_pointed_out(edition_of):
    before = edition_of("spring", codes(0, 20), swings=3)
    after = edition_of("autumn", codes(0, 20), swings=9)
    assert (
        "3 swings each in the first edition and 9 in the second"
        in cell(compare(before, after)).note
    )


def test_withheld_and_missing_groups_are_said(edition_of, pool_of, golfer):
    before = edition_of("spring", codes(0, 20))
    people = {code: golfer(code) for code in codes(0, 20)}
    irons = build_edition("irons", pool_of(dict.fromkeys(people, 3), clubs=("iron 7",)), people)
    result = compare(before, irons)
    assert result.cells == ()
    assert "driver/all" in result.only_first
    assert "iron 7/all" in result.only_second
    few = edition_of("few", codes(0, 3))
    assert "withheld" in cell(compare(before, few)).note
    assert cell(compare(before, few)).moves == ()


def test_an_edition_without_golfers_cannot_be_compared(edition_of):
    whole = edition_of("spring", codes(0, 20))
    cells = []
    for one in whole.cells:
        golfers, swings = one.counts
        nobody = Cohort(
            definition=one.cohort.definition,
            golfers=(),
            swing_counts=np.empty(0),
            curves_cm=np.empty((0, 3, 301)),
            feature_names=one.cohort.feature_names,
            features=np.empty((0, 2)),
        )
        cells.append(replace(one, cohort=nobody, golfers=golfers, swings=swings))
    with pytest.raises(CohortRefused, match=r"spring came without its golfers.*adopt"):
        compare(replace(whole, cells=tuple(cells)), whole)


def test_the_same_seed_gives_the_same_comparison_and_no_golfer_is_named(edition_of):
    before = edition_of("spring", codes(0, 30), seed=1)
    after = edition_of("autumn", codes(10, 50), seed=2)
    one, other = (comparison_document(compare(before, after)) for _ in range(2))
    assert one == other
    assert "Q00" not in repr(one)


def test_the_score_is_the_difference_of_means_over_its_spread_under_all_relabellings():
    # Eight golfers in two gatherings of four without overlap: all 70 relabellings by hand.
    from itertools import combinations

    rng = np.random.default_rng(3)
    x = rng.normal(size=(8, 2))
    first = np.arange(8) < 4
    moves = relabelled_moves(x, x, first, ~first, np.random.default_rng(0), 5_000)
    drawn = []
    for chosen in combinations(range(8), 4):
        second = np.isin(np.arange(8), chosen)
        drawn.append(x[second].mean(axis=0) - x[~second].mean(axis=0))
    drawn = np.array(drawn)
    score = (x[~first].mean(axis=0) - x[first].mean(axis=0)) / drawn.std(axis=0)
    np.testing.assert_allclose(moves.score, score)
    largest = np.abs(drawn / drawn.std(axis=0)).max(axis=1)
    exact = [(largest >= abs(s) - 1e-9).mean() for s in score]
    np.testing.assert_allclose(moves.p_value, exact, atol=0.03)


def test_golfers_in_both_are_held_against_themselves():
    rng = np.random.default_rng(4)
    level = rng.normal(0, 100, (30, 1))
    first = level + rng.normal(size=(30, 1))
    everyone = np.full(30, True)
    # A shift far below the spread between golfers is found because golfers are their own measure.
    moves = relabelled_moves(first, first + 1.0, everyone, everyone, rng, 999)
    assert moves.p_value[0] == pytest.approx(0.001)


def test_a_missing_value_counts_on_neither_side():
    rng = np.random.default_rng(5)
    first, second = rng.normal(size=(20, 1)), rng.normal(size=(20, 1)) + 50
    in_first = np.arange(20) < 12
    second[15:] = np.nan
    moves = relabelled_moves(first, second, in_first, ~in_first, rng, 499)
    assert np.isfinite(moves.score).all()
    assert moves.score[0] > 2
