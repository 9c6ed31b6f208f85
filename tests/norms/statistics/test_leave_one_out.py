import numpy as np
import pytest
from scipy import stats

from norms.statistics.leave_one_out import (
    correlation_interval,
    error_interval,
    ratio_interval,
    without_each_outer,
)
from norms.statistics.variance_components import correlation, fit_nested

DAYS = np.array([1, 2, 3, 4] * 15)
SWINGS = np.array([1, 4, 2, 7, 3, 10, 5, 2, 6, 1] * 15)


def unequal(golfers, responses, rng, *, unsteadiness=0.0, variances=(1.0, 0.3, 0.7)):
    """Golfers of 1 to 4 days and 1 to 10 swings a day, some steadier than others."""
    golfer_of_day = np.repeat(np.arange(golfers), DAYS[:golfers])
    day = np.repeat(np.arange(golfer_of_day.size), SWINGS[: golfer_of_day.size])
    golfer = golfer_of_day[day]
    steady = np.exp(unsteadiness * rng.normal(size=(golfers, responses)) - unsteadiness**2)
    sds = np.sqrt(variances)
    values = sds[0] * rng.normal(size=(golfers, responses))[golfer]
    by_day = sds[1] * rng.normal(size=(golfer_of_day.size, responses)) * steady[golfer_of_day]
    swing = sds[2] * rng.normal(size=(day.size, responses)) * steady[golfer]
    return values + by_day[day] + swing, golfer, day


def test_one_step_comes_near_the_fit_without_the_golfer():
    values, golfer, day = unequal(60, 3, np.random.default_rng(1), variances=(2.0, 0.6, 0.7))
    fit = fit_nested(values, golfer, day)
    stepped = without_each_outer(values, golfer, day, fit)
    for gone in (0, 3, 22, 59):
        kept = golfer != gone
        exact = fit_nested(values[kept], golfer[kept], day[kept]).variances
        moved = exact - fit.variances
        np.testing.assert_allclose(
            stepped[:, gone] - fit.variances, moved, atol=0.1 * np.abs(moved).max() + 1e-3
        )


def test_balanced_golfers_leave_what_the_mean_squares_leave():
    rng = np.random.default_rng(2)
    golfer = np.repeat(np.arange(15), 4)
    values = 2.0 * rng.normal(size=15)[golfer] + rng.normal(size=60)
    fit = fit_nested(values, golfer, np.zeros(60))
    stepped = without_each_outer(values, golfer, np.zeros(60), fit)
    squares = ((values.reshape(15, 4) - values.reshape(15, 4).mean(axis=1)[:, None]) ** 2).sum(1)
    np.testing.assert_allclose(stepped[2, :, 0], (squares.sum() - squares) / (14 * 3), rtol=1e-6)


@pytest.mark.parametrize("unsteadiness", [0.0, 0.5])
def test_intervals_cover_for_golfers_steady_and_unsteady_alike(unsteadiness):
    rng = np.random.default_rng(3)
    truth = dict(zip("gds", (1.0, 0.3, 0.7), strict=True))
    values, golfer, day = unequal(60, 600, rng, unsteadiness=unsteadiness)
    fit = fit_nested(values, golfer, day)
    without = without_each_outer(values, golfer, day, fit)
    error = truth["d"] + truth["s"]
    for target, (low, high) in (
        (truth["s"], error_interval(fit, without, same_inner=True)),
        (error, error_interval(fit, without)),
        (1.0 / (1.0 + error), correlation_interval(fit, without)),
        (1.3 / 2.0, correlation_interval(fit, without, same_inner=True)),
    ):
        # 600 responses: two Monte-Carlo errors of a coverage of 95 % are 1.8 points.
        assert 0.92 <= ((low <= target) & (target <= high)).mean() <= 0.978


