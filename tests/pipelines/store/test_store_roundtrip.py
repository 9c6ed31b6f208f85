import dataclasses
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.errors import StoreRefused
from norms.records import BallSpeed, DatedHandicap, FileOutcome, Golfer, Placement
from norms.records.consent import Consent
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.store import open_store

NOON = datetime(2026, 5, 1, 12, tzinfo=UTC)
words = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), min_size=1, max_size=12
)
positive = st.floats(min_value=1e-3, max_value=1e3)
days = st.dates(min_value=date(1990, 1, 1), max_value=date(2100, 1, 1))
handicaps = st.dictionaries(days, st.floats(-10, 54), max_size=3).map(
    lambda dated: tuple(DatedHandicap(since=s, index=i) for s, i in sorted(dated.items()))
)
golfers = st.builds(
    Golfer,
    code=words,
    hand=st.sampled_from(["right", "left"]),
    sex=st.sampled_from(["female", "male", None]),
    birth_year=st.none() | st.integers(1900, 2020),
    height_cm=st.none() | positive,
    mass_kg=st.none() | positive,
    professional=st.booleans(),
    consents_norms=st.booleans(),
    handicaps=handicaps,
)


def same(left: Any, right: Any, path: str = "record") -> None:
    """Compare records field by field, arrays bit by bit."""
    assert type(left) is type(right), path
    if dataclasses.is_dataclass(left):
        for field in dataclasses.fields(left):
            same(getattr(left, field.name), getattr(right, field.name), f"{path}.{field.name}")
    elif isinstance(left, tuple):
        assert len(left) == len(right), path
        for place, pair in enumerate(zip(left, right, strict=True)):
            same(*pair, f"{path}[{place}]")
    elif isinstance(left, np.ndarray):
        assert left.dtype == right.dtype, path
        assert left.shape == right.shape, path
        np.testing.assert_array_equal(left, right, err_msg=path)
        np.testing.assert_array_equal(np.signbit(left), np.signbit(right), err_msg=path)
    else:
        assert left == right, path


def guardians_yes(golfer):
    day = date(2025, 1, 11)
    return Consent(golfer=golfer, purpose="norms", given=True, decided_on=day, guardian=True)


@settings(max_examples=25, deadline=None)
@given(roster=st.lists(golfers, max_size=5, unique_by=lambda golfer: golfer.code))
def test_golfers_come_back_as_they_went_in(roster):
    with open_store(":memory:") as store:
        store.add_golfers(roster)
        # Without their guardians' words juniors would come back as not agreeing to norms.
        store.consents.add([guardians_yes(golfer.code) for golfer in roster])
        assert store.golfers() == {golfer.code: golfer for golfer in roster}
        assert list(store.golfers()) == sorted(golfer.code for golfer in roster)


def test_a_golfer_added_again_is_replaced_with_the_handicaps_and_others_stay(store):
    first = DatedHandicap(since=date(2025, 1, 1), index=12.0)
    second = DatedHandicap(since=date(2025, 1, 1), index=-2.4)
    other = Golfer(code="Q0002", hand="left", handicaps=(first,))
    store.add_golfers([Golfer(code="Q0001", hand="right", handicaps=(first,)), other])
    replaced = Golfer(code="Q0001", hand="left", mass_kg=70.5, handicaps=(second,))
    store.add_golfers([replaced])
    assert store.golfer("Q0001") == replaced
    assert store.golfer("Q0002") == other
    assert store.golfer("Q9999") is None


@settings(max_examples=15, deadline=None)
@given(
    speeds=st.lists(
        st.builds(
            BallSpeed, swing=words, ball_speed_mps=positive, club_speed_mps=st.none() | positive
        ),
        max_size=6,
        unique_by=lambda speed: speed.swing,
    )
)
def test_ball_speeds_come_back_and_missing_stays_missing(speeds):
    with open_store(":memory:") as store:
        store.add_ball_speeds(speeds)
        assert store.ball_speeds() == {speed.swing: speed for speed in speeds}


