"""Invented swings and editions for the tests of the store."""

from collections.abc import Callable, Iterator
from datetime import date

import numpy as np
import pytest

from norms.errors import Notice
from norms.records import (
    Bands,
    Cohort,
    CohortDefinition,
    CohortNorms,
    Edition,
    EventMark,
    FeatureValues,
    Golfer,
    Level,
    PhaseCurve,
    Swing,
    SwingEvents,
    SwingLabel,
)
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.store import Store, open_store


def build_swing(number: int, golfer: str = "Q0001") -> Swing:
    rng = np.random.default_rng(number)
    times = np.cumsum(rng.uniform(1e-3, 1e-2, 301))
    marks = [times[0] / 2, times[0], times[100], times[200], times[300]]
    names = ("address", "start", "top", "impact", "finish")
    events = {
        name: EventMark(
            time_s=float(at), method="club reversal", stand_in=name == "top", uncertainty_s=1 / 240
        )
        for name, at in zip(names, marks, strict=True)
    }
    given = FEATURE_NAMES[:-2]
    return Swing(
        label=SwingLabel(
            swing=f"S{number:05d}",
            golfer=golfer,
            club="driver" if number % 2 else "iron 7",
            recorded_on=date(2026, 3, 1 + number % 28),
            lab="North bay",
            source=f"{number}.c3d",
            content_hash=f"{number:064x}",
        ),
        hand="left" if number % 5 == 0 else "right",
        rate_hz=240.0,
        curve=PhaseCurve(values_cm=rng.normal(0, 8, (3, 301)), times_s=times),
        events=SwingEvents(**events),
        features=FeatureValues(
            values=dict(zip(given, rng.normal(size=len(given)).tolist(), strict=True)),
            missing=dict.fromkeys(FEATURE_NAMES[-2:], "the phase is too short"),
        ),
        pelvis_method="harrington",
        axes_source="declared",
        shot_axes=np.linalg.qr(rng.normal(size=(3, 3)))[0],
        filled_share=rng.uniform(size=3),
        notices=(Notice(code="gap_filled", message="a gap of 0.05 s was filled"),),
    )


def build_edition(name: str = "2026", seed: int = 0, members: int = 4) -> Edition:
    rng = np.random.default_rng(seed)
    percents, names = (10.0, 50.0, 90.0), ("sway_top", "lift_low")
    curve = rng.normal(size=(3, 3, 3, 301))
    curve[:, 2] = np.nan  # a percentile that four golfers cannot support
    feature = rng.normal(size=(3, 3, 2))
    definition = CohortDefinition(
        key="driver/to_5", club="driver", level=Level(key="to_5", label="to 5", above=0.0, to=5.0)
    )
    features = rng.normal(size=(members, 2))
    features[0, 1] = np.nan
    cohort = Cohort(
        definition=definition,
        golfers=tuple(f"Q{n:04d}" for n in range(members)),
        swing_counts=np.arange(members) + 1,
        curves_cm=rng.normal(size=(members, 3, 301)),
        feature_names=names,
        features=features,
    )
    bands = Bands(
        percents=percents,
        golfers=members,
        swings=10,
        confidence=0.9,
        curve_cm=curve[0],
        curve_low_cm=curve[1],
        curve_high_cm=curve[2],
        feature_names=names,
        feature_golfers=np.array([4, 3]),
        feature=feature[0],
        feature_low=feature[1],
        feature_high=feature[2],
    )
    empty = Cohort(
        definition=CohortDefinition(key="iron 7/all", club="iron 7"),
        golfers=(),
        swing_counts=np.empty(0),
        curves_cm=np.empty((0, 3, 301)),
        feature_names=names,
        features=np.empty((0, 2)),
    )
    return Edition(
        name=name,
        cells=(
            CohortNorms(cohort=cohort, bands=bands),
            CohortNorms(cohort=empty, bands=None, withheld="0 golfers where 5 are needed"),
        ),
        parameters={"percents": [10.0, 90.0], "smallest_cell": 5, "confidence": 0.1 + 0.2},
        content_hash=f"{seed:064x}",
        attrition={"no consent": 3},
    )


@pytest.fixture(scope="session")
def make_swing() -> Callable[..., Swing]:
    return build_swing


@pytest.fixture(scope="session")
def make_edition() -> Callable[..., Edition]:
    return build_edition


@pytest.fixture
def store() -> Iterator[Store]:
    """A store in memory that knows one golfer."""
    with open_store(":memory:") as opened:
        opened.add_golfers([Golfer(code="Q0001", hand="right")])
        yield opened
