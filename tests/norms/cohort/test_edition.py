from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.cohort.edition import build_edition, verify_edition
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.roll import NO_CONSENT, NOT_ON_ROSTER
from norms.errors import CohortRefused
from norms.records import Golfer, SwingPool

CODES = [f"Q{i:04d}" for i in range(60)]


@pytest.fixture
def people(golfer):
    return {
        code: golfer(code, handicap=[-1.0, 3.0, 8.0, 15.0, None][i % 5])
        for i, code in enumerate(CODES)
    }


@pytest.fixture
def pool(pool_of):
    counts = {code: 2 + i % 5 for i, code in enumerate(CODES)}
    return pool_of(counts, clubs=("driver", "iron 7"))


def same_bands(one, other, **tolerance):
    for name in ("curve_cm", "curve_low_cm", "curve_high_cm", "feature", "feature_low"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), **tolerance)


def test_there_is_a_cell_for_every_club_and_level_and_one_over_all(pool, people):
    edition = build_edition("spring", pool, people)
    keys = [cell.cohort.definition.key for cell in edition.cells]
    assert keys == sorted(keys)
    words = [*(level.key for level in DEFAULT_LEVELS), "all"]
    assert set(keys) == {f"{club}/{word}" for club in ("driver", "iron 7") for word in words}
    assert len(edition.cell("driver/all").cohort.golfers) == 60
    assert len(edition.cell("driver/to_12").cohort.golfers) == 12
    assert edition.cell("driver/to_12").bands.shown_percents() == (25, 50, 75)


def test_a_level_without_golfers_says_so(pool, people):
    cell = build_edition("spring", pool, people).cell("driver/professional")
    assert cell.bands is None
    assert cell.withheld.startswith("0 golfers, where the least is 5 for the median")


def test_the_same_swings_in_any_order_give_the_same_hash(pool, people, rearranged):
    edition = build_edition("spring", pool, people)
    for seed in range(3):
        order = np.random.default_rng(seed).permutation(len(pool.swings))
        other = build_edition("autumn", rearranged(pool, order), dict(reversed(people.items())))
        assert other.content_hash == edition.content_hash


def test_one_golfer_with_many_swings_moves_no_band(pool, people, rearranged):
    # Twenty times the same swings: the golfer's mean, and with it every band, must stay.
    of_one = np.flatnonzero([code == "Q0007" for code in pool.golfers])
    order = np.r_[np.arange(len(pool.swings)), np.tile(of_one, 19)]
    edition = build_edition("spring", pool, people)
    heavy = build_edition("spring", rearranged(pool, order), people)
    for cell, other in zip(edition.cells, heavy.cells, strict=True):
        assert cell.cohort.golfers == other.cohort.golfers
        if cell.bands is not None:
            same_bands(cell.bands, other.bands, rtol=0, atol=1e-12)


def hash_of_build(pool, people, **rules):
    return build_edition("spring", pool, people, **rules).content_hash


@pytest.mark.parametrize(
    "rules",
    [
        {"percents": (10.0, 50.0, 90.0)},
        {"confidence": 0.95},
        {"smallest_cell": 6},
        {"levels": tuple(replace(level, label=level.label + "!") for level in DEFAULT_LEVELS)},
    ],
)
def test_any_rule_changes_the_hash(pool, people, rules):
    assert hash_of_build(pool, people, **rules) != hash_of_build(pool, people)


def with_cell(edition, key, **changes):
    """The edition with one cell changed and its hash left as it was."""
    cells = tuple(
        replace(cell, **changes) if cell.cohort.definition.key == key else cell
        for cell in edition.cells
    )
    return replace(edition, cells=cells)


@pytest.mark.parametrize(
    "name",
    ["curve_cm", "curve_low_cm", "curve_high_cm", "feature", "feature_low", "feature_high"],
)
def test_the_last_bit_of_any_number_fails_the_check(pool, people, name):
    edition = build_edition("spring", pool, people)
    bands = edition.cell("driver/all").bands
    numbers = getattr(bands, name).copy()
    numbers[3, 1] = np.nextafter(numbers[3, 1], 9)
    assert not verify_edition(
        with_cell(edition, "driver/all", bands=replace(bands, **{name: numbers}))
    )


