"""Filters and gap filling, against published constants and values from independent software."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import freqz

from norms.swing.condition import (
    _coefficients,
    cutoff_correction,
    design_cutoff,
    fill_gaps,
    gap_lengths,
    low_pass,
    seen_samples,
    usable_cutoff,
)

REFERENCE = Path(__file__).parents[2] / "reference" / "signal"
CASES = {c["id"]: c for c in json.loads((REFERENCE / "signal.json").read_text())["cases"]}


@pytest.mark.parametrize(
    ("order", "expected"),
    # Winter, Biomechanics and Motor Control of Human Movement: 0.802 for two second-order passes
    [(1, 0.643594), (2, 0.802243), (3, 0.863384), (4, 0.895680), (6, 0.929185)],
)
def test_cutoff_correction_for_two_passes_is_winters(order: int, expected: float) -> None:
    assert cutoff_correction(2, order) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("case", [c for c in CASES if c.startswith("butter_n2")])
def test_one_pass_matches_a_butterworth_written_from_its_poles(case: str) -> None:
    want = CASES[case]["expected"]
    fc, fs = CASES[case]["fc"], CASES[case]["fs"]
    assert design_cutoff(fc, fs) == pytest.approx(want["fc_prewarped"], abs=1e-8)
    b, a = _coefficients(fc, fs)
    np.testing.assert_allclose(b, want["b"], atol=1e-8)
    np.testing.assert_allclose(a, want["a"], atol=1e-8)


def test_winter_recursion_coefficients_at_100_hz() -> None:
    # Winter's recursion, 6 Hz at 100 Hz, recomputed with the corrected and prewarped cutoff
    b, a = _coefficients(6.0, 100.0)
    np.testing.assert_allclose(b, [0.0405946814, 0.0811893629, 0.0405946814], atol=1e-9)
    np.testing.assert_allclose(a, [1.0, -1.3547488152, 0.5171275410], atol=1e-9)


@given(st.floats(1.0, 40.0), st.floats(100.0, 1000.0))
def test_gain_at_the_cutoff_is_one_over_root_two_after_both_passes(
    cutoff: float, rate: float
) -> None:
    b, a = _coefficients(cutoff, rate)
    _, response = freqz(b, a, worN=[cutoff], fs=rate)
    assert abs(response[0]) ** 2 == pytest.approx(2.0**-0.5, abs=1e-8)


def test_filtering_forth_and_back_matches_independent_software() -> None:
    raw, want = np.loadtxt(
        REFERENCE / "filtfilt.csv", delimiter=",", skiprows=1, usecols=(1, 2), unpack=True
    )
    got = low_pass(raw, 240.0, 6.0, pad_samples=9)  # the reference pads nine samples
    np.testing.assert_allclose(got, want, atol=1e-8)


def test_a_slow_sine_passes_nearly_unchanged() -> None:
    # Analytic pass-band loss at 200 Hz with a 10 Hz cutoff: 0.99936 at 2 Hz
    t = np.arange(2000) / 200.0
    sine = np.sin(2 * np.pi * 2.0 * t)
    inner = low_pass(sine, 200.0, 10.0)[400:1600]
    assert np.abs(inner).max() == pytest.approx(0.99936, abs=1e-4)


@given(st.integers(60, 400), st.floats(-50, 50), st.floats(-3, 3))
def test_a_straight_line_is_not_bent_at_its_ends(n: int, offset: float, slope: float) -> None:
    line = offset + slope * np.arange(n)
    np.testing.assert_allclose(low_pass(line, 120.0, 10.0), line, atol=1e-6)


def test_a_cutoff_beyond_nyquist_is_lowered() -> None:
    assert usable_cutoff(100.0, 120.0) == pytest.approx(48.0)
    assert usable_cutoff(10.0, 120.0) == 10.0


def test_gap_runs_are_first_and_one_past_last() -> None:
    seen = np.array([False, True, True, False, False, True, False])
    assert gap_lengths(seen) == [(0, 1), (3, 5), (6, 7)]


def test_short_gaps_are_filled_close_to_the_truth() -> None:
    t = np.arange(240) / 240.0
    truth = np.stack([np.sin(2 * np.pi * t), np.cos(2 * np.pi * t), t], axis=1) * 10.0
    broken = truth.copy()
    broken[100:110] = np.nan
    filled, was_filled = fill_gaps(broken, longest_samples=12)
    assert was_filled.sum() == 10
    np.testing.assert_allclose(filled, truth, atol=0.02)


def test_long_gaps_and_ends_stay_open() -> None:
    path = np.ones((100, 3))
    path[:5] = path[40:60] = path[97:] = np.nan
    filled, was_filled = fill_gaps(path, longest_samples=10)
    assert not was_filled.any()
    assert np.isnan(filled[[0, 50, 99]]).all()


@pytest.mark.parametrize("gap", [4, 12, 24])
def test_noise_beside_a_gap_is_not_blown_up_inside_it(gap: int) -> None:
    rng = np.random.default_rng(5)
    t = np.arange(240) / 240.0
    errors = []
    for _ in range(200):
        truth = np.stack([np.sin(2 * np.pi * t + rng.uniform(0, 6))] * 3, axis=1) * 5.0
        broken = truth + rng.normal(scale=0.1, size=truth.shape)
        broken[100 : 100 + gap] = np.nan
        errors.append((fill_gaps(broken, 24)[0] - truth)[100 : 100 + gap])
    assert np.sqrt(np.mean(np.square(errors))) < 0.1  # no worse than a seen sample


@pytest.mark.parametrize("shape", [(0,), (3,), (2, 3)])
def test_no_sample_at_all_is_seen_as_none(shape):
    assert seen_samples(np.zeros((0, *shape))).shape == (0,)


def test_a_sample_is_seen_where_every_coordinate_of_every_point_is():
    points = np.zeros((3, 2, 3))
    points[1, 1, 2], points[2, 0, 0] = np.nan, np.inf
    assert seen_samples(points).tolist() == [True, False, False]
