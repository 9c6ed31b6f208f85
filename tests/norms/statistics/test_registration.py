"""Registration takes out timing, leaves amplitude, and holds the ends."""

import numpy as np
import pytest

from norms.cohort.phase_registration import register_phases
from norms.statistics.registration import register

U = np.linspace(0.0, 1.0, 101)
SHAPES = np.stack([np.sin(2 * np.pi * U), 4 * U**2 * (1 - U), -np.sin(np.pi * U)])


def timed(rng: np.random.Generator, count: int, spread: float) -> np.ndarray:
    """The shapes at each unit's own times: u to the power exp(normal)."""
    power = np.exp(spread * rng.standard_normal(count))
    return np.stack([[np.interp(U**p, U, shape) for shape in SHAPES] for p in power])


def test_differences_of_timing_alone_are_nearly_all_removed() -> None:
    curves = timed(np.random.default_rng(0), 60, 0.2)
    done = register(curves)
    assert (done.variance_after / done.variance_before).max() < 0.1
    # a power is not among the warps tried: what is left is how near they come to one


def test_differences_of_amplitude_alone_stay() -> None:
    rng = np.random.default_rng(1)
    curves = SHAPES * (1.0 + 0.2 * rng.standard_normal((60, 3, 1)))
    done = register(curves)
    assert (done.variance_after / done.variance_before).min() > 0.9


def test_ends_stay_and_own_time_rises() -> None:
    curves = timed(np.random.default_rng(2), 20, 0.3) + 1.0
    done = register(curves)
    np.testing.assert_allclose(done.curves[..., [0, -1]], curves[..., [0, -1]], atol=1e-12)
    np.testing.assert_allclose(done.own_time[:, [0, -1]], [[0.0, 1.0]] * 20, atol=1e-12)
    assert (np.diff(done.own_time, axis=1) > 0).all()
    # a registered curve is its own curve read at its own time
    for curve, own, got in zip(curves, done.own_time, done.curves, strict=True):
        want = np.stack([np.interp(own, U, axis) for axis in curve])
        np.testing.assert_allclose(got, want, atol=1e-12)


def test_curves_all_alike_or_flat_keep_their_time() -> None:
    for curves in (
        np.repeat(SHAPES[None], 5, 0),
        np.ones((5, 3, 101)) * np.arange(5)[:, None, None],
    ):
        done = register(curves)
        np.testing.assert_allclose(done.own_time, np.broadcast_to(U, (5, 101)), atol=1e-12)


@pytest.mark.parametrize("curves", [np.ones((1, 3, 101)), np.full((4, 3, 101), np.nan)])
def test_what_cannot_be_registered_is_refused(curves) -> None:
    with pytest.raises(ValueError, match="finite"):
        register(curves)


def test_phases_are_registered_apart_and_events_stay() -> None:
    rng = np.random.default_rng(3)
    plain = np.repeat(SHAPES[None], 30, 0)
    curves = np.concatenate([plain, timed(rng, 30, 0.2)[..., 1:], plain[..., 1:]], axis=2)
    done = register_phases(curves)
    np.testing.assert_allclose(
        done.curves_cm[..., [0, 100, 200, 300]], curves[..., [0, 100, 200, 300]], atol=1e-12
    )
    assert done.removed_share_by_phase[1].min() > 0.9
    np.testing.assert_allclose(done.removed_share_by_phase[[0, 2]], 0.0, atol=1e-12)
    assert (np.diff(done.own_nodes, axis=1) > 0).all()
