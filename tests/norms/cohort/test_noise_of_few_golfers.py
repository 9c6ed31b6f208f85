from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.annex_contents import noise_budgets
from norms.cohort.measurement_annexes import with_measurement, without_rare_features
from norms.cohort.measurement_error import measurement_error


@pytest.fixture(scope="module")
def error(small_academy):
    return measurement_error(small_academy.pool, "driver")


def test_what_rests_on_enough_golfers_stays_whole(error):
    kept = without_rare_features(error, 5)
    assert kept.feature_names == error.feature_names
    np.testing.assert_array_equal(kept.swing_sd, error.swing_sd)
    np.testing.assert_array_equal(kept.sdc_between, error.sdc_between)


def test_a_feature_that_few_golfers_have_is_not_in_an_edition(small_academy, error):
    few = replace(error, feature_golfers=np.array([96, 4, 96, 96, 5]))
    edition = with_measurement(small_academy.edition, {"driver": few}, ())
    kept, keep = noise_budgets(edition)["driver"], [0, 2, 3, 4]
    assert kept.feature_names == tuple(error.feature_names[place] for place in keep)
    np.testing.assert_array_equal(kept.swing_sd, error.swing_sd[keep])
    np.testing.assert_array_equal(kept.icc_within.low, error.icc_within.low[keep])
    np.testing.assert_array_equal(kept.swing_node_sd_cm, error.swing_node_sd_cm)
