from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.lab_effects import FEWEST_IN_BOTH, _verdict, lab_effect
from norms.cohort.lab_terms import adjusted_features
from norms.cohort.measurement_error import measurement_error
from norms.errors import CohortRefused


def both_labs(golfers: int) -> list[tuple[int, int, str]]:
    """Two days in either lab for each golfer."""
    return [
        (g, day, lab)
        for g in range(golfers)
        for day, lab in enumerate(("north", "north", "south", "south"))
    ]


def south(shift: float, scale: float = 1.0):
    """What the south lab makes of a value, about the mean of 20."""

    def change(values, day, lab):
        return 20 + shift + scale * (values - 20) if lab == "south" else values

    return change


def effect_of(pool, seed, visits, change, levels=None, **options):
    drawn = pool(seed, visits=visits, change=change, **options)
    error = measurement_error(drawn, "driver")
    return drawn, lab_effect(drawn, "south", "north", error, levels and levels(drawn))


def by_parity(drawn) -> list[str]:
    return ["low" if int(code[1:]) % 2 else "high" for code in drawn.golfers]


def test_labs_alike_are_found_alike(pool):
    _, effect = effect_of(pool, 1, both_labs(120), south(0.0))
    assert effect.method == "same_golfers"
    assert effect.golfers == 120
    assert effect.verdict == "alike"
    assert ((effect.shift_low < 0) & (effect.shift_high > 0)).all()
    assert ((effect.scale_low < 1) & (effect.scale_high > 1)).all()


def test_a_shift_is_estimated_and_taken_off(pool):
    drawn, effect = effect_of(pool, 2, both_labs(120), south(2.0))
    assert effect.verdict == "adjust_shift"
    assert ((effect.shift_low < 2) & (effect.shift_high > 2)).all()
    at_south = np.array(drawn.labs) == "south"
    moved = adjusted_features(drawn.features[at_south], effect)
    np.testing.assert_allclose(moved, drawn.features[at_south] - effect.shift)


def test_a_stretch_is_estimated_and_taken_off(pool):
    drawn, effect = effect_of(pool, 3, both_labs(150), south(2.0, 1.6))
    assert effect.verdicts == ("adjust_shift_and_scale",) * 3
    assert ((effect.scale_low < 1.6) & (effect.scale_high > 1.6)).all()
    at_south = np.array(drawn.labs) == "south"
    moved = adjusted_features(drawn.features[at_south], effect)
    north = drawn.features[~at_south]
    np.testing.assert_allclose(moved.mean(axis=0), north.mean(axis=0), atol=0.3)
    np.testing.assert_allclose(moved.std(axis=0), north.std(axis=0), rtol=0.1)


def test_few_golfers_in_both_keep_the_labs_apart(pool):
    drawn, effect = effect_of(pool, 4, both_labs(FEWEST_IN_BOTH), south(2.0))
    assert effect.verdict == "apart"
    assert np.isnan(adjusted_features(drawn.features, effect)).all()


def test_different_golfers_are_compared_at_equal_level_and_never_adjusted(pool):
    # High-level golfers stand 6 higher and mostly come to the north lab.
    rng = np.random.default_rng(5)
    visits = [
        (g, day, "north" if rng_share < (0.8 if g % 2 == 0 else 0.2) else "south")
        for g, rng_share in enumerate(rng.random(240))
        for day in range(2)
    ]
    drawn = pool(5, visits=visits, change=south(0.0))
    high = np.array([level == "high" for level in by_parity(drawn)])
    drawn = replace(drawn, features=drawn.features + 6.0 * high[:, None])
    error = measurement_error(drawn, "driver")
    effect = lab_effect(drawn, "south", "north", error, by_parity(drawn))
    assert effect.method == "different_golfers"
    assert effect.golfers == 240
    naive = [drawn.features[np.array(drawn.labs) == lab].mean() for lab in ("south", "north")]
    assert naive[0] - naive[1] < -2
    assert ((effect.shift_low < 0) & (effect.shift_high > 0)).all()
    assert ((effect.scale_low < 1) & (effect.scale_high > 1)).all()

    shifted = replace(
        drawn, features=drawn.features + 4.0 * (np.array(drawn.labs) == "south")[:, None]
    )
    apart = lab_effect(shifted, "south", "north", error, by_parity(shifted))
    assert apart.verdict == "apart"
    np.testing.assert_allclose(apart.shift, effect.shift + 4.0, atol=1e-4)


