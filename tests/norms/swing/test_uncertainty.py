"""Stated uncertainties against the errors that invented swings really have."""

import numpy as np
import pytest

from norms.swing.catalogue import FEATURE_NAMES
from norms.swing.feature_batch import Variants, batch_features
from norms.swing.features import measure_features
from norms.swing.normalise import node_times
from norms.swing.process import measure_capture
from norms.swing.uncertainty import feature_uncertainty, process_with_uncertainty
from norms.synthetic import SwingParameters, true_features


def random_swing(rng: np.random.Generator) -> SwingParameters:
    back = rng.uniform(0.65, 1.1)
    return SwingParameters(
        backswing_s=back,
        downswing_s=back / rng.uniform(2.5, 3.6),
        sway_away_cm=rng.uniform(3.0, 7.0),
        sway_forward_cm=rng.uniform(9.0, 16.0),
        lift_rise_cm=rng.uniform(4.0, 8.0),
        club_speed_mps=rng.uniform(30.0, 48.0),
    )


@pytest.mark.parametrize("seed", range(6))
def test_the_batch_reads_the_same_features_as_the_spline(make_capture, seed) -> None:
    swing = random_swing(np.random.default_rng(seed))
    measured = measure_capture(make_capture(swing, noise_cm=0.03, seed=seed))
    motion, times = measured.motion(), node_times(measured.events)
    batch = batch_features(
        Variants(
            times_s=times[None],
            position_cm=motion(times).T[None],
            velocity_cm_s=motion(times, 1).T[None],
        )
    )[0]
    values = measure_features(motion, measured.events).values
    for name, value in zip(FEATURE_NAMES, batch, strict=True):
        allowed = 0.5 if name.endswith("_at") else 0.01  # a place in percent moves with a flat top
        assert value == pytest.approx(values[name], abs=allowed, rel=2e-3), name


@pytest.mark.parametrize(("rate_hz", "noise_cm"), [(120.0, 0.05), (240.0, 0.1), (240.0, 0.3)])
def test_errors_are_of_the_size_of_the_stated_uncertainty(make_capture, rate_hz, noise_cm) -> None:
    rng = np.random.default_rng(5)
    ratios: dict[str, list[float]] = {name: [] for name in FEATURE_NAMES}
    for seed in range(40):
        swing = random_swing(rng)
        capture = make_capture(swing, rate_hz=rate_hz, noise_cm=noise_cm, seed=seed)
        measured = measure_capture(capture)
        stated = feature_uncertainty(measured, rng)
        values = measure_features(measured.motion(), measured.events).values
        for name, truth in true_features(swing, rate_hz=2000.0).items():
            if name in values:
                ratios[name].append(abs(values[name] - truth) / stated[name])
    everything = np.concatenate([np.array(r) for r in ratios.values()])
    assert (everything <= 2.0).mean() > 0.93
    assert np.median(everything) > 0.15  # and not by stating far too much
    for name, ratio in ratios.items():
        assert (np.array(ratio) <= 2.0).mean() > 0.8, name


def test_more_noise_is_less_certain(make_capture) -> None:
    quiet, loud = (
        feature_uncertainty(measure_capture(make_capture(noise_cm=noise)), np.random.default_rng(0))
        for noise in (0.02, 0.4)
    )
    for name in ("sway_impact", "sway_rate_max", "lift_low", "path_length"):
        assert loud[name] > 2.0 * quiet[name]


def test_durations_carry_the_uncertainty_of_their_two_events(make_capture) -> None:
    measured = measure_capture(make_capture(noise_cm=0.02))
    stated = feature_uncertainty(measured, np.random.default_rng(0))
    events = measured.events
    for name, ends in (
        ("backswing_time", (events.start, events.top)),
        ("downswing_time", (events.top, events.impact)),
    ):
        want = np.sqrt(sum(mark.uncertainty_s**2 for mark in ends) / 3.0)  # rectangular
        assert stated[name] == pytest.approx(want, rel=1e-6)


def test_a_swing_carries_them_for_the_features_it_has(make_capture, label) -> None:
    swing = process_with_uncertainty(make_capture(), label, np.random.default_rng(0))
    assert swing.features.uncertainty.keys() == swing.features.values.keys()
    again = process_with_uncertainty(make_capture(), label, np.random.default_rng(0))
    assert again.features.uncertainty == swing.features.uncertainty
