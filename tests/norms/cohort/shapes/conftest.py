"""Simulated clubs as cohorts: four patterns well apart, and one cloud."""

from typing import NamedTuple

import numpy as np
import pytest

from norms.cohort.club_components import fit_club_components
from norms.cohort.club_swings import CohortSwings
from norms.cohort.pattern_search import PatternChoices
from norms.records import Cohort, CohortDefinition
from norms.records.components import Components
from norms.synthetic.shaped_club import (
    SHAPED_FEATURES,
    ShapedClub,
    ShapedPlan,
    centres_apart,
    shape_club,
)


class Club(NamedTuple):
    drawn: ShapedClub
    cohort: Cohort
    swings: CohortSwings
    components: Components


def as_club(drawn: ShapedClub) -> Club:
    n = len(drawn.pattern)
    counts = np.bincount(drawn.golfer, minlength=n)
    curves = np.zeros((n, 3, drawn.curves_cm.shape[-1]))
    np.add.at(curves, drawn.golfer, drawn.curves_cm)
    features = np.zeros((n, drawn.features.shape[1]))
    np.add.at(features, drawn.golfer, drawn.features)
    cohort = Cohort(
        definition=CohortDefinition(key="driver/all", club="driver"),
        golfers=tuple(f"Q{i:04d}" for i in range(n)),
        swing_counts=counts,
        curves_cm=curves / counts[:, None, None],
        feature_names=SHAPED_FEATURES,
        features=features / counts[:, None],
    )
    swings = CohortSwings(drawn.golfer, drawn.session, drawn.levels, drawn.curves_cm)
    handicaps = {code: float(i % 30) for i, code in enumerate(cohort.golfers)}
    return Club(drawn, cohort, swings, fit_club_components(cohort, swings, handicaps))


@pytest.fixture(scope="session")
def four_patterns() -> Club:
    rng = np.random.default_rng(20260)
    return as_club(shape_club(rng, ShapedPlan(golfers=100), centres_apart(7.0)))


@pytest.fixture(scope="session")
def one_cloud() -> Club:
    return as_club(shape_club(np.random.default_rng(7), ShapedPlan(golfers=60)))


@pytest.fixture(scope="session")
def quick_choices() -> PatternChoices:
    return PatternChoices(most=5, simulations=19, cloud_level=0.06, resamples=10, starts=6)