def test_different_golfers_without_levels_are_refused(pool):
    visits = [(g, 0, "north" if g < 20 else "south") for g in range(40)]
    with pytest.raises(CohortRefused, match="only 0 golfers in both"):
        effect_of(pool, 6, visits, south(0.0))


def test_a_lab_of_one_golfer_is_refused(pool):
    visits = [(g, d, "north") for g in range(20) for d in range(2)] + [(0, 5, "south")]
    with pytest.raises(CohortRefused, match="each lab needs two"):
        effect_of(pool, 7, visits, south(0.0))


def test_a_feature_that_a_lab_never_gives_is_kept_apart(pool):
    drawn = pool(8, visits=both_labs(60))
    features = drawn.features.copy()
    features[np.array(drawn.labs) == "south", 1] = np.nan
    drawn = replace(drawn, features=features)
    effect = lab_effect(drawn, "south", "north", measurement_error(drawn, "driver"))
    assert effect.verdicts[1] == "apart"
    assert np.isnan(effect.shift[1])
    assert np.isfinite(effect.shift[[0, 2]]).all()


def test_shift_and_scale_turn_round_when_the_labs_change_places(pool):
    drawn = pool(9, visits=both_labs(50), change=south(1.0, 1.3), swings=(4, 4))
    error = measurement_error(drawn, "driver")
    there = lab_effect(drawn, "south", "north", error)
    back = lab_effect(drawn, "north", "south", error)
    np.testing.assert_allclose(back.shift, -there.shift)
    np.testing.assert_allclose(back.scale * there.scale, 1.0)
    np.testing.assert_allclose(back.scale_low * there.scale_high, 1.0)


def test_unit_and_zero_leave_scale_and_verdict(pool):
    drawn = pool(10, visits=both_labs(50), change=south(1.0, 1.3))
    inches = replace(drawn, features=drawn.features / 2.54 + 4)
    first, second = (
        lab_effect(p, "south", "north", measurement_error(p, "driver")) for p in (drawn, inches)
    )
    np.testing.assert_allclose(second.scale, first.scale, rtol=1e-5)
    np.testing.assert_allclose(second.shift, first.shift / 2.54, rtol=1e-5)
    assert second.verdicts == first.verdicts


@pytest.mark.parametrize(
    ("shift", "scale", "same_golfers", "verdict"),
    [
        ((-0.2, 0.2), (0.95, 1.05), True, "alike"),
        ((-0.2, 0.2), (0.95, 1.05), False, "alike"),
        ((-0.2, 0.2), (1.05, 1.15), True, "alike"),  # differs, but by little
        ((-0.2, 0.2), (0.80, 1.10), True, "alike"),  # holds 1 and is narrow
        ((-0.2, 0.2), (0.70, 1.30), True, "apart"),  # too wide to tell
        ((0.8, 1.2), (0.95, 1.05), True, "adjust_shift"),
        ((0.8, 1.2), (0.95, 1.05), False, "apart"),
        ((-0.2, 0.2), (1.25, 1.45), True, "adjust_shift_and_scale"),
        ((0.4, 1.6), (0.95, 1.05), True, "apart"),  # what would remain is too large
        ((np.nan, np.nan), (np.nan, np.nan), True, "apart"),
    ],
)
def test_verdict_by_what_would_remain(shift, scale, same_golfers, verdict):
    assert _verdict(shift, scale, 0.5, same_golfers) == verdict
