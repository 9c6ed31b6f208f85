"""An edition with shapes and a noise budget, of golfers drawn from a few known shapes."""

from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
import pytest

from norms.cohort.edition import build_edition
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.measurement_error import measurement_error
from norms.cohort.pattern_annexes import with_shapes
from norms.cohort.pattern_search import PatternChoices
from norms.cohort.roll import call_roll
from norms.placement.lookalikes import History, history_of
from norms.placement.pattern_names import plain_name
from norms.placement.place_golfer import PlacingGround, placing_ground
from norms.records import (
    BallSpeed,
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
    SwingPool,
)
from norms.swing.catalogue import FEATURE_NAMES
from norms.synthetic.shaped_club import ShapedPlan, shape_club
from norms.vocabulary import EVENTS

DAYS = (date(2025, 5, 1), date(2025, 9, 1))


class Ground(NamedTuple):
    pool: SwingPool
    roster: dict[str, Golfer]
    edition: Edition
    noise: dict[str, MeasurementError]
    placing: PlacingGround
    history: History


@pytest.fixture(scope="session")
def ground() -> Ground:
    rng = np.random.default_rng(5)
    drawn = shape_club(rng, ShapedPlan(golfers=60, level_shift=0.0))
    codes = [f"Q{i:04d}" for i in drawn.golfer]
    features = rng.normal(size=(len(codes), len(FEATURE_NAMES)))
    features += 2.0 * rng.normal(size=(60, len(FEATURE_NAMES)))[drawn.golfer]
    pool = SwingPool(
        swings=tuple(f"{code}-{i:03d}" for i, code in enumerate(codes)),
        golfers=tuple(codes),
        clubs=("driver",) * len(codes),
        labs=("North bay",) * len(codes),
        recorded_on=tuple(DAYS[session % 2] for session in drawn.session),
        curves_cm=drawn.curves_cm,
        feature_names=FEATURE_NAMES,
        features=features,
    )
    roster = {
        code: Golfer(
            code=code,
            hand="right",
            birth_year=1980,
            handicaps=(DatedHandicap(since=date(2025, 1, 1), index=6.0 + (i % 40) * 0.6),),
        )
        for i, code in enumerate(sorted(set(codes)))
    }
    edition = build_edition("spring", pool, roster)
    roll = call_roll(pool, roster, DEFAULT_LEVELS)
    handicaps = {"driver": {code: who.handicap_on(DAYS[0]) or 0.0 for code, who in roster.items()}}
    choices = PatternChoices(most=3, simulations=9, resamples=5, starts=3)
    edition = with_shapes(edition, roll, handicaps, plain_name, choices)
    noise = {"driver": measurement_error(pool, "driver")}
    speeds = {
        code: BallSpeed(swing=code, ball_speed_mps=60.0 + place % 7)
        for place, code in enumerate(pool.swings)
    }
    history = history_of(pool, speeds, dict.fromkeys(roster, "handicap over 5, to 12"))
    return Ground(pool, roster, edition, noise, placing_ground(edition, noise), history)


@pytest.fixture(scope="session")
def swing_at(ground):
    def make(row: int, *, golfer: str | None = None, day: date | None = None, shift_cm=0.0):
        pool = ground.pool
        marks = {
            event: EventMark(time_s=0.5 + 0.4 * i, method="club reversal")
            for i, event in enumerate(EVENTS)
        }
        ramp = np.linspace(0.0, 1.0, 301)
        return Swing(
            label=SwingLabel(
                swing=pool.swings[row] + ("" if golfer is None else f"-{golfer}"),
                golfer=golfer or pool.golfers[row],
                club="driver",
                recorded_on=day or pool.recorded_on[row] + timedelta(days=365),
                lab="North bay",
                source="new.c3d",
                content_hash="0" * 64,
            ),
            hand="right",
            rate_hz=240.0,
            curve=PhaseCurve(
                values_cm=pool.curves_cm[row] + shift_cm * ramp,
                times_s=np.linspace(0.9, 2.1, 301),
            ),
            events=SwingEvents(**marks),
            features=FeatureValues(
                values=dict(zip(FEATURE_NAMES, pool.features[row].tolist(), strict=True)),
                missing={},
            ),
            pelvis_method="harrington",
            axes_source="declared",
            shot_axes=np.eye(3),
            filled_share=np.zeros(3),
        )

    return make
