from datetime import date

import numpy as np
import pytest

from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import call_roll
from norms.cohort.weights import roster_targets, weigh_cohort, weighted_percentiles
from norms.errors import CohortRefused
from norms.records import CohortDefinition
from norms.statistics.quantiles import quantiles_with_intervals

DAY = date(2025, 6, 1)
ALL = CohortDefinition(key="driver/all", club="driver")


@pytest.fixture
def academy(pool_of, golfer):
    """80 golfers, half of them women; a quarter of the women and all men are recorded."""
    people = {
        f"Q{i:04d}": golfer(f"Q{i:04d}", 3.0 if i % 4 else 8.0, sex="female" if i < 40 else "male")
        for i in range(80)
    }
    recorded = {code: 2 for i, code in enumerate(people) if i < 10 or i >= 40}
    cohort, _ = members(call_roll(pool_of(recorded), people, DEFAULT_LEVELS), ALL)
    return cohort, people


def test_weights_bring_the_cohort_to_the_membership(academy):
    cohort, people = academy
    targets = roster_targets(people, list(people), DEFAULT_LEVELS, DAY, ("sex",))
    assert targets == {"sex": {"female": 0.5, "male": 0.5}}
    weights = weigh_cohort(cohort, people, targets, DEFAULT_LEVELS, DAY)
    # 10 women for 25, 40 men for 25: weights 2.5 and 0.625.
    np.testing.assert_allclose(weights.weights, [2.5] * 10 + [0.625] * 40)
    assert weights.design_effect == pytest.approx((10 * 2.5**2 + 40 * 0.625**2) / 50)
    assert weights.effective_golfers == pytest.approx(50 / weights.design_effect)


def test_several_margins_are_met_together(academy):
    cohort, people = academy
    targets = roster_targets(people, list(people), DEFAULT_LEVELS, DAY, ("sex", "level"))
    weights = weigh_cohort(cohort, people, targets, DEFAULT_LEVELS, DAY)
    assert weights.largest_gap < 1e-8


def test_weights_cannot_bring_back_who_is_missing(academy):
    cohort, people = academy
    with pytest.raises(CohortRefused, match=r"'above_36' has a target share and no golfer"):
        weigh_cohort(
            cohort,
            people,
            {"level": {"to_5": 0.5, "to_12": 0.4, "above_36": 0.1}},
            DEFAULT_LEVELS,
            DAY,
        )
    with pytest.raises(CohortRefused, match="margin 'height': it is none of level, sex, age"):
        weigh_cohort(cohort, people, {"height": {"tall": 1.0}}, DEFAULT_LEVELS, DAY)


def test_equal_weights_change_nothing():
    values = np.random.default_rng(1).normal(size=(67, 4))
    values[:9, 2] = np.nan
    percents = (5, 10, 50, 90)
    plain = quantiles_with_intervals(values, percents)
    weighted = weighted_percentiles(values, np.full(67, 0.3), percents)
    for one, other in zip(plain, weighted, strict=True):
        np.testing.assert_allclose(one, other, atol=1e-12)


def test_weights_pull_a_percentile_toward_the_heavy():
    values = np.r_[np.zeros(40), np.ones(40)][:, None] + np.linspace(0, 0.1, 80)[:, None]
    weights = np.r_[np.full(40, 0.2), np.full(40, 1.8)]
    plain = weighted_percentiles(values, np.ones(80), (25,)).value[0, 0]
    heavy = weighted_percentiles(values, weights, (25,)).value[0, 0]
    assert plain < 0.2
    assert heavy > 1.0


def test_heavy_weights_withhold_what_few_golfers_would():
    values = np.arange(60.0)[:, None]
    weights = np.r_[np.full(6, 10.0), np.full(54, 0.1)]
    table = weighted_percentiles(values, weights, (5, 50))
    assert np.isnan(table.value[0, 0])  # about 7 golfers' worth of information
    assert np.isfinite(table.value[1, 0])


def test_a_column_without_values_has_no_percentile():
    assert np.isnan(weighted_percentiles(np.full((9, 1), np.nan), np.ones(9), (50,)).value).all()