def test_many_swings_of_few_golfers_do_not_narrow_the_interval():
    """The unit is the golfer: ten times the swings of unsteady golfers tell little more."""
    rng = np.random.default_rng(4)
    steady = np.exp(0.6 * rng.normal(size=(30, 40)))
    widths = []
    for swings in (10, 100):
        golfer = np.repeat(np.arange(30), swings)
        values = steady[golfer] * rng.normal(size=(golfer.size, 40))
        fit = fit_nested(values, golfer, np.zeros(golfer.size))
        without = without_each_outer(values, golfer, np.zeros(golfer.size), fit)
        low, high = error_interval(fit, without, same_inner=True)
        widths.append(np.median(np.log(high / low)))
    assert widths[1] > 0.8 * widths[0]


def test_interval_of_symmetric_shares_is_the_jackknife_of_the_logarithm():
    shares = 0.1 * np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    without = 3.0 * np.exp(-shares)[:, None]
    ones = np.ones(1), np.ones_like(without)
    low, high = ratio_interval(np.array([3.0]), ones[0], without, ones[1], confidence=0.5)
    # A root sum of squares of 0.3162, and t of 4 degrees of freedom, 0.74070 at 75 %.
    np.testing.assert_allclose(np.log(high[0] / 3.0), 0.74070 * 0.31623, rtol=1e-4)
    # Without skewness the curve of the logarithm lengthens the other side by t^2 times the error.
    longer = 0.74070 + 0.74070**2 * 0.31623
    np.testing.assert_allclose(np.log(3.0 / low[0]), longer * 0.31623, rtol=1e-4)


def test_degrees_of_freedom_are_of_the_units_that_matter():
    shares = np.r_[0.2, -0.2, 0.2, -0.2, np.zeros(36)]
    without = np.exp(-shares)[:, None]
    ones = np.ones(1), np.ones_like(without)
    high = ratio_interval(ones[0], ones[0], without, ones[1])[1]
    # Four equal shares of forty units: 2 / (1/4 - 1/40) = 8.89 degrees of freedom.
    np.testing.assert_allclose(np.log(high[0]), stats.t.ppf(0.975, 8.8889) * 0.4, rtol=1e-4)


def test_intervals_do_not_depend_on_unit_order_or_names():
    rng = np.random.default_rng(5)
    values, golfer, day = unequal(30, 2, rng)
    order = rng.permutation(len(values))
    found = []
    for table, outer, inner in (
        (values, golfer, day),
        ((4.0 + 3.0 * values)[order], -golfer[order], day[order]),
    ):
        fit = fit_nested(table, outer, inner)
        found.append(correlation_interval(fit, without_each_outer(table, outer, inner, fit)))
        assert (found[-1][0] < correlation(fit)[0]).all()
        assert (correlation(fit)[0] < found[-1][1]).all()
    np.testing.assert_allclose(found[1], found[0], rtol=1e-4)


def test_a_golfer_without_the_response_is_nan_and_changes_nothing():
    rng = np.random.default_rng(6)
    values, golfer, day = unequal(30, 2, rng)
    values[golfer == 7, 1] = np.nan
    fit = fit_nested(values, golfer, day)
    without = without_each_outer(values, golfer, day, fit)
    assert np.isnan(without[:, 7, 1]).all()
    assert np.isfinite(np.delete(without[:, :, 1], 7, axis=1)).all()
    kept = golfer != 7
    alone = fit_nested(values[kept, 1], golfer[kept], day[kept])
    again = without_each_outer(values[kept, 1], golfer[kept], day[kept], alone)
    np.testing.assert_allclose(
        error_interval(fit, without)[1][1], error_interval(alone, again)[1][0], rtol=1e-6
    )


def test_what_the_design_does_not_tell_has_no_interval():
    rng = np.random.default_rng(7)
    values, golfer = rng.normal(size=40), np.repeat(np.arange(10), 4)
    one_day = fit_nested(values, golfer, np.zeros(40))
    without = without_each_outer(values, golfer, np.zeros(40), one_day)
    assert np.isnan(error_interval(one_day, without)).all()
    assert np.isfinite(error_interval(one_day, without, same_inner=True)).all()
    flat = fit_nested(np.ones(40), golfer, np.zeros(40))
    without = without_each_outer(np.ones(40), golfer, np.zeros(40), flat)
    assert np.isnan(error_interval(flat, without, same_inner=True)).all()
