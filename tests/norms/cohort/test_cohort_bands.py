from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.bands import bands_of, golfers_needed, withheld_reason
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import call_roll
from norms.errors import CohortRefused
from norms.records import CohortDefinition

ALL = CohortDefinition(key="driver/all", club="driver")


@pytest.fixture
def cohort_of(pool_of, golfer):
    def make(n, swings=3):
        codes = [f"Q{i:04d}" for i in range(n)]
        pool = pool_of(dict.fromkeys(codes, swings))
        return members(call_roll(pool, {c: golfer(c) for c in codes}, DEFAULT_LEVELS), ALL)[0]

    return make


def test_bands_are_percentiles_over_golfers(cohort_of):
    cohort = cohort_of(80, swings=4)
    bands = bands_of(cohort)
    expected = np.percentile(cohort.curves_cm, bands.percents, axis=0, method="weibull")
    np.testing.assert_allclose(bands.curve_cm, expected, atol=1e-12)
    assert (bands.golfers, bands.swings) == (80, 320)
    assert (np.diff(bands.curve_cm, axis=0) >= 0).all()
    assert (bands.curve_low_cm <= bands.curve_cm).all()
    assert (bands.curve_cm <= bands.curve_high_cm).all()


# Smallest n of an exact two-sided 90 % interval: 5, 11, 29, 59 (checked with R).
@pytest.mark.parametrize(
    ("golfers", "shown"),
    [
        (5, (50,)),
        (10, (50,)),
        (11, (25, 50, 75)),
        (29, (10, 25, 50, 75, 90)),
        (58, (10, 25, 50, 75, 90)),
        (59, (5, 10, 25, 50, 75, 90, 95)),
    ],
)
def test_a_percentile_is_shown_only_where_its_interval_exists(cohort_of, golfers, shown):
    bands = bands_of(cohort_of(golfers, swings=1))
    assert bands.shown_percents() == shown
    hidden = [p not in shown for p in bands.percents]
    for table in (bands.curve_cm, bands.curve_low_cm, bands.curve_high_cm, bands.feature):
        assert np.isnan(table[hidden]).all()


def test_every_curve_starts_at_zero_and_so_do_its_bands(cohort_of):
    bands = bands_of(cohort_of(60))
    assert (bands.curve_cm[:, :, 0] == 0).all()


def test_a_feature_counts_only_the_golfers_who_have_it(cohort_of):
    cohort = cohort_of(40)
    features = cohort.features.copy()
    features[:30, 1] = np.nan
    bands = bands_of(replace(cohort, features=features))
    assert bands.feature_golfers.tolist() == [40, 10]
    assert np.isnan(bands.feature[[1, 2], 1]).tolist() == [True, True]
    assert bands.feature[3, 1] == pytest.approx(np.median(features[30:, 1]))


def test_a_feature_of_fewer_golfers_than_the_smallest_cell_is_not_shown(cohort_of):
    cohort = cohort_of(40)
    features = cohort.features.copy()
    features[:30, 1] = np.nan
    bands = bands_of(replace(cohort, features=features), smallest_cell=12)
    assert bands.feature_golfers[1] == 10
    assert np.isnan(bands.feature[:, 1]).all()
    assert not np.isnan(bands.feature[3, 0])


def test_a_withheld_cell_says_how_many_there_are_and_how_many_are_needed(cohort_of):
    sentence = "4 golfers, where the least is 5 for the median, 11 for the 25–75 range"
    assert withheld_reason(4).startswith(sentence)
    assert withheld_reason(4).endswith("29 for the 10–90 range, 59 for the 5–95 range.")
    assert withheld_reason(1).startswith("1 golfer, where")
    assert withheld_reason(5) is None
    with pytest.raises(CohortRefused, match="driver, all levels: 4 golfers"):
        bands_of(cohort_of(4))


def test_the_smallest_cell_withholds_what_the_interval_would_allow():
    assert withheld_reason(9, smallest_cell=10).startswith("9 golfers, where the least is 10")
    assert withheld_reason(10, smallest_cell=10) is None
    assert golfers_needed(smallest_cell=20)[25.0] == 20


def test_without_a_median_the_best_supported_percentile_decides():
    assert withheld_reason(58, percents=(5.0, 95.0)) is not None
    assert withheld_reason(59, percents=(5.0, 95.0)) is None
    assert "59 for percentile 5." in withheld_reason(3, percents=(5.0,))


@pytest.mark.parametrize(
    ("rules", "code"),
    [
        ({"percents": (50, 25)}, "percents"),
        ({"percents": ()}, "percents"),
        ({"percents": (0, 50)}, "percents"),
        ({"percents": (50, float("nan"))}, "percents"),
        ({"confidence": 1.0}, "confidence"),
        ({"confidence": float("nan")}, "confidence"),
        ({"smallest_cell": 4}, "smallest_cell"),
    ],
)
def test_rules_without_an_honest_band_are_refused(cohort_of, rules, code):
    with pytest.raises(CohortRefused) as refusal:
        bands_of(cohort_of(12), **rules)
    assert refusal.value.code == code
