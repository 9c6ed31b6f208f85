"""One edition of forty golfers of two levels, and swings to hold against it."""

from collections.abc import Callable
from datetime import date

import numpy as np
import pytest

from norms.cohort.edition import build_edition
from norms.errors import Notice
from norms.records import (
    DatedHandicap,
    Edition,
    EventMark,
    FeatureValues,
    Golfer,
    PhaseCurve,
    Swing,
    SwingEvents,
    SwingLabel,
    SwingPool,
)
from norms.swing.catalogue import FEATURE_NAMES
from norms.vocabulary import EVENTS, NODES

DAY = date(2026, 6, 1)


@pytest.fixture(scope="session")
def roster() -> dict[str, Golfer]:
    """Twenty of handicap 8, eight of handicap 15, three of handicap 30, nine without one."""
    indices = [8.0] * 20 + [15.0] * 8 + [30.0] * 3 + [None] * 9
    return {
        f"Q{i:04d}": Golfer(
            code=f"Q{i:04d}",
            hand="right",
            birth_year=1980,
            handicaps=() if h is None else (DatedHandicap(since=date(2025, 1, 1), index=h),),
        )
        for i, h in enumerate(indices)
    }


@pytest.fixture(scope="session")
def pool(roster) -> SwingPool:
    """Three swings of each; golfer i's features are i + 0.5 on average."""
    codes = [code for code in roster for _ in range(3)]
    numbers = np.repeat(np.arange(len(roster)) + 0.5, 3) + np.tile([-0.2, 0.0, 0.2], len(roster))
    return SwingPool(
        swings=tuple(f"{code}-{i}" for i, code in enumerate(codes)),
        golfers=tuple(codes),
        clubs=("driver",) * len(codes),
        labs=("North bay",) * len(codes),
        recorded_on=(date(2025, 6, 1),) * len(codes),
        curves_cm=numbers[:, None, None] * np.linspace(0, 1, NODES) * np.ones((3, 1)),
        feature_names=FEATURE_NAMES,
        features=np.repeat(numbers[:, None], len(FEATURE_NAMES), axis=1),
    )


@pytest.fixture(scope="session")
def edition(pool, roster) -> Edition:
    return build_edition("spring", pool, roster)


@pytest.fixture
def swing_of() -> Callable[..., Swing]:
    def make(
        code: str,
        value: float = 10.0,
        *,
        club: str = "driver",
        missing: dict[str, str] | None = None,
        stand_ins: tuple[str, ...] = (),
        axes_source: str = "declared",
        notices: tuple[Notice, ...] = (),
    ) -> Swing:
        missing = missing or {}
        marks = {
            event: EventMark(
                time_s=0.5 + 0.4 * i,
                method="hands reversal" if event in stand_ins else "club reversal",
                stand_in=event in stand_ins,
                uncertainty_s=0.02,
            )
            for i, event in enumerate(EVENTS)
        }
        return Swing(
            label=SwingLabel(
                swing=f"{code}-new",
                golfer=code,
                club=club,
                recorded_on=DAY,
                lab="Range hut",
                source="new.c3d",
                content_hash="0" * 64,
            ),
            hand="right",
            rate_hz=120.0,
            curve=PhaseCurve(
                values_cm=np.linspace(0, value, NODES) * np.ones((3, 1)),
                times_s=np.linspace(0.9, 2.1, NODES),
            ),
            events=SwingEvents(**marks),
            features=FeatureValues(
                values={name: value for name in FEATURE_NAMES if name not in missing},
                missing=missing,
            ),
            pelvis_method="harrington",
            axes_source=axes_source,
            shot_axes=np.eye(3),
            filled_share=np.zeros(3),
            notices=notices,
        )

    return make
