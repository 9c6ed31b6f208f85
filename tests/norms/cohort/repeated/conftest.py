"""Pools of golfers measured again, with known variances between golfers, days and swings."""

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pytest

from norms.records import SwingPool
from norms.vocabulary import NODES

SDS = (3.0, 0.8, 1.2)


def make_pool(
    seed: int = 0,
    *,
    visits: list[tuple[int, int, str]] | None = None,
    golfers: int = 40,
    sds: tuple[float, float, float] = SDS,
    features: int = 3,
    swings: tuple[int, int] = (3, 6),
    curves: bool = False,
    change: Callable[[np.ndarray, int, str], np.ndarray] = lambda values, day, lab: values,
) -> SwingPool:
    """Swings of each visit (golfer, day, lab); by default two or three days in one lab.

    Curves are flat unless wanted. Means are 20 plus the golfer's own; ``change`` alters a visit's
    values as a lab would.
    """
    rng = np.random.default_rng(seed)
    if visits is None:
        visits = [(g, d, "north") for g in range(golfers) for d in range(rng.integers(2, 4))]
    columns = features + 1  # the last is the curves' common height
    level = {g: sds[0] * rng.normal(size=columns) for g in sorted({v[0] for v in visits})}
    rows, values = [], []
    for golfer, day, lab in visits:
        count = int(rng.integers(*swings)) if swings[0] < swings[1] else swings[0]
        on_day = 20 + level[golfer] + sds[1] * rng.normal(size=columns)
        values.append(change(on_day + sds[2] * rng.normal(size=(count, columns)), day, lab))
        rows += [(golfer, day, lab)] * count
    table = np.concatenate(values)
    shape = curves * np.sin(np.linspace(0, 3, NODES))
    return SwingPool(
        swings=tuple(f"s{row}" for row in range(len(rows))),
        golfers=tuple(f"Q{golfer:04d}" for golfer, _, _ in rows),
        clubs=("driver",) * len(rows),
        labs=tuple(lab for _, _, lab in rows),
        recorded_on=tuple(date(2025, 1, 1) + timedelta(days=7 * day) for _, day, _ in rows),
        curves_cm=table[:, -1, None, None] * np.array([1.0, 2.0, -1.0])[:, None] * shape,
        feature_names=tuple(f"feature_{i}" for i in range(features)),
        features=table[:, :features],
    )


@pytest.fixture
def pool() -> Callable[..., SwingPool]:
    return make_pool
