from datetime import date

import numpy as np
import pytest

from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.roll import call_roll
from norms.errors import CohortRefused
from norms.records import BallSpeed, CohortDefinition, Golfer, SwingPool
from norms.study.frame import IMPOSSIBLE, IN_NO_COHORT, NO_SPEED, curve_rates, study_frame
from norms.swing.catalogue import FEATURE_NAMES

DRIVER = CohortDefinition(key="driver", name="driver", club="driver")


def made():
    golfers = {
        "Q1": Golfer(code="Q1", hand="right", sex="male", birth_year=1980, height_cm=180.0),
        "Q2": Golfer(code="Q2", hand="left"),
        "Q3": Golfer(code="Q3", hand="right", consents_norms=False),
    }
    who = ["Q1", "Q1", "Q1", "Q2", "Q2", "Q3"]
    clubs = ["driver", "driver", "iron 7", "driver", "driver", "driver"]
    pool = SwingPool(
        swings=tuple(f"S{n}" for n in range(6)),
        golfers=tuple(who),
        clubs=tuple(clubs),
        labs=("North bay",) * 6,
        recorded_on=(date(2026, 4, 1),) * 6,
        curves_cm=np.random.default_rng(1).normal(size=(6, 3, 301)),
        feature_names=FEATURE_NAMES,
        features=np.arange(6.0)[:, None] + np.arange(len(FEATURE_NAMES)),
    )
    speeds = {
        "S0": BallSpeed(swing="S0", ball_speed_mps=70.0, club_speed_mps=48.0),
        "S1": BallSpeed(swing="S1", ball_speed_mps=80.0, club_speed_mps=50.0),
        "S3": BallSpeed(swing="S3", ball_speed_mps=60.0),
    }
    times = {f"S{n}": np.linspace(0.0, 1.5, 301) for n in range(6)}
    return pool, golfers, speeds, times


def frame_of(definitions=(DRIVER,), patterns=None, drop_times=False):
    pool, golfers, speeds, times = made()
    roll = call_roll(pool, golfers, DEFAULT_LEVELS)
    known = {} if drop_times else times
    return study_frame(roll, definitions, golfers, speeds, known, patterns)


def test_rows_are_the_cohorts_swings_with_speeds_and_facts():
    frame = frame_of()
    assert frame.swings == ("S0", "S1", "S3", "S4")
    assert frame.golfers == ("Q1", "Q1", "Q2", "Q2")
    assert frame.golfer_facts["sex"].tolist()[:2] == [1.0, 1.0]
    assert np.isnan(frame.golfer_facts["sex"][2])
    assert frame.golfer_facts["age"][0] == 46.0
    assert frame.golfer_facts["height"][0] == 180.0
    assert np.isnan(frame.club_speed_mps[2])


def test_an_impossible_speed_is_flagged_and_missing_stays_missing():
    frame = frame_of()
    assert frame.ball_speed_mps[0] == 70.0
    assert np.isnan(frame.ball_speed_mps[[1, 3]]).all()
    assert frame.left_out[IMPOSSIBLE] == 1
    assert frame.left_out[NO_SPEED] == 1
    assert frame.left_out[IN_NO_COHORT] == 1
    assert frame.left_out["golfer did not agree that swings enter norms"] == 1


def test_several_clubs_are_several_definitions():
    iron = CohortDefinition(key="iron", name="iron", club="iron 7")
    assert frame_of((DRIVER, iron)).clubs.count("iron 7") == 1


def test_an_empty_cohort_is_refused():
    putter = CohortDefinition(key="putter", name="putter", club="putter")
    with pytest.raises(CohortRefused, match="no swing of the store belongs to it"):
        frame_of((putter,))


def test_patterns_become_features_by_swing_or_by_golfer():
    frame = frame_of(patterns={"early": {"Q1": 1.0, "S3": 0.25}})
    assert frame.feature_names[-1] == "pattern early"
    assert frame.features[:3, -1].tolist() == [1.0, 1.0, 0.25]
    assert np.isnan(frame.features[3, -1])


def test_rates_follow_each_phases_own_clock():
    nodes = np.arange(301)
    times = np.interp(nodes, [0, 100, 200, 300], [0.0, 0.8, 1.1, 1.9])
    curves = np.stack([3.0 * times, np.sin(2 * times), 0.0 * times])[None]
    rates = curve_rates(curves, ["S"], {"S": times})
    assert rates[0, 0] == pytest.approx(3.0)
    assert rates[0, 1] == pytest.approx(2 * np.cos(2 * times), abs=2e-3)
    assert rates[0, 2] == pytest.approx(0.0)


def test_without_times_there_are_no_rates():
    assert frame_of(drop_times=True).rates_cm_s is None
