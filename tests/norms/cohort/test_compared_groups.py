import numpy as np
import pytest

from norms.cohort.compared_groups import ComparedGroups, Repeats, steady_deviations

FIRST = np.array([1.0, 4.0, 2.0, 9.0, 3.0])
SECOND = np.array([5.0, 12.0, 6.0, 20.0, 1.0, 8.0])
SWINGS = np.array([1.0, 2.0, 5.0, 4.0, 9.0]), np.array([3.0, 3.0, 1.0, 2.0, 8.0, 7.0])
SQUARES = np.array([0.0, 1.0, 6.0, 4.0, 9.0]), np.array([4.0, 1.0, 0.0, 2.0, 10.0, 7.0])


def pair(*, repeats=True, squares=SQUARES):
    empty = np.empty((5, 0)), np.empty((6, 0))
    known = tuple(
        Repeats(swings=count[:, None], squares=square[:, None])
        for count, square in zip(SWINGS, squares, strict=True)
    )
    return ComparedGroups(
        curves=empty,
        features=(FIRST[:, None], SECOND[:, None]),
        paired=False,
        left_out=0,
        repeats=known if repeats else None,
    )


def test_distances_are_in_units_of_golfers_and_their_own_noise():
    # 16 and 18 swings beyond each golfer's first: swing variances 20 / 16 and 24 / 18.
    noise = 1.25 / SWINGS[0], 4.0 / 3.0 / SWINGS[1]
    squares = 38.8 + 219.3333333  # about the means 3.8 and 26 / 3
    golfers = (squares - noise[0].sum() - noise[1].sum()) / 9
    found = steady_deviations(pair(), [0])
    np.testing.assert_allclose(
        found[0][:, 0], np.sqrt(5 / 4) * np.abs(FIRST - 3.0) / np.sqrt(golfers + noise[0])
    )
    np.testing.assert_allclose(
        found[1][:, 0], np.sqrt(6 / 5) * np.abs(SECOND - 7.0) / np.sqrt(golfers + noise[1])
    )


def test_without_swings_one_by_one_spreads_are_compared_as_they_are():
    found = steady_deviations(pair(repeats=False), [0])
    golfers = (38.8 + 219.3333333) / 9
    np.testing.assert_allclose(
        found[0][:, 0], np.sqrt(5 / 4) * np.abs(FIRST - 3.0) / np.sqrt(golfers)
    )


def test_noise_beyond_the_spread_of_means_leaves_golfers_a_little():
    loud = SQUARES[0] * 400, SQUARES[1] * 400
    found = steady_deviations(pair(squares=loud), [0])
    noise = 500.0 / SWINGS[0]
    golfers = 0.05 * (38.8 + 219.3333333) / 9
    assert found[0][3, 0] == pytest.approx(np.sqrt(5 / 4) * 6.0 / np.sqrt(golfers + noise[3]))
