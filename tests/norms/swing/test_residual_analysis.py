import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.swing.condition import design_cutoff, low_pass
from norms.swing.residual_analysis import choose_cutoff, residual_rms

# Residual of white noise of SD 1 at 200 Hz after the corrected dual pass, and the line through
# it from 20 to 60 Hz: analytic values, computed from the filter's gain.
WHITE_NOISE = {5.0: 0.95618, 10.0: 0.91238, 20.0: 0.82815, 40.0: 0.67531}
LINE = (0.97177, -0.0073743)


def white_residual(cutoff_hz: float, rate_hz: float = 200.0) -> float:
    """Root mean square of 1 - gain over all frequencies."""
    frequency = (np.arange(20_000) + 0.5) / 20_000 * rate_hz / 2
    warped = np.tan(np.pi * frequency / rate_hz)
    warped /= np.tan(np.pi * design_cutoff(cutoff_hz, rate_hz) / rate_hz)
    return float(np.sqrt(np.mean((1 - 1 / (1 + warped**4)) ** 2)))


def pelvis_like(rate_hz: float) -> np.ndarray:
    """Smooth sway, thrust and lift in cm, quickest in the downswing."""
    t = np.arange(0, 2.5, 1 / rate_hz)
    sway = 5 * np.tanh((t - 1.5) / 0.12) + 2 * np.sin(2 * np.pi * 0.7 * t)
    thrust = -4 * np.exp(-(((t - 1.4) / 0.15) ** 2))
    lift = 3 * np.exp(-(((t - 1.5) / 0.08) ** 2))
    return np.stack([sway, thrust, lift], axis=1)


def test_residual_of_white_noise_is_the_analytic_one():
    noise = np.random.default_rng(0).normal(size=(200_000, 1))
    found = residual_rms(noise, 200.0, np.array(list(WHITE_NOISE)))[:, 0]
    np.testing.assert_allclose(found, list(WHITE_NOISE.values()), rtol=5e-3)
    analytic = [white_residual(cutoff) for cutoff in WHITE_NOISE]
    np.testing.assert_allclose(analytic, list(WHITE_NOISE.values()), atol=1e-5)


def test_line_through_white_noise_tells_its_size_three_percent_low():
    cutoffs = np.linspace(20, 60, 41)
    slope, intercept = np.polyfit(cutoffs, [white_residual(c) for c in cutoffs], 1)
    assert (intercept, slope) == pytest.approx(LINE, abs=1e-3)
    noise = np.random.default_rng(1).normal(size=(20_000, 2)) * [0.1, 0.3]
    found = choose_cutoff(noise, 200.0, tail_hz=(20.0, 60.0)).noise_sd
    np.testing.assert_allclose(found, 0.97177 * np.array([0.1, 0.3]), rtol=0.02)


@pytest.mark.parametrize(("rate_hz", "tail_hz", "other"), [
    (120.0, (12.0, 20.0), [4.004, 4.215, 6.068]),
    (240.0, (16.0, 30.0), [4.155, 5.147, 6.478]),
])  # fmt: skip
def test_cutoffs_are_those_of_an_independent_residual_analysis(rate_hz, tail_hz, other):
    """The package optcutfreq 0.0.10 on the same samples and tail.

    It tries cutoffs a hertz apart, draws a spline through their residuals and does not warp the
    correction for two passes, whence the tolerance; the tail lies where warping hardly matters.
    """
    truth = pelvis_like(rate_hz)
    raw = truth + 0.05 * np.random.default_rng(3).normal(size=truth.shape)
    found = choose_cutoff(raw, rate_hz, tail_hz=tail_hz).coordinate_cutoff_hz
    np.testing.assert_allclose(found, other, rtol=0.07)


@pytest.mark.parametrize("rate_hz", [60.0, 120.0, 240.0, 500.0])
@pytest.mark.parametrize("noise_cm", [0.01, 0.05, 0.2])
def test_chosen_cutoff_comes_near_the_best_that_hindsight_gives(rate_hz, noise_cm):
    truth = pelvis_like(rate_hz)
    raw = truth + noise_cm * np.random.default_rng(3).normal(size=truth.shape)

    def error(cutoff_hz: float) -> float:
        return float(np.sqrt(((low_pass(raw, rate_hz, cutoff_hz) - truth) ** 2).mean(axis=0)).max())

    chosen = choose_cutoff(raw, rate_hz)
    best = min(error(cutoff) for cutoff in np.linspace(3, min(30, 0.38 * rate_hz), 28))
    assert error(chosen.cutoff_hz) <= 1.45 * best
    np.testing.assert_allclose(chosen.noise_sd, noise_cm, rtol=0.25)


def test_the_quickest_coordinate_decides():
    raw = pelvis_like(240.0) + 0.05 * np.random.default_rng(2).normal(size=(600, 3))
    chosen = choose_cutoff(raw, 240.0)
    assert chosen.cutoff_hz == chosen.coordinate_cutoff_hz.max()
    assert chosen.coordinate_cutoff_hz.argmax() == 2
    alone = choose_cutoff(raw[:, [2]], 240.0)
    assert alone.cutoff_hz == pytest.approx(chosen.cutoff_hz)


def test_without_noise_nothing_needs_cutting():
    flat = np.zeros((200, 2))
    chosen = choose_cutoff(flat, 120.0)
    assert chosen.cutoff_hz == chosen.cutoffs_hz[-1]
    assert np.isnan(chosen.coordinate_cutoff_hz).all()
    assert chosen.noise_sd.tolist() == [0.0, 0.0]


@settings(max_examples=20, deadline=None)
@given(shift=st.floats(-100, 100), scale=st.floats(0.1, 10) | st.floats(-10, -0.1))
def test_choice_ignores_unit_zero_and_direction(shift, scale):
    raw = pelvis_like(120.0) + 0.05 * np.random.default_rng(7).normal(size=(300, 3))
    before, after = choose_cutoff(raw, 120.0), choose_cutoff(shift + scale * raw, 120.0)
    assert after.cutoff_hz == pytest.approx(before.cutoff_hz, rel=1e-6)
    np.testing.assert_allclose(after.noise_sd, abs(scale) * before.noise_sd, rtol=1e-6)


@pytest.mark.parametrize("samples", [np.zeros((49, 1)), np.zeros(100), np.full((100, 1), np.nan)])
def test_samples_that_cannot_be_analysed_are_refused(samples):
    with pytest.raises(ValueError, match="50 or more finite samples"):
        choose_cutoff(samples, 120.0)


def test_a_rate_without_room_for_noise_is_refused():
    with pytest.raises(ValueError, match="no band of noise"):
        choose_cutoff(np.zeros((100, 1)), 50.0)
