"""Handicap centiles of all 903 curve values against node-by-node quantile regression.

The quantile regression is statsmodels' on the same spline basis, 7 quantiles, timed on nodes
spread over the three curves and scaled to all of them. Both run their linear algebra on one thread.
"""

import warnings
from time import perf_counter

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from norms.cohort.fit_centiles import fit_curve_centiles
from norms.statistics.splines import SplineBasis
from norms.vocabulary import BAND_PERCENTS

pytestmark = pytest.mark.benchmark

TIMED_NODES = 12


def made_golfers(count):
    rng = np.random.default_rng(0)
    handicap = rng.uniform(-4, 40, count)
    t = np.linspace(0, 1, 301)
    shapes = np.stack([np.sin(2 * np.pi * t), t**2, np.sin(5 * t) * t])
    own = np.expm1(0.5 * rng.normal(size=(count, 3, 3)))
    trend = np.multiply.outer(np.sin(handicap / 12), 2 * t)[:, None, :]
    return handicap, np.einsum("nak,kt->nat", own, shapes) + trend


@pytest.mark.parametrize("count", [300, 1000])
def test_all_903_values_take_under_a_twentieth_of_node_by_node_quantile_regression(count):
    from statsmodels.regression.quantile_regression import QuantReg

    handicap, curves = made_golfers(count)
    times = []
    for _ in range(3):
        start = perf_counter()
        axes = fit_curve_centiles(curves, handicap)
        times.append(perf_counter() - start)
    ours = min(times)
    assert sum(len(axis.names) for axis in axes) > 880

    design = SplineBasis(low=-4.0, high=40.0, segments=10).design(handicap)
    values = curves.reshape(count, -1)
    nodes = np.linspace(20, 902, TIMED_NODES).astype(int)
    start = perf_counter()
    with warnings.catch_warnings(), threadpool_limits(1, user_api="blas"):
        warnings.simplefilter("ignore")
        for node in nodes:
            for percent in BAND_PERCENTS:
                QuantReg(values[:, node], design).fit(q=percent / 100)
    theirs = (perf_counter() - start) * 903 / TIMED_NODES
    print(f"{count} golfers: ours {ours:.1f} s, node by node {theirs:.0f} s, 1/{theirs / ours:.0f}")
    assert ours < theirs / 20
