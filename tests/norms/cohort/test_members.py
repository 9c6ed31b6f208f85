from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from norms.cohort.golfer_facts import OTHER_LEVEL
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import NO_CONSENT, NOT_ON_ROSTER, OTHER_CLUB, call_roll
from norms.errors import CohortRefused
from norms.records import CohortDefinition, DatedHandicap

LEVELS = {level.key: level for level in DEFAULT_LEVELS}
ALL = CohortDefinition(key="driver/all", club="driver")
TO_12 = CohortDefinition(key="driver/to_12", club="driver", level=LEVELS["to_12"])


def roster(*golfers):
    return {golfer.code: golfer for golfer in golfers}


def test_each_golfer_brings_the_plain_mean_of_their_swings(pool_of, golfer):
    pool = pool_of({"Q0002": 5, "Q0001": 2})
    cohort, _ = members(
        call_roll(pool, roster(golfer("Q0001"), golfer("Q0002")), DEFAULT_LEVELS), ALL
    )
    assert cohort.golfers == ("Q0001", "Q0002")
    assert cohort.swing_counts.tolist() == [2, 5]
    np.testing.assert_allclose(cohort.curves_cm[1], pool.curves_cm[:5].mean(axis=0), atol=1e-12)
    np.testing.assert_allclose(
        cohort.features[1], np.nanmean(pool.features[:5], axis=0), atol=1e-12
    )


def test_a_feature_that_no_swing_gives_is_missing_and_not_zero(pool_of, golfer):
    pool = pool_of({"Q0001": 1, "Q0002": 2})  # the first row lacks the second feature
    cohort, _ = members(
        call_roll(pool, roster(golfer("Q0001"), golfer("Q0002")), DEFAULT_LEVELS), ALL
    )
    assert np.isnan(cohort.features[0, 1])
    assert np.isfinite(cohort.features[1]).all()


def test_swings_are_lost_to_the_first_rule_that_excludes_them(pool_of, golfer):
    pool = pool_of({"Q0001": 4, "Q0002": 3, "Q0003": 2, "Q0009": 1}, clubs=("driver", "iron 7"))
    people = roster(golfer("Q0001"), golfer("Q0002", 30.0), golfer("Q0003", consents_norms=False))
    cohort, lost = members(call_roll(pool, people, DEFAULT_LEVELS), TO_12)
    assert lost == {NOT_ON_ROSTER: 1, NO_CONSENT: 2, OTHER_CLUB: 3, OTHER_LEVEL: 2}
    assert cohort.golfers == ("Q0001",)
    assert cohort.swing_counts.sum() + sum(lost.values()) == len(pool.swings)


def test_a_golfer_is_held_at_the_level_of_each_day(pool_of, golfer):
    pool = pool_of({"Q0001": 6})  # three swings on 1 May, three on 8 May
    mover = golfer(
        "Q0001",
        handicaps=(
            DatedHandicap(since=date(2025, 4, 1), index=12.6),
            DatedHandicap(since=date(2025, 5, 8), index=11.9),
        ),
    )
    to_20 = CohortDefinition(key="driver/to_20", club="driver", level=LEVELS["to_20"])
    before, _ = members(call_roll(pool, roster(mover), DEFAULT_LEVELS), to_20)
    after, _ = members(call_roll(pool, roster(mover), DEFAULT_LEVELS), TO_12)
    np.testing.assert_allclose(before.curves_cm[0], pool.curves_cm[:3].mean(axis=0), atol=1e-12)
    np.testing.assert_allclose(after.curves_cm[0], pool.curves_cm[3:].mean(axis=0), atol=1e-12)


def test_the_order_of_the_pool_changes_no_bit(pool_of, golfer, rearranged):
    pool = pool_of({f"Q{i:04d}": 1 + i % 9 for i in range(30)})
    people = roster(*(golfer(f"Q{i:04d}", float(i)) for i in range(30)))
    shuffled = rearranged(pool, np.random.default_rng(3).permutation(len(pool.swings)))
    one, _ = members(call_roll(pool, people, DEFAULT_LEVELS), ALL)
    other, _ = members(call_roll(shuffled, people, DEFAULT_LEVELS), ALL)
    assert one.golfers == other.golfers
    np.testing.assert_array_equal(one.curves_cm, other.curves_cm)
    np.testing.assert_array_equal(one.features, other.features)


def test_a_cohort_may_be_empty(pool_of, golfer):
    nobody = CohortDefinition(key="wedge/all", club="wedge")
    cohort, lost = members(
        call_roll(pool_of({"Q0001": 3}), roster(golfer("Q0001")), DEFAULT_LEVELS), nobody
    )
    assert cohort.golfers == ()
    assert cohort.curves_cm.shape == (0, 3, 301)
    assert lost[OTHER_CLUB] == 3


def test_a_swing_that_stands_twice_is_refused(pool_of, golfer):
    pool = pool_of({"Q0001": 3})
    twice = replace(pool, swings=("Q0001-000", "Q0001-001", "Q0001-000"))
    with pytest.raises(CohortRefused, match="Q0001-000 stands twice"):
        members(call_roll(twice, roster(golfer("Q0001")), DEFAULT_LEVELS), ALL)


def test_a_curve_with_a_hole_is_refused_by_name(pool_of, golfer):
    pool = pool_of({"Q0001": 3})
    curves = pool.curves_cm.copy()
    curves[1, 2, 40] = np.nan
    with pytest.raises(CohortRefused, match="Q0001-001: its curves"):
        members(
            call_roll(replace(pool, curves_cm=curves), roster(golfer("Q0001")), DEFAULT_LEVELS), ALL
        )
