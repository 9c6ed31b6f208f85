"""Bounds on position and rate after the filter, against exact truth; ends that are not bent."""

import numpy as np
import pytest

from norms.errors import SwingRefused
from norms.records import ConditioningChoice
from norms.swing.condition import HIGHEST_NYQUIST_SHARE, low_pass
from norms.swing.filter_error import filter_facts, noise_gains, rate_noise
from norms.swing.normalise import motion_spline
from norms.swing.process import process_capture
from norms.synthetic import SwingParameters, capture_times, true_path, true_rate

SWING = SwingParameters()
RATES = [60.0, 120.0, 240.0, 500.0, 1000.0]


def test_gains_are_those_of_filtered_white_noise() -> None:
    # residual: analytic value for a 10 Hz cutoff at 200 Hz; the others against 400,000 samples
    position, rate, removed = noise_gains(10.0, 200.0)
    assert removed == pytest.approx(0.91238, abs=1e-5)
    noise = low_pass(np.random.default_rng(0).normal(size=400_000), 200.0, 10.0)
    assert position == pytest.approx(noise.std(), rel=0.01)
    # central differences lose some of the fast part; a spectral derivative does not
    spectrum = np.fft.rfft(noise) * 2j * np.pi * np.fft.rfftfreq(len(noise), 1 / 200.0)
    assert rate == pytest.approx(np.fft.irfft(spectrum).std(), rel=0.01)


def test_the_noise_of_a_velocity_is_that_of_filtered_white_noise_in_any_axes() -> None:
    rng = np.random.default_rng(4)
    noise = rng.normal(scale=0.3, size=(20_000, 3))
    smooth = low_pass(noise, 240.0, 25.0)
    found = rate_noise(noise - smooth, 240.0, 25.0)
    assert found == pytest.approx(np.gradient(smooth, 1 / 240.0, axis=0).std(), rel=0.1)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    assert rate_noise((noise - smooth) @ turn, 240.0, 25.0) == pytest.approx(found, rel=1e-12)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("noise_cm", [0.01, 0.1, 0.5])
@pytest.mark.parametrize("cutoff_hz", [6.0, 12.0])
def test_the_error_of_a_rate_stays_within_its_bound(rate_hz, noise_cm, cutoff_hz) -> None:
    truth = true_path(SWING, capture_times(SWING, rate_hz))
    raw = truth + np.random.default_rng(1).normal(scale=noise_cm, size=truth.shape)
    smooth = low_pass(raw, rate_hz, cutoff_hz)
    within = slice(int(SWING.start_s * rate_hz), int(SWING.finish_s * rate_hz))
    facts = filter_facts(raw, smooth, rate_hz, cutoff_hz, method="fixed", within=within)
    np.testing.assert_allclose(facts.noise_sd_cm, noise_cm, rtol=0.35)
    times = np.linspace(SWING.start_s, SWING.finish_s, 2000)
    error = np.abs(motion_spline(smooth, rate_hz)(times, 1) - true_rate(SWING, times))
    assert (error <= facts.rate_bound_cm_s).mean() > 0.93
    # and the bound is no empty promise: it is of the size of the errors met
    assert (facts.rate_bound_cm_s < 4.0 * error.max(axis=0)).all()


@pytest.mark.parametrize("rate_hz", RATES)
def test_the_filter_does_not_bend_address_or_finish(rate_hz) -> None:
    """Cut close to start and finish, the curve there is as good as with a long run-up."""
    times = capture_times(SWING, rate_hz)
    truth = true_path(SWING, times)
    for first_s, last_s in ((SWING.start_s - 0.05, SWING.end_s), (0.0, SWING.finish_s)):
        kept = (times >= first_s) & (times <= last_s)
        cut = low_pass(truth[kept], rate_hz, 10.0)
        whole = low_pass(truth, rate_hz, 10.0)[kept]
        for end in (0, -1):
            assert np.abs(cut[end] - truth[kept][end]).max() < 0.005
        assert np.abs(cut - truth[kept]).max() < 1.2 * np.abs(whole - truth[kept]).max()


@pytest.mark.parametrize("cutoff_s", [1.2, 1.5])
def test_a_capture_that_ends_in_full_motion_keeps_its_end(cutoff_s) -> None:
    times = capture_times(SWING, 240.0)
    truth = true_path(SWING, times)[times <= cutoff_s]
    assert np.abs(low_pass(truth, 240.0, 10.0)[-1] - truth[-1]).max() < 0.02


@pytest.mark.parametrize("rate_hz", RATES)
def test_every_rate_from_60_to_1000_hz_gives_the_swing(make_capture, label, rate_hz) -> None:
    done = process_capture(make_capture(SWING, rate_hz=rate_hz, noise_cm=0.05), label)
    truth = true_path(SWING, done.curve.times_s).T
    assert np.abs(done.curve.values_cm - truth).max() < 0.25
    assert done.filtering is not None
    assert done.filtering.cutoff_hz == 12.0


def test_the_cutoff_chosen_from_the_capture_is_used_and_told(make_capture, label) -> None:
    choice = ConditioningChoice(cutoff="residual")
    done = process_capture(make_capture(conditioning=choice, noise_cm=0.1), label)
    assert done.filtering is not None
    assert done.filtering.cutoff_method == "residual analysis"
    assert 3.0 < done.filtering.cutoff_hz < 15.0
    (notice,) = [n for n in done.notices if n.code == "cutoff_chosen"]
    assert notice.severity == "note"
    assert f"{done.filtering.cutoff_hz:.1f} Hz" in notice.message


def test_a_cutoff_too_near_half_the_rate_is_lowered_and_told(make_capture, label) -> None:
    choice = ConditioningChoice(cutoff_hz=29.0)
    done = process_capture(make_capture(conditioning=choice, rate_hz=60.0), label)
    assert done.filtering is not None
    assert done.filtering.cutoff_hz == pytest.approx(HIGHEST_NYQUIST_SHARE * 30.0)
    assert done.filtering.cutoff_method == "lowered"
    assert "cutoff_lowered" in [n.code for n in done.notices]


def test_a_rate_that_residual_analysis_cannot_serve_is_refused_by_name(make_capture, label) -> None:
    choice = ConditioningChoice(cutoff="residual")
    with pytest.raises(SwingRefused, match="cutoff_hz") as refused:
        process_capture(make_capture(conditioning=choice, rate_hz=52.0), label)
    assert refused.value.code == "cutoff_unknown"
