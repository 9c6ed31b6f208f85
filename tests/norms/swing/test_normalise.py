"""Phase normalisation against an analytic motion and independent resampling."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.records import EventMark, SwingEvents
from norms.swing.normalise import (
    motion_spline,
    node_at,
    node_times,
    phase_curve,
)
from norms.synthetic import SwingParameters, capture_times, true_events, true_path
from norms.vocabulary import EVENT_NODES

REFERENCE = Path(__file__).parents[2] / "reference" / "signal"
CASES = {c["id"]: c for c in json.loads((REFERENCE / "signal.json").read_text())["cases"]}


def events_at(
    address: float, start: float, top: float, impact: float, finish: float
) -> SwingEvents:
    names = ("address", "start", "top", "impact", "finish")
    times = (address, start, top, impact, finish)
    return SwingEvents(
        **{n: EventMark(time_s=t, method="given") for n, t in zip(names, times, strict=True)}
    )


def analytic(t: np.ndarray) -> np.ndarray:
    """The smooth motion of the reference values, as sway, thrust, lift."""
    sway = -6 * np.exp(-(((t - 0.80) / 0.28) ** 2)) + 9 / (1 + np.exp(-(t - 1.15) / 0.09))
    thrust = 2 * np.sin(2 * np.pi * 0.7 * t) * np.exp(-0.3 * t)
    lift = -3 * np.exp(-(((t - 1) / 0.35) ** 2)) + 4 / (1 + np.exp(-(t - 1.4) / 0.12))
    return np.stack([sway, thrust, lift], axis=1)


@pytest.mark.parametrize("rate", [60, 120, 240])
def test_resampling_error_is_below_a_fifth_of_a_millimetre(rate: int) -> None:
    case = CASES[f"phase_resample_{rate}hz"]["expected"]
    e = case["events"]
    events = events_at(e["address"], e["address"], e["top"], e["impact"], e["finish"])
    samples = analytic(np.arange(0, 2.0, 1 / rate))
    curve = phase_curve(motion_spline(samples, float(rate)), events)
    truth = analytic(curve.times_s).T
    assert np.abs(curve.values_cm - truth).max() < 0.02
    # every fifth of our 101 nodes of the first phase is one of the reference's 21
    reference = np.array(case["sway"]["analytic"][:21])
    got = curve.values_cm[0, :101:5] - curve.values_cm[0, 0]
    np.testing.assert_allclose(got, reference, atol=0.02)


rising = st.lists(st.floats(0.05, 2.0), min_size=4, max_size=4).map(np.cumsum)


@given(rising)
def test_events_fall_on_their_nodes_and_time_rises(times: np.ndarray) -> None:
    events = events_at(float(times[0]), *map(float, times))
    nodes = node_times(events)
    assert len(nodes) == 301
    assert (np.diff(nodes) > 0).all()
    for event, node in EVENT_NODES.items():
        assert nodes[node] == events.mark(event).time_s


@given(rising, st.integers(0, 300), st.floats(0, 1))
def test_node_and_second_turn_into_one_another(times: np.ndarray, node: int, share: float) -> None:
    events = events_at(float(times[0]), *map(float, times))
    seconds = node_times(events)
    assert node_at(events, seconds[node]) == pytest.approx(node, abs=1e-9)
    following = min(node + 1, 300)
    between = seconds[node] + share * (seconds[following] - seconds[node])
    assert node_at(events, between) == pytest.approx(node + share * (following - node), abs=1e-6)
    for event, at in EVENT_NODES.items():
        assert node_at(events, events.mark(event).time_s) == at
    assert np.isnan([node_at(events, times[0] - 1e-3), node_at(events, times[-1] + 1e-3)]).all()


@pytest.mark.parametrize("rate", [120.0, 240.0])
def test_resampling_an_invented_swing_costs_less_than_a_fifth_of_a_millimetre(rate: float) -> None:
    swing = SwingParameters()
    truth = true_events(swing)
    events = events_at(*(truth[e] for e in ("address", "start", "top", "impact", "finish")))
    samples = true_path(swing, capture_times(swing, rate))
    curve = phase_curve(motion_spline(samples, rate), events)
    assert np.abs(curve.values_cm - true_path(swing, curve.times_s).T).max() < 0.02
