"""The number of patterns by a second rule: the gap statistic, as R's cluster 2.1.4 has it.

Tibshirani, Walther and Hastie (2001), J. R. Stat. Soc. B 63:411, on scikit-learn's k-means.
"""

from pathlib import Path

import numpy as np
import pytest
from sklearn.cluster import KMeans
from threadpoolctl import threadpool_limits

from norms.cohort.pattern_search import PatternChoices, search_patterns

FOLDER = Path(__file__).parents[2] / "reference" / "cluster"
CHOICES = PatternChoices(most=4, cloud_level=0.05, simulations=19, resamples=15, starts=4)


def log_within(rows, most):
    with threadpool_limits(1):
        fits = [KMeans(k, n_init=8, random_state=7).fit(rows) for k in range(1, most + 1)]
    return np.log([fit.inertia_ / 2 for fit in fits])


def gap_of(rows, most=5, references=20):
    """Log within, gap, and the fewest groups whose gap is the next one's less its error."""
    rng = np.random.default_rng(88)
    centred = rows - rows.mean(axis=0)
    turned = centred @ np.linalg.svd(centred, full_matrices=False)[2].T
    low, high = turned.min(axis=0), turned.max(axis=0)
    own = log_within(turned, most)
    even = [log_within(rng.uniform(low, high, turned.shape), most) for _ in range(references)]
    gap = np.mean(even, axis=0) - own
    error = np.std(even, axis=0) * np.sqrt(1 + 1 / references)
    enough = np.append(gap[:-1] >= gap[1:] - error[1:], True)
    return own, gap, int(enough.argmax()) + 1


@pytest.fixture(scope="module")
def synth3():
    return np.loadtxt(FOLDER / "synth3.csv", delimiter=",", skiprows=1)[:, :3]


def test_three_groups_by_clusgap_are_three_patterns(synth3):
    own, gap, groups = gap_of(synth3)
    # log W of clusGap with d.power = 2.
    reference = [6.600818058673955, 5.757190263061173, 4.989596050613692, 4.80829649836269]
    np.testing.assert_allclose(own[:4], reference, atol=2e-3)
    np.testing.assert_allclose(gap[:3], [0.0485, 0.2180, 0.7173], atol=0.05)
    found = search_patterns(synth3, CHOICES, np.random.default_rng(1))
    assert (found.believed, len(found.stability), groups) == (True, 3, 3)


def test_one_cloud_by_the_gap_is_no_pattern():
    rows = np.random.default_rng(3).normal(size=(150, 3))
    found = search_patterns(rows, CHOICES, np.random.default_rng(1))
    assert (found.believed, gap_of(rows)[2]) == (False, 1)
