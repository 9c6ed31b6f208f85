"""Invented rows of a study, with known effects."""

from collections.abc import Callable

import numpy as np
import pytest

from norms.records.study import StudyFrame

WAVES = np.stack([np.sin((k + 1) * np.arange(301) / 150.0) for k in range(4)])
NAMES = ("sway_travel", "lift_rise", "thrust_late_rise", "tempo")


def build_frame(
    seed: int = 1,
    golfers: int = 60,
    *,
    within: tuple[float, ...] = (0.45, 0.0, 0.60, 0.0),
    between: tuple[float, ...] = (0.0, 0.5, -0.90, 0.0),
    curves: bool = False,
    clubs: tuple[str, ...] = ("driver",),
) -> StudyFrame:
    """Swings whose ball speed follows the demo's truth in small."""
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(golfers), rng.integers(2, 11, golfers))
    swings = len(code)
    means = rng.normal(size=(golfers, 4))
    deviations = 0.7 * rng.normal(size=(swings, 4))
    features = np.array([10.0, 5.0, 3.0, 3.0]) + means[code] + deviations
    sex = rng.integers(0, 2, golfers).astype(float)[code]
    height = 165.0 + 12 * sex + 6 * rng.normal(size=golfers)[code]
    club = np.array(clubs)[rng.integers(0, len(clubs), swings)]
    speed = 62 + 7 * sex + 0.1 * (height - 172) + 2 * rng.normal(size=golfers)[code]
    speed += deviations @ within + means[code] @ between + 0.7 * rng.normal(size=swings)
    speed = speed - 19.0 * (club != "driver")
    paths = (means[code] + deviations) @ WAVES if curves else None
    return StudyFrame(
        swings=tuple(f"S{n:05d}" for n in range(swings)),
        golfers=tuple(f"Q{n:04d}" for n in code),
        clubs=tuple(club.tolist()),
        labs=tuple(np.array(["North bay", "Range hut"])[rng.integers(0, 2, swings)].tolist()),
        ball_speed_mps=speed,
        club_speed_mps=speed / 1.45,
        golfer_facts={
            "sex": sex,
            "age": rng.integers(18, 70, golfers).astype(float)[code],
            "height": height,
        },
        feature_names=NAMES,
        feature_units=("cm", "cm", "cm", "ratio"),
        feature_labels=("forward travel", "rise to impact", "late move toward the ball", "tempo"),
        features=features,
        curves_cm=None if paths is None else np.stack([paths, 0.5 * paths, -paths], axis=1),
        rates_cm_s=None,
    )


@pytest.fixture(scope="session")
def make_frame() -> Callable[..., StudyFrame]:
    return build_frame
