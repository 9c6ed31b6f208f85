import csv
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from norms.statistics.outliers import (
    REED_RATIO,
    _inverse_yeo_johnson,
    _yeo_johnson,
    dixon_reed,
    symmetrised_fences,
    tukey_fences,
)

REFERENCE = Path(__file__).parents[2] / "reference" / "reference_intervals"
CASES = {
    case["id"]: case["expected"]
    for case in json.loads((REFERENCE / "refint.json").read_text())["cases"]
}


def sample(name):
    with (REFERENCE / "samples.csv").open() as lines:
        return np.array([float(r["value"]) for r in csv.DictReader(lines) if r["sample"] == name])


@pytest.mark.parametrize("name", ["x120", "y80", "s40"])
def test_tukey_fences_equal_the_reference(name):
    fences = tukey_fences(sample(name))
    np.testing.assert_allclose([fences.low, fences.high], CASES[f"tukey_{name}"]["type7"])
    flagged = sample(name)[fences.outside(sample(name))]
    assert sorted(flagged) == CASES[f"tukey_{name}"]["outliers_type7"]


def test_tukey_fences_by_hand():
    values = np.array([1, 2, 4, 7, 11, 16, 22, 29, 37, 46, 150], dtype=float)
    fences = tukey_fences(values)
    assert (fences.low, fences.high) == (-35.75, 74.25)
    assert list(values[fences.outside(values)]) == [150]


@given(st.floats(-50, 50), st.floats(-2, 4))
def test_own_transform_equals_scipys_and_inverts(value, power):
    transformed = _yeo_johnson(np.array([value]), power)
    np.testing.assert_allclose(transformed, stats.yeojohnson([value], power), rtol=1e-9, atol=1e-9)
    if abs(transformed[0]) > 1e-3 and abs(power - (0 if value >= 0 else 2)) < 1:
        np.testing.assert_allclose(_inverse_yeo_johnson(transformed[0], power), value, rtol=1e-6)


def test_a_long_tail_is_not_pointed_at_but_a_stray_value_is():
    values = np.random.default_rng(4).lognormal(0, 0.8, 400)
    plain, symmetrised = tukey_fences(values), symmetrised_fences(values)
    assert plain.outside(values).sum() > 15
    assert symmetrised.outside(values).sum() <= 8
    stray = np.append(values, 500.0)
    assert symmetrised_fences(stray).outside(stray)[-1]


def test_outliers_do_not_choose_the_power():
    values = np.random.default_rng(5).normal(size=150)
    with_strays = np.concatenate([values, np.full(8, 12.0)])
    fences = symmetrised_fences(with_strays)
    assert fences.outside(with_strays)[-8:].all()
    assert abs(fences.power - symmetrised_fences(values).power) < 0.5


@given(st.integers(0, 50), st.floats(0.01, 100), st.floats(-100, 100))
def test_fences_move_and_stretch_with_the_values(seed, scale, shift):
    values = np.random.default_rng(seed).gamma(2, size=40)
    fences, moved = symmetrised_fences(values), symmetrised_fences(values * scale + shift)
    close = scale * 1e-3
    for before, after in ((fences.low, moved.low), (fences.high, moved.high)):
        if np.isfinite(before):
            assert after == pytest.approx(before * scale + shift, rel=1e-3, abs=close)


def test_normal_values_are_seldom_flagged():
    rng = np.random.default_rng(6)
    flags = [symmetrised_fences(x).outside(x).mean() for x in rng.normal(size=(200, 120))]
    assert 0.002 < np.mean(flags) < 0.02


def test_missing_values_are_left_out_and_never_flagged():
    values = np.append(np.arange(20.0), np.nan)
    assert tukey_fences(values) == tukey_fences(values[:-1])
    assert not tukey_fences(values).outside(values)[-1]


def test_values_that_mostly_agree_fall_back_to_plain_fences():
    values = np.array([1.0] * 9 + [2.0])
    assert symmetrised_fences(values).power == 1.0
    assert symmetrised_fences(values).outside(values).sum() == 1


def test_reeds_rule_on_worked_values():
    assert dixon_reed(np.array([*range(1, 11), 20.0]))[1] == pytest.approx(10 / 19)
    assert dixon_reed(np.array([*range(1, 11), 20.0]))[1] >= REED_RATIO
    low, high = dixon_reed(sample("y80"))
    case = CASES["dixon_reed_y80"]
    assert (low, high) == pytest.approx((case["low_ratio"], case["high_ratio"]), abs=1e-9)
    assert dixon_reed(np.ones(5)) == (0.0, 0.0)


def test_too_few_values_are_refused():
    with pytest.raises(ValueError, match="at least 3"):
        dixon_reed(np.array([1.0, 2.0]))
    with pytest.raises(ValueError, match="at least 8"):
        symmetrised_fences(np.arange(7.0))
