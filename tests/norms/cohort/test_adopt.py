from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from norms.cohort.adopt import _bin_scores, adoption_document, verify_cell
from norms.cohort.edition import build_edition
from norms.errors import CohortRefused
from norms.records import Cohort

FEATURES = ("sway_travel", "tempo")


@pytest.fixture
def edition(pool_of, golfer):
    people = {f"D{i:04d}": golfer(f"D{i:04d}") for i in range(200)}
    return build_edition("theirs", pool_of(dict.fromkeys(people, 2)), people)


@pytest.fixture
def local_of(edition):
    definition = edition.cell("driver/all").cohort.definition

    def make(n, *, shift=0.0, spread=1.0, seed=1):
        # Golfers' means of two standard normal swings, as in the edition.
        features = np.random.default_rng(seed).normal(0, np.sqrt(0.5), (n, 2)) * spread + shift
        return Cohort(
            definition=definition,
            golfers=tuple(f"L{i:04d}" for i in range(n)),
            swing_counts=np.full(n, 2),
            curves_cm=np.zeros((n, 3, 301)),
            feature_names=FEATURES,
            features=features,
        )

    return make


def verify(edition, local, **choices):
    cell = edition.cell("driver/all")
    rng = np.random.default_rng(2)
    return verify_cell(cell, local, rng, **({"features": FEATURES, "draws": 5_000} | choices))


def test_norms_that_hold_are_accepted(edition, local_of):
    result = verify(edition, local_of(20))
    assert result.verdict == "accept"
    assert result.refused_by == ()
    assert (result.local_golfers, result.edition_golfers) == (20, 200)
    assert result.error_rates.false_refusal == 0.10


def test_golfers_who_are_elsewhere_refuse_them(edition, local_of):
    result = verify(edition, local_of(20, shift=1.5))
    assert result.verdict == "do not accept"
    assert result.refused_by == FEATURES
    assert all(check.location > 3 for check in result.checks)
    assert all(check.below_median < 4 for check in result.checks)


def test_golfers_who_are_spread_otherwise_refuse_them(edition, local_of):
    wide = verify(edition, local_of(40, spread=3.0))
    assert wide.verdict == "do not accept"
    assert all(check.spread > 2 for check in wide.checks)
    assert all(check.outside > check.outside_expected for check in wide.checks)
    narrow = verify(edition, local_of(40, spread=0.1))
    assert narrow.verdict == "do not accept"
    assert all(check.spread < -2 for check in narrow.checks)


def test_more_golfers_miss_less(edition, local_of):
    few, many = (verify(edition, local_of(n)).error_rates for n in (15, 60))
    assert few.found_shift_half < few.found_shift_one
    assert few.found_shift_one < many.found_shift_one
    assert few.found_spread_half_more < many.found_spread_half_more
    assert many.found_shift_one > 0.95


def test_bin_scores_are_the_moments_of_a_normal_between_percentiles():
    percents = (5.0, 25.0, 50.0, 90.0)
    edges = stats.norm.ppf(np.array([0, *percents, 100]) / 100)
    for i, (location, spread) in enumerate(_bin_scores(percents).T):
        part = stats.truncnorm(edges[i], edges[i + 1])
        assert location == pytest.approx(part.mean())
        assert spread == pytest.approx(part.moment(2))


def test_the_verdict_names_no_golfer_and_repeats(edition, local_of):
    one, other = (adoption_document(verify(edition, local_of(20))) for _ in range(2))
    assert one == other
    assert "L0" not in repr(one)


def test_too_few_local_golfers_decide_nothing(edition, local_of):
    with pytest.raises(CohortRefused, match="14 local golfers have sway_travel, and 15 are needed"):
        verify(edition, local_of(14))


def test_what_cannot_be_held_against_is_refused(edition, local_of, pool_of, golfer):
    with pytest.raises(CohortRefused, match="the edition has no feature 'grip'"):
        verify(edition, local_of(20), features=("grip",))
    local = local_of(20)
    with pytest.raises(CohortRefused, match="no local feature 'tempo'"):
        verify(edition, replace(local, feature_names=("sway_travel", "other")))
    withheld = edition.cell("driver/to_5")
    with pytest.raises(CohortRefused, match="is withheld in the edition"):
        verify_cell(withheld, local, np.random.default_rng(0), features=FEATURES)
    people = {f"D{i:04d}": golfer(f"D{i:04d}") for i in range(8)}
    small = build_edition("small", pool_of(dict.fromkeys(people, 2)), people)
    with pytest.raises(CohortRefused, match="shows too few percentiles"):
        verify(small, local)
