"""Spikes are found and taken out; motion and noise are left alone."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.swing.process import process_capture
from norms.swing.spikes import find_spikes
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths, true_path

SWING = SwingParameters()


def path(role: str, rate: float, noise_cm: float, seed: int = 0) -> np.ndarray:
    clean = marker_paths(SWING, Body(), capture_times(SWING, rate))[role]
    return clean + np.random.default_rng(seed).normal(scale=noise_cm, size=clean.shape)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([60.0, 120.0, 240.0, 500.0]),
    st.integers(1, 3),
    st.floats(0.1, 0.9),
    st.integers(0, 99),
)
def test_a_spike_is_found_where_it_is_and_nowhere_else(rate, length, share, seed) -> None:
    spiked = path("left_asis", rate, 0.05, seed)
    first = int(share * len(spiked))
    direction = np.random.default_rng(seed).normal(size=3)
    spiked[first : first + length] += 6.0 * direction / np.linalg.norm(direction)
    found = find_spikes(spiked, rate)
    assert np.flatnonzero(found.samples).tolist() == list(range(first, first + length))
    assert found.lasting_jumps == ()


@pytest.mark.parametrize("rate", [60.0, 120.0, 240.0, 500.0, 1000.0])
@pytest.mark.parametrize("noise_cm", [0.0, 0.01, 0.1, 0.5])
@pytest.mark.parametrize("role", ["right_psis", "left_hand", "club_head"])
def test_clean_motion_holds_no_spikes(role, noise_cm, rate) -> None:
    found = find_spikes(path(role, rate, noise_cm), rate)
    assert not found.samples.any()
    assert found.lasting_jumps == ()


def test_a_jump_that_stays_is_told_and_not_taken_out() -> None:
    jumped = path("left_asis", 240.0, 0.05)
    jumped[300:] += [0.0, 9.0, 0.0]
    found = find_spikes(jumped, 240.0)
    assert found.lasting_jumps == (300,)
    assert not found.samples.any()


def test_a_swing_with_spikes_in_pelvis_and_club_is_that_without(make_capture, label) -> None:
    def spike(paths: dict[str, np.ndarray]) -> None:
        paths["left_asis"][330:332] += 12.0
        paths["club_head"][60] += [0.0, 0.0, 150.0]

    done = process_capture(make_capture(spoil=spike, noise_cm=0.03), label)
    assert {n.code for n in done.notices} == {"spikes_removed", "gap_filled"}
    truth = true_path(SWING, done.curve.times_s).T
    assert np.abs(done.curve.values_cm - truth).max() < 0.15
    assert done.events.start.time_s == pytest.approx(SWING.start_s, abs=0.03)


def test_without_the_search_the_same_spikes_would_show(make_capture, label, monkeypatch) -> None:
    def spike(paths: dict[str, np.ndarray]) -> None:
        paths["left_asis"][330:332] += 12.0

    monkeypatch.setattr("norms.swing.process.without_spikes", lambda capture: (capture, ()))
    done = process_capture(make_capture(spoil=spike, noise_cm=0.03), label)
    truth = true_path(SWING, done.curve.times_s).T
    assert np.abs(done.curve.values_cm - truth).max() > 0.5


def test_a_lasting_jump_of_a_pelvis_marker_is_a_warning(make_capture, label) -> None:
    def jump(paths: dict[str, np.ndarray]) -> None:
        paths["right_psis"][450:] += [3.0, 0.0, 3.0]

    done = process_capture(make_capture(spoil=jump), label)
    assert "marker_jump" in [n.code for n in done.notices]
