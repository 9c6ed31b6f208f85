"""Rows for research: no code, no fact that singles a golfer out, every measurement as it was."""

import numpy as np

from norms.records.study import StudyFrame
from norms.study.coarsening import coarse_age, coarse_frame, rows_kept


def frame(golfers=40, swings=3, seed=1):
    rng = np.random.default_rng(seed)
    codes = tuple(f"Q{n:04d}" for n in range(golfers) for _ in range(swings))

    def of_golfer(values):
        return np.repeat(np.asarray(values, dtype=float), swings)

    s = golfers * swings
    return StudyFrame(
        swings=tuple(f"{code}_2026-03-04_driver_{n}" for n, code in enumerate(codes)),
        golfers=codes,
        clubs=tuple("driver" if n % 2 else "iron 7" for n in range(s)),
        labs=("North bay",) * s,
        ball_speed_mps=rng.normal(60, 5, s),
        club_speed_mps=np.full(s, np.nan),
        golfer_facts={
            "sex": of_golfer(rng.integers(0, 2, golfers)),
            "age": of_golfer(np.r_[[9, 88], rng.integers(30, 40, golfers - 2)]),
            "height": of_golfer(np.r_[[213.0], rng.uniform(170, 185, golfers - 1)]),
        },
        feature_names=("lift_low",),
        feature_units=("cm",),
        feature_labels=("lowest lift",),
        features=rng.normal(size=(s, 1)),
        curves_cm=rng.normal(size=(s, 3, 301)),
    )


def coarse(seed=5, **more):
    original = frame(**more)
    return original, coarse_frame(original, np.random.default_rng(seed))


def test_no_code_and_no_order_of_the_roster_is_left():
    original, after = coarse()
    words = " ".join((*after.golfers, *after.swings))
    assert not any(code in words for code in original.golfers)
    assert set(after.golfers) == {f"G{n}" for n in range(1, 41)}
    speeds = {
        float(v): code for v, code in zip(original.ball_speed_mps, original.golfers, strict=True)
    }
    order = [speeds[float(v)] for v in after.ball_speed_mps]
    assert order != sorted(order)


def test_swings_stay_with_their_golfer_and_measurements_as_they_were():
    original, after = coarse()
    row = {float(v): n for n, v in enumerate(original.ball_speed_mps)}
    rows = [row[float(v)] for v in after.ball_speed_mps]
    assert sorted(rows) == list(range(len(rows)))
    np.testing.assert_array_equal(after.curves_cm, original.curves_cm[rows])
    np.testing.assert_array_equal(after.features, original.features[rows])
    assert after.clubs == tuple(original.clubs[n] for n in rows)
    partners = {(original.golfers[n], code) for n, code in zip(rows, after.golfers, strict=True)}
    assert len(partners) == 40


def test_another_draw_numbers_otherwise():
    _, first = coarse(seed=5)
    _, second = coarse(seed=6)
    assert not np.array_equal(first.ball_speed_mps, second.ball_speed_mps)


def test_facts_are_coarse_and_none_is_rare():
    _, after = coarse()
    ages, heights = after.golfer_facts["age"], after.golfer_facts["height"]
    assert set(ages[~np.isnan(ages)]) <= {30.0, 35.0}  # the child and the oldest stand alone
    assert set(heights[~np.isnan(heights)] % 5) == {0.0}
    assert np.nanmax(heights) < 200
    for values in after.golfer_facts.values():
        for value in set(values[~np.isnan(values)]):
            assert len({c for c, v in zip(after.golfers, values, strict=True) if v == value}) >= 5


def test_a_group_of_a_few_loses_its_facts_and_not_its_rows():
    _, after = coarse(golfers=4)
    assert len(after.golfers) == 12
    assert all(np.isnan(values).all() for values in after.golfer_facts.values())


def test_only_the_golfers_who_agreed_are_left_and_the_others_are_counted():
    original = frame()
    keep = np.isin(original.golfers, ["Q0002", "Q0005", "Q0100"])
    after = rows_kept(original, keep, "golfer did not agree to research")
    assert set(after.golfers) == {"Q0002", "Q0005"}
    assert after.left_out == {"golfer did not agree to research": 114}
    assert rows_kept(original, np.full(len(keep), True), "no reason").left_out == {}
    twice = rows_kept(after, np.isin(after.golfers, ["Q0002"]), "golfer did not agree to research")
    assert twice.left_out == {"golfer did not agree to research": 117}


def test_an_age_becomes_five_years_and_the_ends_are_cut():
    ages = np.array([9.0, 14.0, 15.0, 39.9, 91.0, np.nan])
    np.testing.assert_array_equal(coarse_age(ages), [10, 10, 15, 35, 75, np.nan])
