"""A store of two invented labs that measured the same golfers, with known faults."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from norms.records import (
    EventMark,
    FeatureValues,
    FileOutcome,
    Golfer,
    PhaseCurve,
    Swing,
    SwingEvents,
    SwingLabel,
)
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.collect.profile import Profile
from pipelines.lab_profiles import keep_profile
from pipelines.store import Store, open_store

FIRST_DAY = date(2026, 3, 2)
NOON = datetime(2026, 5, 1, 12, tzinfo=UTC)
LABS = ("North bay", "Range hut")
Change = Callable[[np.ndarray, str, int], np.ndarray]


def day_of(number: int) -> date:
    return FIRST_DAY + timedelta(days=number)


def profile(lab: str) -> Profile:
    points = ("left_asis", "right_asis", "left_psis", "right_psis", "club_head")
    return Profile.model_validate(
        {
            "lab": {"name": lab},
            "capture": {"file_name": "{golfer}_{date}_{club}_{number}"},
            "points": {name: name for name in points},
            "units": {"length": "mm"},
            "axes": {"source": "declared", "target": "+x", "up": "+z", "ball": "-y"},
            "rate": {"hz": 240},
            "events": {"source": "club"},
        }
    )


def swing(golfer: str, lab: str, day: int, number: int, values: np.ndarray) -> Swing:
    code = f"{golfer}_{day_of(day).isoformat()}_driver_{lab[0]}{number:02d}"
    times = np.linspace(1.0, 2.5, 301)
    names = ("address", "start", "top", "impact", "finish")
    at = (0.9, 1.0, 1.5, 2.0, 2.5)
    return Swing(
        label=SwingLabel(
            swing=code,
            golfer=golfer,
            club="driver",
            recorded_on=day_of(day),
            lab=lab,
            source=f"{code}.c3d",
            content_hash=code,
        ),
        hand="right",
        rate_hz=240.0,
        curve=PhaseCurve(values_cm=values[:3, None] * np.linspace(0.0, 1.0, 301), times_s=times),
        events=SwingEvents(
            **{
                name: EventMark(time_s=time, method="club")
                for name, time in zip(names, at, strict=True)
            }
        ),
        features=FeatureValues(
            values=dict(zip(FEATURE_NAMES, values.tolist(), strict=True)), missing={}
        ),
        pelvis_method="harrington",
        axes_source="declared",
        shot_axes=np.eye(3),
        filled_share=np.zeros(3),
    )


def build_store(
    store: Store,
    *,
    change: Change = lambda values, lab, day: values,
    golfers: int = 24,
    second_lab: int = 24,
    profiles: tuple[str, ...] = LABS,
) -> None:
    """Six days of the first lab for all golfers, four of them with the second lab for some."""
    rng = np.random.default_rng(5)
    codes = [f"Q{number:04d}" for number in range(golfers)]
    store.add_golfers([Golfer(code=code, hand="right") for code in codes])
    for lab in profiles:
        keep_profile(store, profile(lab))
    levels = {code: 20 + 3.0 * rng.normal(size=len(FEATURE_NAMES)) for code in codes}
    swings = []
    for day in range(6):
        labs = {LABS[0]: codes[day % 2 :: 2], LABS[1]: codes[:second_lab][day % 2 :: 2]}
        for lab, here in labs.items():
            if lab == LABS[1] and day > 3:
                continue
            for code in here:
                on_day = levels[code] + 0.4 * rng.normal(size=len(FEATURE_NAMES))
                for number in range(2):
                    values = on_day + 0.6 * rng.normal(size=len(FEATURE_NAMES))
                    swings.append(swing(code, lab, day, number, change(values, lab, day)))
    lost = FileOutcome(
        source=f"captures/Q0001_{day_of(1).isoformat()}_driver_91.c3d",
        lab=LABS[0],
        status="rejected",
        code="cut_short",
        message=f"Q0001_{day_of(1).isoformat()}_driver_91.c3d: cut short",
    )
    store.add_swings(swings, [lost], store.begin_run(LABS[0], NOON))


@pytest.fixture(scope="module")
def lab_store() -> Iterator[Callable[..., Store]]:
    """Make a store in memory; all that were made are closed in the end."""
    opened = []

    def make(**choices) -> Store:
        store = open_store(":memory:")
        opened.append(store)
        build_store(store, **choices)
        return store

    yield make
    for store in opened:
        store.close()


@pytest.fixture(scope="session")
def session_day() -> Callable[[int], date]:
    return day_of
