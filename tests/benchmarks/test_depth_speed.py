"""Functional depth against scikit-fda at 10,000 curves, same values on tie-free data.

scikit-fda is needed for this file alone (with multimethod<2); without it the file is skipped.
"""

from time import perf_counter

import numpy as np
import pytest

from norms.statistics.depth import modified_band_depth

pytestmark = pytest.mark.benchmark

skfda = pytest.importorskip("skfda", reason="scikit-fda is not installed")


def best_seconds(work, repeats=3):
    times = []
    for _ in range(repeats):
        start = perf_counter()
        result = work()
        times.append(perf_counter() - start)
    return min(times), result


def simpson_depth(curves):
    """Depth with the nodes weighed as scikit-fda does, which integrates by Simpson's rule."""
    odd, even = curves[:, 1::2], curves[:, 2:-1:2]
    parts = [(4, odd), (2, even), (1, curves[:, :1]), (1, curves[:, -1:])]
    weighed = sum(weight * part.shape[1] * modified_band_depth(part) for weight, part in parts)
    return weighed / (3 * (curves.shape[1] - 1))


@pytest.mark.filterwarnings("ignore")
def test_depth_is_at_least_20_times_faster_than_scikit_fda_with_the_same_values():
    from skfda.exploratory.depth import ModifiedBandDepth

    curves = np.random.default_rng(0).normal(size=(10_000, 301)).cumsum(axis=1)
    ours, depth = best_seconds(lambda: modified_band_depth(curves))
    theirs, reference = best_seconds(lambda: ModifiedBandDepth()(skfda.FDataGrid(curves)))
    print(f"modified band depth, 10,000 x 301: {theirs / ours:.0f} times faster than scikit-fda")
    np.testing.assert_allclose(depth, reference, atol=2 / 301)
    np.testing.assert_allclose(simpson_depth(curves), reference, atol=1e-9)
    assert theirs / ours >= 20
