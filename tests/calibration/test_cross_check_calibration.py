"""How often centiles that hold are called doubtful: the ground of the constant."""

import numpy as np
import pytest

from norms.cohort.centile_cross_check import cross_check
from norms.cohort.fit_centiles import fit_feature_centiles
from norms.records.centile_readings import AGREES_WITHIN

pytestmark = pytest.mark.slow

COHORTS = 200


@pytest.mark.parametrize(("golfers", "most"), [(80, 0.07), (200, 0.02)])
def test_a_model_that_holds_is_seldom_called_doubtful(golfers: int, most: float) -> None:
    doubtful = 0
    for seed in range(COHORTS):
        rng = np.random.default_rng(seed)
        handicap = rng.uniform(0, 30, golfers)
        female = rng.integers(0, 2, golfers).astype(float)
        z = rng.normal(size=golfers)
        spread = (1 + 0.02 * handicap) * np.sinh(0.9 * (z + 0.3))
        value = 5 + 0.1 * handicap + np.sin(handicap / 6) + 0.5 * female + spread
        centiles, _ = fit_feature_centiles(
            value[:, None], ["x"], handicap, covariates=female[:, None], covariate_names=["female"]
        )
        told = cross_check(centiles["x"], value, handicap, female[:, None])
        doubtful += not told.agrees
    print(f"\n{golfers} golfers: {doubtful} of {COHORTS} beyond {AGREES_WITHIN} times sampling")
    assert doubtful <= most * COHORTS
