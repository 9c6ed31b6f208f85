"""Every feature on motions whose answers are known by hand."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.records import EventMark, FeatureValues, SwingEvents
from norms.swing.catalogue import CATALOGUE, FEATURE_NAMES
from norms.swing.features import FUNCTIONS, AxisMotion, measure_features
from norms.swing.normalise import motion_spline

REFERENCE = Path(__file__).parents[2] / "reference" / "signal"
CASES = {c["id"]: c for c in json.loads((REFERENCE / "signal.json").read_text())["cases"]}

START, TOP, IMPACT, FINISH = 0.5, 1.25, 1.5, 2.0


def events() -> SwingEvents:
    times = {"address": START, "start": START, "top": TOP, "impact": IMPACT, "finish": FINISH}
    return SwingEvents(**{n: EventMark(time_s=t, method="given") for n, t in times.items()})


def measure(path: np.ndarray, rate: float = 240.0) -> FeatureValues:
    return measure_features(motion_spline(path, rate), events())


def seconds(rate: float = 240.0) -> np.ndarray:
    return np.arange(0, 2.2, 1 / rate)


def parabolas() -> np.ndarray:
    """Sway (t-1)²·40-10, thrust -(t-1)²·8+2, lift (t-1.3)²·20-12.8, exact for a cubic spline."""
    t = seconds()
    return np.stack(
        [40 * (t - 1) ** 2 - 10, -8 * (t - 1) ** 2 + 2, 20 * (t - 1.3) ** 2 - 12.8], axis=1
    )


HAND_COMPUTED = {
    "sway_top": -7.5,
    "sway_back": -10.0,
    "sway_turn_lead": 0.25,
    "sway_impact": 0.0,
    "sway_travel": 10.0,
    "sway_rate_max": 40.0,
    "sway_rate_max_at": 100.0,
    "sway_slowing": 0.0,
    "sway_drift": 30.0,
    "sway_settle": 0.0,
    "thrust_top": 1.5,
    "thrust_back_max": 2.0,
    "thrust_sit_back": -1.5,
    "thrust_impact": 0.0,
    "thrust_late_rise": 0.0,
    "thrust_rate_impact": -8.0,
    "lift_top": -12.75,
    "lift_low": -12.8,
    "lift_low_after_top": 0.05,
    "lift_impact": -12.0,
    "lift_rise": 0.8,
    "lift_rate_max": 8.0,
    "lift_rate_max_at": 100.0,
    "lift_after": 0.0,
    "turn_order": 0.3,
    "backswing_time": 0.75,
    "downswing_time": 0.25,
    "tempo": 3.0,  # common practice: near 3 : 1
}


def test_the_catalogue_and_the_functions_name_the_same_features() -> None:
    assert tuple(FUNCTIONS) == FEATURE_NAMES
    assert set(HAND_COMPUTED) | {"path_length"} == set(FEATURE_NAMES)
    assert all(info.unit in ("cm", "cm_s", "s", "pct", "ratio") for info in CATALOGUE)


@pytest.mark.parametrize("name", HAND_COMPUTED)
def test_feature_of_parabolic_motion(name: str) -> None:
    assert measure(parabolas()).values[name] == pytest.approx(HAND_COMPUTED[name], abs=1e-8)


def test_path_length_of_uniform_motion_on_a_circle() -> None:
    t = seconds()
    path = np.stack([3 * np.cos(2 * t), 3 * np.sin(2 * t), 4 * t], axis=1)
    want = np.hypot(6.0, 4.0) * (IMPACT - START)
    assert measure(path).values["path_length"] == pytest.approx(want, rel=1e-5)


@pytest.mark.parametrize("rate", [60, 120, 240])
def test_extremes_fall_between_samples(rate: int) -> None:
    # R 4.2.2: root of the analytic derivative by uniroot, and what a cubic spline reaches
    case = CASES["extremum_of_sway"]["expected"]
    t = np.arange(0, 2.0, 1 / rate)
    sway = -6 * np.exp(-(((t - 0.80) / 0.28) ** 2)) + 9 / (1 + np.exp(-(t - 1.15) / 0.09))
    axis = AxisMotion(motion_spline(np.stack([sway] * 3, axis=1), float(rate)), 0)
    low = axis.lowest(0.137, 1.2345)
    allowed = 2 * abs(case[f"spline_time_error_{rate}"]) + 1e-8
    assert low.time_s == pytest.approx(case["t_star"], abs=allowed)


def test_a_curve_that_never_turns_says_so() -> None:
    t = seconds()
    forward = np.stack([t, t, t], axis=1)
    missing = measure(forward).missing
    assert "does not turn" in missing["sway_turn_lead"]
    assert "no lowest point" in missing["lift_low_after_top"]
    assert "turn_order" in missing
    back = measure(-forward).missing
    assert "never moves toward the target" in back["sway_rate_max"]
    assert "never rises" in back["lift_rate_max"]
    assert {"sway_rate_max_at", "sway_slowing", "lift_rate_max_at"} <= back.keys()


def test_a_downswing_of_few_samples_has_no_rates() -> None:
    path = parabolas()[::12]  # 20 Hz: five samples of downswing
    missing = measure(path, 20.0).missing
    assert "too few" in missing["sway_rate_max"]
    assert "too few" in missing["thrust_rate_impact"]


@given(st.floats(-100, 100))
def test_positions_shift_with_the_curve_and_rates_do_not(shift: float) -> None:
    base, moved = measure(parabolas()), measure(parabolas() + shift)
    for name in ("sway_top", "thrust_impact", "lift_low"):
        assert moved.values[name] == pytest.approx(base.values[name] + shift, abs=1e-7)
    for name in ("sway_rate_max", "lift_rate_max", "path_length", "sway_travel", "lift_rise"):
        assert moved.values[name] == pytest.approx(base.values[name], abs=1e-7)


@given(st.floats(0.1, 10))
def test_lengths_scale_and_times_do_not(scale: float) -> None:
    base, scaled = measure(parabolas()), measure(parabolas() * scale)
    for info in CATALOGUE:
        factor = scale if info.unit in ("cm", "cm_s") else 1.0
        want = base.values[info.name] * factor
        assert scaled.values[info.name] == pytest.approx(want, abs=1e-6), info.name
