"""Captures of invented swings with known truth, for the tests of the swing room."""

from collections.abc import Callable
from datetime import date

import numpy as np
import pytest

from norms.records import Capture, ConditioningChoice, LabAxes, SwingLabel
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths

CaptureMaker = Callable[..., Capture]


@pytest.fixture(scope="session")
def label() -> SwingLabel:
    return SwingLabel(
        swing="Q0001_2026-05-14_driver_01",
        golfer="Q0001",
        club="driver",
        recorded_on=date(2026, 5, 14),
        lab="North bay",
        source="Q0001_2026-05-14_driver_01.c3d",
        content_hash="0" * 64,
    )


@pytest.fixture(scope="session")
def make_capture() -> CaptureMaker:
    """Capture of a synthetic swing in canonical laboratory axes: x target, z up."""

    def make(
        swing: SwingParameters | None = None,
        *,
        rate_hz: float = 240.0,
        hand: str = "right",
        noise_cm: float = 0.0,
        seed: int = 0,
        end_s: float | None = None,
        begin_s: float = 0.0,
        leave_out: tuple[str, ...] = (),
        spoil: Callable[[dict[str, np.ndarray]], None] | None = None,
        **fields: object,
    ) -> Capture:
        swing = swing or SwingParameters()
        times = capture_times(swing, rate_hz)
        times = times[(times >= begin_s) & (times <= (swing.end_s if end_s is None else end_s))]
        paths = marker_paths(swing, Body(), times, hand)  # type: ignore[arg-type]
        rng = np.random.default_rng(seed)
        paths = {
            role: path + rng.normal(scale=noise_cm, size=path.shape) if noise_cm else path.copy()
            for role, path in paths.items()
            if role not in leave_out
        }
        if spoil is not None:
            spoil(paths)
        defaults: dict[str, object] = {
            "axes": LabAxes(source="declared", up=(0, 0, 1), target=(1, 0, 0)),
            "conditioning": ConditioningChoice(cutoff_hz=12.0),
        }
        return Capture(
            points_cm=np.stack(list(paths.values()), axis=1),
            roles=tuple(paths),
            rate_hz=rate_hz,
            hand=hand,  # type: ignore[arg-type]
            **(defaults | fields),  # type: ignore[arg-type]
        )

    return make
