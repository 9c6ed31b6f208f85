import numpy as np
import pytest

from norms.study.ball_speed import DOUBTFUL_RATIO, IMPOSSIBLE_RATIO, judge_speeds

# (1 + e) M / (M + m), m = 0.04593 kg; recomputed from momentum and restitution, to 1e-5.
BOUNDS = [
    (0.174, 0.83, 1.44782),
    (0.190, 0.83, 1.47374),
    (0.200, 0.83, 1.48823),
    (0.210, 0.83, 1.50158),
    (0.200, 0.822, 1.48172),
    (0.195, 0.78, 1.44067),
]


def greatest_ratio(head_kg, restitution=0.83, ball_kg=0.04593):
    """Ball over club speed of a head-on impact; loft lowers it, about by its cosine."""
    return (1 + restitution) * head_kg / (head_kg + ball_kg)


@pytest.mark.parametrize(("mass", "restitution", "ratio"), BOUNDS)
def test_the_bound_of_a_head_on_impact(mass, restitution, ratio):
    assert greatest_ratio(mass, restitution) == pytest.approx(ratio, abs=1e-5)


def test_the_doubtful_ratio_takes_a_heavy_head_and_the_impossible_one_no_head_at_all():
    assert greatest_ratio(0.2088) == pytest.approx(DOUBTFUL_RATIO, abs=2e-4)
    assert greatest_ratio(0.230) < IMPOSSIBLE_RATIO


def test_speeds_are_judged_by_ratio_and_by_range():
    ball = [70.0, 76.0, 80.0, 3.0, 120.0, 70.0, np.nan, np.inf]
    club = [48.0, 50.0, 50.0, np.nan, np.nan, np.nan, 50.0, 50.0]
    judged = judge_speeds(ball, club)
    assert judged.impossible.tolist() == [False, False, True, True, True, False, False, True]
    assert judged.doubtful.tolist() == [False, True, False, False, False, False, False, False]
