from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from norms.cohort.compared_groups import comparable
from norms.cohort.partition import answer_partition, feature_evidence
from norms.errors import CohortRefused
from norms.records import Cohort, CohortDefinition

NODES = np.linspace(0, 1, 301)
RISE = np.minimum(NODES * 6, 1)


def group(names, seed, club="driver", shift=0.0, feature_shift=0.0, stretch=1.0):
    rng = np.random.default_rng(seed)
    n = len(names)
    waves = np.stack([np.ones(301), np.sin(2 * NODES), np.sin(5 * NODES)])
    curves = rng.normal(size=(n, 3, 3)) @ waves
    curves[:, 1] += shift * NODES
    features = np.column_stack(
        [rng.normal(5 + feature_shift, 1, n), rng.normal(0, stretch, n), rng.normal(size=n)]
    )
    return Cohort(
        definition=CohortDefinition(key=f"{club}/all", club=club),
        golfers=names,
        swing_counts=np.full(n, 3),
        curves_cm=curves * RISE,
        feature_names=("sway_travel", "lift_rise", "tempo"),
        features=features,
    )


def names(prefix, n):
    return tuple(f"{prefix}{i:04d}" for i in range(n))


def answer(first, second):
    return answer_partition("driver: sex", first, second, noise_cm=0.1, seed=5, relabellings=499)


def test_groups_that_move_differently_get_norms_of_their_own():
    result = answer(group(names("A", 60), 1), group(names("B", 60), 2, shift=2.0))
    assert result.verdict == result.curves.verdict == "own"
    assert result.curves.axis == "thrust"
    assert result.curves.largest_t > result.curves.critical_t
    assert result.curves.p_value == 1 / 500
    assert "Own norms are needed for the curves" in result.because
    assert np.isnan(result.curves.t[:, 0]).all()  # no movement at the start


def test_a_feature_that_differs_is_named():
    result = answer(group(names("A", 150), 1), group(names("B", 150), 2, feature_shift=1.0))
    travel = result.features[0]
    assert travel.verdict == "own"
    assert travel.z > travel.z_critical
    assert travel.lahti == "partition"
    assert "sway_travel" in result.because


def test_spread_alone_can_ask_for_norms_of_its_own():
    result = answer(group(names("A", 150), 1), group(names("B", 150), 2, stretch=2.0))
    spread = result.features[1]
    assert spread.verdict == "own"
    assert spread.sd_ratio > 1.5
    assert spread.spread_p < 0.05


def test_like_groups_of_many_golfers_may_share_and_the_no_is_kept():
    result = answer(group(names("A", 900), 3), group(names("B", 900), 4))
    assert result.verdict == "shared"
    assert result.curves.possible_difference_sd < 0.387
    assert "may share norms" in result.because


def test_like_groups_of_few_golfers_stay_undecided():
    result = answer(group(names("A", 20), 3), group(names("B", 20), 4))
    assert result.curves.verdict == "undecided"
    assert result.verdict == "undecided"
    assert "too few to exclude" in result.because


def test_same_golfers_with_two_clubs_are_compared_with_themselves():
    golfers = names("A", 40)
    driver = group(golfers, 1)
    moved = driver.curves_cm + 0.3 * RISE
    noise = np.random.default_rng(9).normal(0, 0.05, (40, 3, 1))
    iron = Cohort(
        definition=CohortDefinition(key="iron 7/all", club="iron 7"),
        golfers=golfers[:35] + names("Z", 5),
        swing_counts=driver.swing_counts,
        curves_cm=moved + noise * RISE,
        feature_names=driver.feature_names,
        features=driver.features,
    )
    result = answer(driver, iron)
    assert result.paired
    assert result.golfers == (35, 35)
    assert result.left_out == 10
    assert result.curves.p_value == 1 / 500
    assert result.groups == ("driver, all levels", "iron 7, all levels")


def test_the_few_who_are_in_both_groups_are_left_out():
    first = group(names("A", 30), 1)
    second = group(("A0000", *names("B", 29)), 2)
    result = answer(first, second)
    assert not result.paired
    assert result.golfers == (29, 29)
    assert result.left_out == 1


