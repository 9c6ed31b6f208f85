from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from norms.cohort.club_centiles import (
    centile_rows,
    club_handicaps,
    covariates_of,
    fit_club_centiles,
)
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.roll import call_roll
from norms.errors import CohortRefused
from norms.records import DatedHandicap, Golfer
from norms.records.centiles import CentilePlan

DAY = date(2026, 5, 1)


def rows_and_cohort(academy, golfers=None):
    golfers = golfers or academy.golfers
    cohort = academy.edition.cell("driver/all").cohort
    roll = call_roll(academy.pool, golfers, DEFAULT_LEVELS)
    return cohort, centile_rows(cohort, club_handicaps(roll, "driver"), golfers, DAY)


def test_a_golfers_handicap_is_the_mean_over_swings_as_of_their_days(small_academy):
    moved = replace(
        small_academy.golfers["Q0010"],
        handicaps=(
            DatedHandicap(since=date(2025, 1, 1), index=10.0),
            DatedHandicap(since=date(2026, 4, 1), index=8.0),
        ),
    )
    pool = small_academy.pool
    days = list(pool.recorded_on)
    days[pool.swings.index("Q0010-d0")] = date(2025, 6, 1)
    golfers = small_academy.golfers | {"Q0010": moved}
    roll = call_roll(replace(pool, recorded_on=tuple(days)), golfers, DEFAULT_LEVELS)
    assert club_handicaps(roll, "driver")["Q0010"] == 9.0
    assert club_handicaps(roll, "iron 7")["Q0010"] == 8.0
    assert "Q0009" not in club_handicaps(roll, "driver")


def test_a_playing_professional_has_no_place_over_handicap(small_academy):
    golfers = small_academy.golfers | {
        "Q0010": replace(small_academy.golfers["Q0010"], professional=True)
    }
    roll = call_roll(small_academy.pool, golfers, DEFAULT_LEVELS)
    assert "Q0010" not in club_handicaps(roll, "driver")


def test_what_is_not_on_the_roster_is_unknown():
    assert np.isnan(covariates_of(Golfer(code="Q1", hand="left"), DAY)).all()
    born = Golfer(code="Q1", hand="left", sex="female", birth_year=1980)
    assert covariates_of(born, DAY) == (1.0, 46.0)


def test_a_sex_that_matters_is_taken_and_one_that_does_not_is_not(small_academy):
    cohort, rows = rows_and_cohort(small_academy)
    plan = CentilePlan()
    plain = fit_club_centiles(cohort, rows, plan)
    assert all(one.covariate_names == () for one in plain.features.values())
    women = rows.covariates[:, 0] == 1.0
    features = cohort.features.copy()
    features[rows.places[women], 0] += 4.0
    apart = fit_club_centiles(replace(cohort, features=features), rows, plan)
    assert apart.features["sway_travel"].covariate_names == ("female",)
    assert apart.features["tempo"].covariate_names == ()
    assert list(apart.features) == list(plain.features)


def test_golfers_of_unknown_sex_stay_where_sex_is_not_taken(small_academy):
    golfers = {
        code: replace(golfer, sex=None) if i < 12 else golfer
        for i, (code, golfer) in enumerate(small_academy.golfers.items())
    }
    cohort, rows = rows_and_cohort(small_academy, golfers)
    fitted = fit_club_centiles(cohort, rows, CentilePlan())
    assert fitted.features["tempo"].golfers[0] == len(rows.places)


def test_a_roster_without_sex_or_age_gives_centiles_of_all(small_academy):
    golfers = {
        code: replace(golfer, sex=None, birth_year=None)
        for code, golfer in small_academy.golfers.items()
    }
    cohort, rows = rows_and_cohort(small_academy, golfers)
    fitted = fit_club_centiles(cohort, rows, CentilePlan())
    assert all(one.covariate_names == () for one in fitted.features.values())
    assert len(fitted.curves) == 3


def test_a_club_whose_golfers_have_no_handicap_is_refused_in_words(small_academy):
    without = {
        code: replace(golfer, handicaps=()) for code, golfer in small_academy.golfers.items()
    }
    cohort, rows = rows_and_cohort(small_academy, without)
    with pytest.raises(CohortRefused, match="no golfer has a handicap"):
        fit_club_centiles(cohort, rows, CentilePlan())
