"""How often the partition test finds a difference where there is none, over invented cohorts.

Run with ``-m slow``; the table is kept in results/partition_test.csv.
"""

from pathlib import Path

import numpy as np
import pytest

from norms.statistics.permutation import max_t_between_groups, max_t_within_golfers

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results" / "partition_test.csv"
TRIALS = 4000
RELABELLINGS = 199  # 0.05 (199 + 1) is a whole number, so the test can reach its level
NODES = np.linspace(0, 1, 41)
WAVES = np.stack([np.sin((k + 1) * 2 * NODES + k) for k in range(6)])
SEED = 20261


def golfer_means(n, skewed, rng):
    parts = rng.normal(size=(n, 3, 6))
    if skewed:
        parts[:, :, 0] = rng.exponential(size=(n, 3)) - 1
    swings = rng.integers(1, 20, (n, 1, 1))
    noise = rng.normal(size=(n, 3, 6)) / np.sqrt(swings)
    return ((parts + 0.5 * noise) @ WAVES).reshape(n, -1)


def between(first, second, skewed, rng):
    return max_t_between_groups(
        golfer_means(first, skewed, rng),
        golfer_means(second, skewed, rng),
        rng,
        relabellings=RELABELLINGS,
        exact_limit=0,
    ).p_value


def within(n, _, skewed, rng):
    difference = golfer_means(n, skewed, rng) - golfer_means(n, skewed, rng)
    return max_t_within_golfers(difference, rng, relabellings=RELABELLINGS, exact_limit=0).p_value


def test_five_percent_test_rejects_4_to_6_percent_without_a_difference():
    rng = np.random.default_rng(SEED)
    lines = ["comparison,level,first_golfers,second_golfers,trials,rejected_pct,standard_error_pct"]
    rejected = []
    for name, p_value, first, second in (
        ("between groups", between, 20, 20),
        ("between groups", between, 15, 60),
        ("between groups", between, 120, 60),
        ("within golfers", within, 20, 20),
    ):
        for level, skewed in (("symmetric", False), ("skewed", True)):
            found = [p_value(first, second, skewed, rng) <= 0.05 for _ in range(TRIALS)]
            share = 100 * np.mean(found)
            error = np.sqrt(share * (100 - share) / TRIALS)
            rejected.append(share)
            lines.append(f"{name},{level},{first},{second},{TRIALS},{share:.2f},{error:.2f}")
    RESULTS.write_text("\n".join(lines) + "\n")
    assert min(rejected) >= 4
    assert max(rejected) <= 6