def test_a_ball_speed_added_again_is_replaced(store):
    store.add_ball_speeds([BallSpeed(swing="S1", ball_speed_mps=60.0, club_speed_mps=40.0)])
    store.add_ball_speeds([BallSpeed(swing="S1", ball_speed_mps=61.0)])
    assert store.ball_speeds() == {"S1": BallSpeed(swing="S1", ball_speed_mps=61.0)}


def single(swing):
    """The swing as single precision keeps its curves; everything else stays as it is."""
    rounded = swing.curve.values_cm.astype(np.float32)
    return dataclasses.replace(swing, curve=dataclasses.replace(swing.curve, values_cm=rounded))


def test_a_swing_comes_back_exactly_but_for_curves_in_single_precision(store, make_swing):
    swings = [make_swing(number) for number in range(3)]
    store.add_swings(swings, [], store.begin_run("North bay", NOON))
    for swing in swings:
        same(store.swing(swing.label.swing), single(swing))
    assert np.abs(swings[0].curve.values_cm - single(swings[0]).curve.values_cm).max() < 2e-6


@settings(max_examples=20, deadline=None)
@given(
    value=st.floats(allow_nan=False, allow_infinity=False),
    reason=words,
    method=words,
    source=words,
    rate=positive,
)
def test_any_finite_feature_and_any_words_survive_the_store(
    make_swing, value, reason, method, source, rate
):
    swing = make_swing(1)
    swing = dataclasses.replace(
        swing,
        rate_hz=rate,
        label=dataclasses.replace(swing.label, source=source),
        pelvis_method=method,
        features=dataclasses.replace(
            swing.features, values={"sway_top": value}, missing={"tempo": reason}
        ),
    )
    with open_store(":memory:") as store:
        store.add_golfers([Golfer(code="Q0001", hand="right")])
        store.add_swings([swing], [], 1)
        same(store.swing("S00001"), single(swing))


def test_the_pool_holds_every_swing_in_order_of_code(store, make_swing):
    swings = [make_swing(number) for number in (12, 3, 7, 1)]
    store.add_swings(swings[:2], [], 1)
    store.add_swings(swings[2:], [], 1)
    pool = store.swing_pool()
    ordered = sorted(swings, key=lambda swing: swing.label.swing)
    assert pool.swings == tuple(swing.label.swing for swing in ordered)
    assert pool.golfers == ("Q0001",) * 4
    assert pool.clubs == tuple(swing.label.club for swing in ordered)
    assert pool.labs == ("North bay",) * 4
    assert pool.recorded_on == tuple(swing.label.recorded_on for swing in ordered)
    curves = np.stack([single(swing).curve.values_cm for swing in ordered])
    np.testing.assert_array_equal(pool.curves_cm, curves)
    wanted = [
        [swing.features.values.get(name, np.nan) for name in FEATURE_NAMES] for swing in ordered
    ]
    assert pool.feature_names == FEATURE_NAMES
    np.testing.assert_array_equal(pool.features, wanted)


def test_a_feature_the_catalogue_does_not_know_is_kept_but_not_pooled(store, make_swing):
    swing = make_swing(1)
    swing = dataclasses.replace(
        swing,
        features=dataclasses.replace(
            swing.features, values={"retired": 1.0, "tempo": 3.0}, missing={}
        ),
    )
    store.add_swings([swing], [], 1)
    pool = store.swing_pool()
    assert store.swing("S00001").features.values == {"retired": 1.0, "tempo": 3.0}
    assert pool.features[0, FEATURE_NAMES.index("tempo")] == 3.0
    assert np.isfinite(pool.features).sum() == 1


def test_an_empty_store_gives_an_empty_pool(store):
    pool = store.swing_pool()
    assert pool.swings == ()
    assert pool.curves_cm.shape == (0, 3, 301)
    assert pool.features.shape == (0, len(FEATURE_NAMES))


