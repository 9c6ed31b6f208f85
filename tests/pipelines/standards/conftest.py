"""An invented academy in a store, and a standard drafted and approved on it."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from norms.cohort.edition import build_edition
from norms.cohort.measurement_annexes import with_measurement
from norms.cohort.measurement_error import measurement_error
from norms.records import (
    DatedHandicap,
    Edition,
    EventMark,
    FeatureValues,
    Golfer,
    MeasurementError,
    PhaseCurve,
    Swing,
    SwingEvents,
    SwingLabel,
)
from norms.standards.asked import RangeAsked, RequirementAsked
from norms.standards.quantities import feature_quantity, stretch_quantity
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.manage_standard import (
    DraftRequest,
    approve_standard,
    draft_standard,
    review_standard,
)
from pipelines.store import Store, open_store

DAY, TODAY = date(2026, 5, 1), date(2026, 6, 10)
SIGNED = {"role": "director of coaching", "reason": "agreed with the coaches", "on": TODAY}
AGREED = SIGNED | {"role": "academy director"}
GOLFERS, SWINGS = 64, 6
TIMES = np.linspace(0.5, 2.0, 301)
MARKS = dict(
    zip(("address", "start", "top", "impact", "finish"), TIMES[[0, 0, 100, 200, 300]], strict=True)
)
SHAPE = np.sin(np.linspace(0.0, 3.0, 301))


def swing_of(code: str, number: int, day: date, value: float) -> Swing:
    return Swing(
        label=SwingLabel(
            swing=f"{code}-{number:03d}",
            golfer=code,
            club="driver",
            recorded_on=day,
            lab="North bay",
            source=f"{code}-{number}.c3d",
            content_hash=f"{code}{number:04d}",
        ),
        hand="right",
        rate_hz=240.0,
        curve=PhaseCurve(values_cm=value * SHAPE * np.ones((3, 1)), times_s=TIMES),
        events=SwingEvents(
            **{name: EventMark(time_s=float(at), method="given") for name, at in MARKS.items()}
        ),
        features=FeatureValues(values=dict.fromkeys(FEATURE_NAMES, value), missing={}),
        pelvis_method="harrington",
        axes_source="declared",
        shot_axes=np.eye(3),
        filled_share=np.zeros(3),
    )


def academy_swings() -> list[Swing]:
    """Golfers spread evenly from 4 to 16 cm; days move them by 0.2, swings by 0.5."""
    rng = np.random.default_rng(3)
    swings = []
    for i in range(GOLFERS):
        truth = 4.0 + 12.0 * i / (GOLFERS - 1)
        days = 0.2 * rng.normal(size=2)
        for k in range(SWINGS):
            day = DAY + timedelta(days=14 * (k % 2))
            value = truth + days[k % 2] + 0.5 * rng.normal()
            swings.append(swing_of(f"Q{i:04d}", k, day, value))
    return swings


def roster() -> list[Golfer]:
    return [
        Golfer(
            code=f"Q{i:04d}",
            hand="right",
            birth_year=1990,
            handicaps=(DatedHandicap(since=date(2025, 1, 1), index=9.0),),
        )
        for i in range(GOLFERS + 20)
    ]


def fill(store: Store) -> None:
    store.add_golfers(roster())
    run = store.begin_run("North bay", datetime(2026, 5, 1, tzinfo=UTC))
    store.add_swings(academy_swings(), [], run)
    edition, noise = frozen_norms()
    store.save_edition(with_measurement(edition, noise, ()), datetime.now(UTC))


@cache
def frozen_norms() -> tuple[Edition, dict[str, MeasurementError]]:
    """Edition and noise budget of the academy's swings as a store gives them back."""
    with open_store(":memory:") as store:
        store.add_golfers(roster())
        run = store.begin_run("North bay", datetime(2026, 5, 1, tzinfo=UTC))
        store.add_swings(academy_swings(), [], run)
        pool, golfers = store.swing_pool(), store.golfers()
    noise = {"driver": measurement_error(pool, "driver")}
    return build_edition("spring", pool, golfers), noise


@pytest.fixture
def store() -> Iterator[Store]:
    with open_store(":memory:") as opened:
        fill(opened)
        yield opened


def draft_request(file: Path, **facts) -> DraftRequest:
    whole = {
        "file": file,
        "name": "driver_2026",
        "title": "Driver, handicap 5 to 12",
        "edition": "spring",
        "evidence": "driver/to_12",
        "requirements": [
            RequirementAsked(quantity=feature_quantity("sway_travel"), range=RangeAsked()),
            RequirementAsked(
                quantity=stretch_quantity("lift", "top", "downswing 50"),
                range=RangeAsked(low_percentile=25),
            ),
        ],
        "review_on": date(2027, 5, 1),
        "rationale": "what we teach",
    }
    return DraftRequest(**(whole | facts))


@pytest.fixture
def drafted(store, tmp_path) -> Path:
    path = tmp_path / "driver.toml"
    draft_standard(store, draft_request(path))
    return path


@pytest.fixture
def approved(store, drafted) -> Path:
    review_standard(store, drafted, **SIGNED)
    approve_standard(store, "driver_2026", **AGREED)
    return drafted


@pytest.fixture(scope="session")
def make() -> SimpleNamespace:
    """The builders themselves, for tests that need another store or another draft."""
    return SimpleNamespace(
        swing=swing_of, swings=academy_swings, roster=roster, fill=fill, request=draft_request
    )