def test_counts_rules_and_reasons_are_checked_and_the_name_is_not(pool, people):
    edition = build_edition("spring", pool, people)
    assert verify_edition(edition)
    assert verify_edition(replace(edition, name="another name"))
    parameters = dict(edition.parameters) | {"confidence": 0.8}
    assert not verify_edition(replace(edition, parameters=parameters))
    empty = edition.cell("driver/professional")
    assert not verify_edition(with_cell(edition, "driver/professional", withheld="quiet"))
    renamed = replace(empty.cohort.definition, club="putter")
    cohort = replace(empty.cohort, definition=renamed)
    assert not verify_edition(with_cell(edition, "driver/professional", cohort=cohort))
    cohort = edition.cell("driver/to_12").cohort
    fewer = replace(cohort, swing_counts=cohort.swing_counts - 1)
    assert not verify_edition(with_cell(edition, "driver/to_12", cohort=fewer))


def test_the_hash_does_not_hang_on_the_sign_of_zero(pool, people):
    edition = build_edition("spring", pool, people)
    bands = edition.cell("driver/all").bands
    curve = bands.curve_cm.copy()
    curve[:, :, 0] = -0.0
    negative = with_cell(edition, "driver/all", bands=replace(bands, curve_cm=curve))
    assert verify_edition(negative)


def test_swings_left_out_are_counted_by_rule(pool, people, golfer):
    people["Q0003"] = golfer("Q0003", consents_norms=False)
    del people["Q0004"]
    edition = build_edition("spring", pool, people)
    assert edition.attrition == {NOT_ON_ROSTER: 6, NO_CONSENT: 5}
    members = {code for cell in edition.cells for code in cell.cohort.golfers}
    assert members == set(CODES) - {"Q0003", "Q0004"}


def test_the_rules_are_written_down(pool, people):
    parameters = build_edition("spring", pool, people).parameters
    assert parameters["quantile_type"] == 6
    assert parameters["confidence"] == 0.90
    assert parameters["smallest_cell"] == 5
    assert [level["key"] for level in parameters["levels"]][:2] == ["scratch", "to_5"]
    assert parameters["numpy_version"] == np.__version__
    assert "one golfer, one vote" in parameters["member_rule"]


def test_without_a_swing_that_may_enter_nothing_is_built(pool):
    with pytest.raises(CohortRefused, match=r"no swing may enter norms .*not on the roster"):
        build_edition("spring", pool, {})


@settings(max_examples=25, deadline=None)
@given(
    values=st.lists(
        st.lists(st.integers(-50, 50), min_size=1, max_size=6), min_size=5, max_size=12
    ),
    data=st.data(),
)
def test_no_order_of_any_pool_changes_the_hash(values, data):
    rows = [(f"Q{g:04d}", i, v) for g, own in enumerate(values) for i, v in enumerate(own)]
    people = {f"Q{g:04d}": Golfer(code=f"Q{g:04d}", hand="right") for g in range(len(values))}

    def hash_of(order):
        chosen = [rows[i] for i in order]
        numbers = np.array([value / 7 for _, _, value in chosen])
        pool = SwingPool(
            swings=tuple(f"{code}-{i}" for code, i, _ in chosen),
            golfers=tuple(code for code, _, _ in chosen),
            clubs=("driver",) * len(chosen),
            labs=("Range hut",) * len(chosen),
            recorded_on=(date(2026, 5, 1),) * len(chosen),
            curves_cm=numbers[:, None, None] * np.linspace(0, 1, 301) * np.ones((3, 1)),
            feature_names=("sway_top",),
            features=numbers[:, None],
        )
        return build_edition("any", pool, people).content_hash

    order = data.draw(st.permutations(range(len(rows))))
    assert hash_of(order) == hash_of(range(len(rows)))