def test_missing_features_are_counted_per_feature():
    first, second = group(names("A", 30), 1), group(names("B", 30), 2)
    holes = first.features.copy()
    holes[:12, 0] = np.nan
    holes[:27, 2] = np.nan
    first = Cohort(
        definition=first.definition,
        golfers=first.golfers,
        swing_counts=first.swing_counts,
        curves_cm=first.curves_cm,
        feature_names=first.feature_names,
        features=holes,
    )
    result = answer(first, second)
    assert [feature.feature for feature in result.features] == ["sway_travel", "lift_rise"]
    assert result.features[0].golfers == (18, 30)


def test_same_seed_gives_the_same_answer():
    first, second = group(names("A", 40), 1), group(names("B", 40), 2)
    assert answer(first, second).curves.p_value == answer(first, second).curves.p_value


def test_what_cannot_be_compared_is_refused():
    first = group(names("A", 30), 1)
    with pytest.raises(CohortRefused, match="4 golfers to compare"):
        answer(first, group(names("B", 4), 2))
    still = Cohort(
        definition=first.definition,
        golfers=first.golfers,
        swing_counts=first.swing_counts,
        curves_cm=np.zeros((30, 3, 301)),
        feature_names=(),
        features=np.empty((30, 0)),
    )
    with pytest.raises(CohortRefused, match="same features"):
        answer(first, still)
    with pytest.raises(CohortRefused, match="no node moves"):
        answer(still, still)


def test_kept_calibration_rejects_4_to_6_percent_of_true_nulls():
    path = Path(__file__).parents[2] / "calibration" / "results" / "partition_test.csv"
    header, *rows = [line.split(",") for line in path.read_text().splitlines()]
    rejected = [float(row[header.index("rejected_pct")]) for row in rows]
    assert len(rejected) >= 4
    assert all(4 <= share <= 6 for share in rejected)


def noisy_group(prefix, n, swings, seed, noise=1.5):
    """Golfers who differ in nothing; each mean holds the noise of that many swings."""
    rng = np.random.default_rng(seed)
    cohort = group(names(prefix, n), seed)
    values = rng.normal(size=(n, 1, 3)) + noise * rng.normal(size=(n, swings, 3))
    means = values.mean(axis=1)
    return replace(
        cohort,
        swing_counts=np.full(n, swings),
        features=means,
        feature_swings=np.full((n, 3), swings),
        feature_squares=((values - means[:, None]) ** 2).sum(axis=1),
    )


def test_few_swings_are_not_taken_for_a_spread_of_golfers():
    first, second = noisy_group("A", 150, 2, 1), noisy_group("B", 150, 20, 2)
    known = answer(first, second)
    assert min(feature.spread_p for feature in known.features) > 0.05
    assert max(feature.sd_ratio for feature in known.features) > 1.25
    unknown = {"feature_swings": None, "feature_squares": None}
    blind = answer(replace(first, **unknown), replace(second, **unknown))
    assert min(feature.spread_p for feature in blind.features) < 0.05


def test_noise_is_divided_by_the_golfers_own_swings():
    """Taking the group's swings for every golfer's would leave the few-swing golfers too far."""
    few, many = noisy_group("A", 60, 2, 1, noise=2.0), noisy_group("C", 60, 30, 3, noise=2.0)
    mixed = replace(
        few,
        golfers=few.golfers + many.golfers,
        swing_counts=np.r_[few.swing_counts, many.swing_counts],
        **{
            name: np.concatenate([getattr(few, name), getattr(many, name)])
            for name in ("curves_cm", "features", "feature_swings", "feature_squares")
        },
    )
    result = answer(mixed, noisy_group("B", 120, 30, 2, noise=2.0))
    assert min(feature.spread_p for feature in result.features) > 0.05


def test_curves_and_features_share_one_level():
    """A feature alone and the same feature beside many nodes: the second is adjusted for both."""
    first, second = group(names("A", 25), 1), group(names("B", 25), 2, feature_shift=0.75)
    both = answer(first, second)
    kept = comparable("sex", first, second)
    alone = feature_evidence(first.feature_names, kept, 0.05, seed=5, relabellings=499)
    assert alone[0].mean_p < both.features[0].mean_p
    assert both.features[0].mean_p <= 1


def test_kept_calibration_of_decisions_is_5_percent_as_a_whole():
    path = Path(__file__).parents[2] / "calibration" / "results" / "partition_decisions.csv"
    header, *rows = [line.split(",") for line in path.read_text().splitlines()]
    share, error = (
        np.array([float(row[header.index(name)]) for row in rows])
        for name in ("own_pct", "standard_error_pct")
    )
    assert len(rows) >= 6
    assert (share - error <= 6.5).all()
