"""An invented academy whose golfers' truths, days and swings are known, and a standard on it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pytest

from norms.cohort.edition import build_edition
from norms.cohort.measurement_error import measurement_error
from norms.records import DatedHandicap, Edition, Golfer, MeasurementError, SwingPool
from norms.records.standard import Standard
from norms.standards.asked import RangeAsked, RequirementAsked, StandardAsked
from norms.standards.quantities import feature_quantity
from norms.standards.resolve import resolve
from norms.vocabulary import NODES

FEATURES = ("sway_travel", "thrust_impact", "lift_rise", "tempo")
GOLFER_SD, DAY_SD, SWING_SD = 2.0, 0.3, 0.8
DAY = date(2026, 5, 1)
SHAPE = np.sin(np.linspace(0.0, 3.0, NODES))


@dataclass(frozen=True, kw_only=True)
class Academy:
    pool: SwingPool
    golfers: dict[str, Golfer]
    edition: Edition
    noise: MeasurementError
    truths: np.ndarray


def build_academy(per_level: int = 80, days: int = 2, swings: int = 3, seed: int = 1) -> Academy:
    """Golfers of handicap 3, 9 and 16; the better ones travel farther forward."""
    rng = np.random.default_rng(seed)
    handicaps = np.repeat([3.0, 9.0, 16.0], per_level)
    n = len(handicaps)
    golfers = {
        f"Q{i:04d}": Golfer(
            code=f"Q{i:04d}",
            hand="right",
            sex="female" if i % 2 else "male",
            birth_year=2010 if i % 4 == 0 else 1985,
            handicaps=(DatedHandicap(since=date(2025, 1, 1), index=float(h)),),
        )
        for i, h in enumerate(handicaps)
    }
    truths = 10.0 + GOLFER_SD * rng.normal(size=(n, len(FEATURES)))
    truths[:, 0] += (9.0 - handicaps) / 6.0
    golfer = np.repeat(np.arange(n), days * swings)
    day = np.tile(np.repeat(np.arange(days), swings), n)
    by_day = DAY_SD * rng.normal(size=(n, days, len(FEATURES)))
    features = truths[golfer] + by_day[golfer, day]
    features += SWING_SD * rng.normal(size=features.shape)
    codes = [f"Q{i:04d}" for i in golfer]
    pool = SwingPool(
        swings=tuple(f"{code}-{k:02d}" for k, code in enumerate(codes)),
        golfers=tuple(codes),
        clubs=("driver",) * len(codes),
        labs=("North bay",) * len(codes),
        recorded_on=tuple(DAY + timedelta(days=7 * int(d)) for d in day),
        curves_cm=features[:, :3, None] * SHAPE,
        feature_names=FEATURES,
        features=features,
    )
    return Academy(
        pool=pool,
        golfers=golfers,
        edition=build_edition("spring", pool, golfers),
        noise=measurement_error(pool, "driver"),
        truths=truths,
    )


@pytest.fixture(scope="session")
def academy() -> Academy:
    return build_academy()


@pytest.fixture(scope="session")
def small_academy() -> Academy:
    """Forty golfers of a level: provisional, below the floor."""
    return build_academy(per_level=40)


@pytest.fixture(scope="session")
def asked_of() -> Callable[..., StandardAsked]:
    def make(**facts) -> StandardAsked:
        usual = RangeAsked(low_percentile=10, high_percentile=90)
        whole = {
            "name": "driver_to_12",
            "title": "Driver, 5 to 12",
            "edition": "spring",
            "evidence": "driver/to_12",
            "requirements": tuple(
                RequirementAsked(quantity=feature_quantity(name), range=usual)
                for name in FEATURES[:2]
            ),
            "rationale": "what the academy teaches",
            "review_on": date(2027, 5, 1),
        }
        return StandardAsked(**(whole | facts))

    return make


@pytest.fixture(scope="session")
def standard_of(academy, asked_of) -> Callable[..., Standard]:
    def make(academy: Academy = academy, **facts) -> Standard:
        standard, findings = resolve(asked_of(**facts), academy.edition)
        assert standard is not None, findings
        return standard

    return make


@pytest.fixture(scope="session")
def ranges() -> Callable[..., tuple[RequirementAsked, ...]]:
    """Requirements of own numbers with a reason: feature name to (low, high)."""

    def make(**ends) -> tuple[RequirementAsked, ...]:
        return tuple(
            RequirementAsked(
                quantity=feature_quantity(name),
                range=RangeAsked(low=low, high=high, reason="decided by the coaches"),
            )
            for name, (low, high) in ends.items()
        )

    return make