def test_outcomes_come_back_by_run_in_the_order_given(store, make_swing):
    def outcome(number, status="rejected", **more):
        return FileOutcome(
            source=f"{number}.c3d", lab="North bay", status=status, code="c", message="m", **more
        )

    first, second = store.begin_run("North bay", NOON), store.begin_run("Range hut", NOON)
    done = outcome(0, "accepted", swing="S00000", content_hash="ab")
    store.add_swings([make_swing(0)], [done, outcome(9)], first)
    store.add_swings([], [outcome(5)], second)
    store.add_swings([], [outcome(2)], first)
    store.finish_run(first)
    assert (first, second) == (1, 2)
    assert store.outcomes(first) == [done, outcome(9), outcome(2)]
    assert store.outcomes(second) == [outcome(5)]
    assert len(store.outcomes()) == 4


def test_hashes_and_codes_name_what_is_stored(store, make_swing):
    store.add_swings([make_swing(1), make_swing(2)], [], 1)
    assert store.content_hashes() == {f"{1:064x}": "S00001", f"{2:064x}": "S00002"}
    assert store.swing_codes() == {"S00001", "S00002"}


def test_an_edition_comes_back_bit_for_bit(store, make_edition):
    edition = make_edition()
    store.save_edition(edition, NOON)
    same(store.edition("2026"), edition)


def test_minus_zero_and_the_smallest_number_survive_in_an_edition(store, make_edition):
    edition = make_edition()
    cell = edition.cells[0]
    curves = cell.cohort.curves_cm.copy()
    curves[0, 0, :4] = (-0.0, 5e-324, 0.1 + 0.2, -1.7976931348623157e308)
    cohort = dataclasses.replace(cell.cohort, curves_cm=curves)
    changed = dataclasses.replace(
        edition, cells=(dataclasses.replace(cell, cohort=cohort), edition.cells[1])
    )
    store.save_edition(changed, NOON)
    same(store.edition("2026"), changed)


def test_editions_are_listed_oldest_first_and_kept_apart(store, make_edition):
    store.save_edition(make_edition("b", seed=1), NOON)
    store.save_edition(make_edition("a", seed=2), NOON.replace(day=2))
    assert store.edition_names() == ["b", "a"]
    same(store.edition("b"), make_edition("b", seed=1))


def test_the_same_edition_again_changes_nothing_and_another_is_refused(store, make_edition):
    store.save_edition(make_edition(seed=1), NOON)
    store.save_edition(make_edition(seed=1), NOON)
    with pytest.raises(StoreRefused, match='edition "2026" is already') as refused:
        store.save_edition(make_edition(seed=2), NOON)
    assert refused.value.code == "edition_exists"
    same(store.edition("2026"), make_edition(seed=1))


def test_an_edition_that_json_cannot_carry_leaves_nothing_behind(store, make_edition):
    broken = dataclasses.replace(make_edition(), attrition={"no consent": float("nan")})
    with pytest.raises(ValueError, match="JSON compliant"):
        store.save_edition(broken, NOON)
    assert store.edition_names() == []


def test_placements_of_a_golfer_come_back_oldest_first(store, make_swing):
    def placement(number, golfer):
        return Placement(
            swing=make_swing(number, golfer),
            edition="2026",
            edition_hash="ab",
            cohort_key="driver/all",
            cohort_label="driver, all levels",
            handicap=None,
            peers=20,
            left_out=True,
            bands=None,
            withheld="too few",
            features=(),
            cautions=(),
        )

    store.placements.keep(placement(1, "Q0001"), {"schema": 1, "features": [1.5, None]})
    store.placements.keep(placement(2, "Q0002"), {"schema": 2})
    store.placements.keep(placement(3, "Q0001"), {"schema": 3})
    first, second = store.placements.of("Q0001")
    assert first == {
        "swing": "S00001",
        "edition": "2026",
        "edition_hash": "ab",
        "cohort": "driver/all",
        "document": {"schema": 1, "features": [1.5, None]},
    }
    assert second["document"] == {"schema": 3}


def test_settings_are_kept_and_replaced(store):
    assert store.setting("length_unit") is None
    store.set_setting("length_unit", "in")
    store.set_setting("length_unit", "cm")
    store.set_setting("levels", [{"key": "to_5", "above": None, "to": 5.0}])
    assert store.setting("length_unit") == "cm"
    assert store.setting("levels") == [{"key": "to_5", "above": None, "to": 5.0}]
