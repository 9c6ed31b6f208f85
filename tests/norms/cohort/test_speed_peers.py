import numpy as np
import pytest

from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import call_roll
from norms.cohort.speed_peers import (
    GolferCovariates,
    golfer_covariates,
    peers_document,
    peers_two_ways,
)
from norms.records import BallSpeed, Cohort, CohortDefinition

ALL = CohortDefinition(key="driver/all", club="driver")


@pytest.fixture
def academy():
    """Sway travel goes with ball speed alone; at each handicap some golfers are fast."""
    rng = np.random.default_rng(0)
    n = 400
    handicaps, speeds = rng.uniform(0, 30, n), rng.normal(62, 5, n)
    travel = speeds - 50 + rng.normal(0, 1, n)
    cohort = Cohort(
        definition=ALL,
        golfers=tuple(f"Q{i:04d}" for i in range(n)),
        swing_counts=np.ones(n),
        curves_cm=np.zeros((n, 3, 301)),
        feature_names=("sway_travel", "tempo"),
        features=np.column_stack([travel, rng.normal(3, 0.3, n)]),
    )
    return cohort, GolferCovariates(golfers=cohort.golfers, handicaps=handicaps, speeds_mps=speeds)


def test_a_deviation_that_goes_with_speed_vanishes_at_like_speed(academy):
    cohort, covariates = academy
    features = {"sway_travel": 22.0, "tempo": 3.0}
    result = peers_two_ways("N1", features, cohort, covariates, handicap=12.0, speed_mps=72.0)
    travel, tempo = result.places
    assert travel.at_like_handicap.percentile > 90
    assert 10 < travel.at_like_speed.percentile < 90
    assert travel.finding == "stands out at like handicap, not at like ball speed"
    assert tempo.finding == "in the range of both"
    assert "not being caused" in result.caution


def test_the_other_findings(academy):
    cohort, covariates = academy

    def finding(travel, speed):
        result = peers_two_ways(
            "N1", {"sway_travel": travel}, cohort, covariates, handicap=12.0, speed_mps=speed
        )
        return result.places[0].finding

    assert finding(30.0, 62.0) == "stands out among both"
    assert finding(12.0, 70.0) == "stands out at like ball speed, not at like handicap"
    assert finding(12.0, None) == "not known"


def test_the_golfer_is_no_peer_of_their_own(academy):
    cohort, covariates = academy
    own = {"handicap": float(covariates.handicaps[7]), "speed_mps": float(covariates.speeds_mps[7])}
    inside = peers_two_ways("Q0007", {"tempo": 3.0}, cohort, covariates, **own)
    newcomer = peers_two_ways("N1", {"tempo": 3.0}, cohort, covariates, **own)
    assert newcomer.by_handicap.golfers == inside.by_handicap.golfers + 1
    assert newcomer.by_speed.golfers == inside.by_speed.golfers + 1


def test_peers_lie_within_the_window(academy):
    cohort, covariates = academy
    result = peers_two_ways("N1", {}, cohort, covariates, handicap=12.0, speed_mps=62.0)
    near = np.abs(covariates.handicaps - 12.0) <= 4.0
    assert result.by_handicap.golfers == near.sum()
    assert result.by_handicap.mean == pytest.approx(covariates.handicaps[near].mean())
    assert (result.by_speed.low, result.by_speed.high) == (59.5, 64.5)


def test_too_few_peers_show_nothing(academy):
    cohort, covariates = academy
    result = peers_two_ways(
        "N1", {"tempo": 3.0}, cohort, covariates, handicap=None, speed_mps=120.0
    )
    assert result.by_handicap.withheld == "the golfer's handicap is not known"
    assert result.by_speed.withheld == "0 golfers of like ball speed, where 5 are needed"
    place = result.places[0]
    assert place.at_like_handicap.percentile is None
    assert place.at_like_speed.percentile is None
    assert place.finding == "not known"
    assert "nan" not in repr(peers_document(result))


def test_speed_and_handicap_are_means_over_the_golfers_swings_with_the_club(pool_of, golfer):
    pool = pool_of({"Q0001": 4, "Q0002": 4, "Q0003": 2}, clubs=("driver", "iron 7"))
    people = {
        "Q0001": golfer("Q0001", 8.0),
        "Q0002": golfer("Q0002", None),
        "Q0003": golfer("Q0003", 3.0),
    }
    speeds = {
        code: BallSpeed(swing=code, ball_speed_mps=speed)
        for code, speed in {
            "Q0001-000": 60.0,
            "Q0001-001": 40.0,  # an iron
            "Q0001-002": 64.0,
            "Q0002-002": 70.0,
        }.items()
    }
    roll = call_roll(pool, people, DEFAULT_LEVELS)
    cohort, _ = members(roll, ALL)
    covariates = golfer_covariates(roll, cohort, speeds)
    np.testing.assert_array_equal(covariates.speeds_mps, [62.0, 70.0, np.nan])
    np.testing.assert_array_equal(covariates.handicaps, [8.0, np.nan, 3.0])
