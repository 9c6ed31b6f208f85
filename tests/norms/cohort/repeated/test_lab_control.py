from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.lab_control import lab_control
from norms.cohort.measurement_error import measurement_error

SESSIONS = 20


def visits(seed: int) -> list[tuple[int, int, str]]:
    """Ten of fifty golfers on each of twenty days."""
    rng = np.random.default_rng(seed)
    return [
        (int(g), day, "north") for day in range(SESSIONS) for g in rng.choice(50, 10, replace=False)
    ]


def charted(pool, seed, change):
    drawn = pool(seed, visits=visits(seed), change=change)
    return lab_control(drawn, "north", measurement_error(drawn, "driver"))


def test_a_lab_in_control_is_left_alone(pool):
    control = charted(pool, 1, lambda values, day, lab: values)
    assert not control.out.any()
    assert not control.drifting.any()
    assert set(control.reasons) == {""}
    assert len(control.sessions) == SESSIONS
    # The scores are what they claim to be: standard normal.
    assert np.nanstd(control.shift) == pytest.approx(1.0, abs=0.25)
    assert np.nanstd(control.spread) == pytest.approx(1.0, abs=0.35)


def test_a_session_off_on_one_axis_is_held_and_no_other(pool):
    def slipped(values, day, lab):
        return values + np.array([0.0, 3.0, 0.0, 0.0]) * (day == 7)

    control = charted(pool, 12, slipped)
    assert np.flatnonzero(control.out).tolist() == [7]
    assert control.shift[7, 1] > control.limit
    assert "off their other days" in control.reasons[7]
    assert "feature_1" in control.reasons[7]


def test_two_bad_sessions_do_not_hide_each_other(pool):
    def slipped(values, day, lab):
        return values + 6.0 * (day in (3, 12))

    control = charted(pool, 3, slipped)
    assert np.flatnonzero(control.out).tolist() == [3, 12]


def test_a_noisy_session_is_held_for_its_spread(pool):
    def shaken(values, day, lab):
        return values.mean(axis=0) + 3 * (values - values.mean(axis=0)) if day == 5 else values

    control = charted(pool, 4, shaken)
    assert control.out[5]
    assert "spread of swings" in control.reasons[5]
    assert (control.spread[5] > control.limit).any()


def test_a_small_lasting_step_shows_as_drift(pool):
    def stepped(values, day, lab):
        return values + 1.0 * (day >= 10)

    control = charted(pool, 5, stepped)
    assert control.drifting.any()
    assert not control.out.any()


def test_a_session_of_newcomers_cannot_be_judged(pool):
    drawn = pool(6, visits=[*visits(6), *[(100 + g, 30, "north") for g in range(5)]])
    control = lab_control(drawn, "north", measurement_error(drawn, "driver"))
    assert control.repeated_golfers[-1] == 0
    assert np.isnan(control.shift[-1]).all()
    assert np.isfinite(control.spread[-1]).all()


def test_scores_ignore_unit_zero_and_names(pool):
    drawn = pool(7, visits=visits(7))
    moved = replace(
        drawn,
        features=drawn.features / 2.54 - 3,
        golfers=tuple(f"x{code[::-1]}" for code in drawn.golfers),
    )
    before, after = (
        lab_control(p, "north", measurement_error(p, "driver")) for p in (drawn, moved)
    )
    np.testing.assert_allclose(after.shift, before.shift, atol=1e-3)
    np.testing.assert_allclose(after.spread, before.spread, atol=1e-3)


def test_a_golfer_who_changed_alone_is_not_held_against_the_lab(pool):
    def grown(values, day, lab):
        return values + 9.0 * (day == 40)

    seen = [*visits(13), (0, 40, "north"), (1, 40, "north")]
    drawn = pool(13, visits=seen, change=grown)
    control = lab_control(drawn, "north", measurement_error(drawn, "driver"))
    assert (control.shift[-1] > control.limit).any()
    assert not control.out[-1]


def test_a_feature_without_spread_raises_nothing(pool):
    drawn = pool(8, visits=visits(8))
    features = drawn.features.copy()
    features[:, 0] = 1.0
    flat = replace(drawn, features=features)
    control = lab_control(flat, "north", measurement_error(flat, "driver"))
    assert np.isnan(control.shift[:, 0]).all()
    assert np.isfinite(control.shift[:, 1:]).all()
