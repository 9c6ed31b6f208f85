import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.statistics.within_between import within_and_between


def test_parts_by_hand():
    values = np.array([[1.0], [3.0], [10.0], [14.0]])
    parts = within_and_between(values, ["a", "a", "b", "b"], [0, 0, 0, 0])
    assert parts.within[:, 0].tolist() == [-1, 1, -2, 2]
    assert parts.between[:, 0].tolist() == [-5, -5, 5, 5]


def test_a_difference_between_clubs_is_neither_within_nor_between():
    club = np.array(["driver", "iron 7"] * 3)
    values = np.where(club == "driver", 12.0, 7.0)[:, None]
    parts = within_and_between(values, ["a", "a", "b", "b", "c", "c"], club)
    assert parts.within == pytest.approx(0.0)
    assert parts.between == pytest.approx(0.0)


@settings(deadline=None)
@given(st.integers(0, 10_000))
def test_within_sums_to_zero_in_every_golfer_and_between_is_one_number(seed):
    rng = np.random.default_rng(seed)
    golfer = rng.integers(0, 6, 40)
    club = rng.integers(0, 2, 40)
    values = rng.normal(size=(40, 3))
    values[rng.random(values.shape) < 0.2] = np.nan
    parts = within_and_between(values, golfer, club)
    assert (np.isnan(parts.within) == np.isnan(values)).all()
    for code in range(6):
        own = golfer == code
        assert np.nansum(parts.within[own], axis=0) == pytest.approx(0.0, abs=1e-9)
        spread = [np.ptp(c[np.isfinite(c)]) for c in parts.between[own].T if np.isfinite(c).any()]
        assert np.allclose(spread, 0.0)
    assert np.nansum(parts.within * parts.between) == pytest.approx(0.0, abs=1e-9)
