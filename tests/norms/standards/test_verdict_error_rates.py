"""A golfer truly inside or outside is called wrongly at most at the stated rate."""

import numpy as np
import pytest
from scipy.stats import binom

from norms.standards.quantities import mean_error_of, quantity_errors
from norms.standards.verdicts import MET, NOT_YET, part_verdicts, whole_verdicts

RATE, DRAWS = 0.05, 40_000
MOST = int(binom.ppf(0.9999, DRAWS, RATE))
"""More wrong verdicts than this would come by chance once in ten thousand tests."""


def told(truth, error, ends, rng):
    """Verdicts on golfers of one truth, measured again and again; truth and error by part."""
    d = len(ends)
    values = np.asarray(truth) + error * rng.normal(size=(DRAWS, d))
    return whole_verdicts(part_verdicts(values, np.full((DRAWS, d), error), ends, RATE))


@pytest.mark.parametrize("width", [0.2, 1.0, 4.0, 20.0])
@pytest.mark.parametrize("place", [0.0, 0.02, 0.5, 1.0])
@pytest.mark.parametrize("parts", [1, 4])
def test_golfer_who_meets_everything_is_seldom_told_not_yet(width, place, parts):
    ends = np.tile([[0.0, width]], (parts, 1))
    rng = np.random.default_rng(int(width * 10) + int(place * 100) + parts)
    wrong = int((told([place * width] * parts, 1.0, ends, rng) == NOT_YET).sum())
    assert wrong <= MOST


@pytest.mark.parametrize("width", [1.0, 4.0, 20.0])
@pytest.mark.parametrize("beyond", [1e-9, 0.5, 2.0])
@pytest.mark.parametrize("parts", [1, 4])
def test_golfer_who_misses_a_part_is_seldom_told_met(width, beyond, parts):
    ends = np.tile([[0.0, width]], (parts, 1))
    truth = [width + beyond, *[width / 2] * (parts - 1)]
    rng = np.random.default_rng(int(width * 10) + int(beyond * 100) + parts)
    wrong = int((told(truth, 1.0, ends, rng) == MET).sum())
    assert wrong <= MOST


def test_rate_is_reached_at_a_limit_so_that_no_verdict_is_given_away():
    rng = np.random.default_rng(5)
    ends = np.array([[0.0, 20.0]])
    at_limit = told([20.0], 1.0, ends, rng)
    for verdict in (MET, NOT_YET):
        assert (at_limit == verdict).mean() == pytest.approx(RATE, abs=0.005)


def test_rates_hold_with_an_error_that_was_itself_estimated(academy):
    """Swings and days drawn anew around golfers at the limit, judged by the fitted budget."""
    from norms.standards.quantities import feature_quantity

    errors = quantity_errors(academy.noise, [feature_quantity("sway_travel")])
    rng = np.random.default_rng(6)
    day = 0.3 * rng.normal(size=DRAWS)
    swings = 0.8 * rng.normal(size=(DRAWS, 5)).mean(axis=1)
    values = (20.0 + day + swings)[:, None]
    error = mean_error_of(errors, np.full(DRAWS, 5.0), np.full(DRAWS, 25.0))
    verdicts = part_verdicts(values, error, np.array([[10.0, 20.0]]), RATE)[:, 0]
    assert (verdicts == MET).mean() <= RATE
    assert (verdicts == NOT_YET).mean() <= RATE
    # The allowance for the budget's own error costs little: the truth is near the rate.
    assert (verdicts == MET).mean() >= RATE / 3
