"""Small pools of swings with known membership."""

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pytest

from norms.records import DatedHandicap, Golfer, SwingPool
from norms.vocabulary import NODES

START = date(2025, 5, 1)
FEATURES = ("sway_travel", "tempo")


@pytest.fixture
def golfer() -> Callable[..., Golfer]:
    def make(code: str, handicap: float | None = 8.0, **facts) -> Golfer:
        handicaps = () if handicap is None else (DatedHandicap(since=START, index=handicap),)
        return Golfer(**({"code": code, "hand": "right", "handicaps": handicaps} | facts))

    return make


@pytest.fixture
def pool_of() -> Callable[..., SwingPool]:
    def make(
        swing_counts: dict[str, int], *, seed: int = 0, clubs: tuple[str, ...] = ("driver",)
    ) -> SwingPool:
        """Swings of each golfer over several days, clubs in turn; curves start at zero."""
        rng = np.random.default_rng(seed)
        rows = [
            (code, clubs[i % len(clubs)], START + timedelta(days=7 * (i // 3)), f"{code}-{i:03d}")
            for code, count in swing_counts.items()
            for i in range(count)
        ]
        shape = np.sin(np.linspace(0, 3, NODES))
        features = rng.normal(size=(len(rows), len(FEATURES)))
        features[::7, 1] = np.nan
        return SwingPool(
            swings=tuple(row[3] for row in rows),
            golfers=tuple(row[0] for row in rows),
            clubs=tuple(row[1] for row in rows),
            labs=("North bay",) * len(rows),
            recorded_on=tuple(row[2] for row in rows),
            curves_cm=rng.normal(2, 3, size=(len(rows), 3, 1)) * shape,
            feature_names=FEATURES,
            features=features,
        )

    return make


@pytest.fixture
def rearranged() -> Callable[[SwingPool, np.ndarray], SwingPool]:
    def make(pool: SwingPool, order: np.ndarray) -> SwingPool:
        """The same pool with its rows chosen and ordered by ``order``; repeats get new codes."""
        seen: dict[int, int] = {}
        swings = []
        for row in order.tolist():
            seen[row] = seen.get(row, 0) + 1
            swings.append(pool.swings[row] + "'" * (seen[row] - 1))
        return SwingPool(
            swings=tuple(swings),
            golfers=tuple(pool.golfers[row] for row in order),
            clubs=tuple(pool.clubs[row] for row in order),
            labs=tuple(pool.labs[row] for row in order),
            recorded_on=tuple(pool.recorded_on[row] for row in order),
            curves_cm=pool.curves_cm[order],
            feature_names=pool.feature_names,
            features=pool.features[order],
        )

    return make
