"""Within and between models of all features against a loop over statsmodels' mixed-model fit.

statsmodels is timed on some features and scaled to all of them. Both run their linear algebra on
one thread.
"""

import warnings
from time import perf_counter

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from norms.statistics.mixed_models import fit_random_intercepts
from norms.statistics.within_between import within_and_between
from norms.swing.catalogue import FEATURE_NAMES

pytestmark = pytest.mark.benchmark

FEATURES = len(FEATURE_NAMES)
TIMED = 3


def made(golfers):
    rng = np.random.default_rng(1)
    counts = rng.integers(5, 16, golfers)
    code = np.repeat(np.arange(golfers), counts)
    x = rng.normal(size=(golfers, FEATURES))[code] + rng.normal(size=(len(code), FEATURES))
    age, sex = rng.normal(size=golfers)[code], rng.integers(0, 2, golfers)[code]
    y = 60 + 3 * rng.normal(size=golfers)[code] + age + 6 * sex + rng.normal(size=len(code))
    y += 0.4 * x[:, 0]
    return y, np.column_stack([np.ones(len(code)), age, sex]), x, code


def ours(y, shared, x, code):
    parts = within_and_between(x, code, np.zeros(len(code)))
    own = np.stack([parts.within, parts.between], axis=2)
    return own, fit_random_intercepts(y, shared, own, code)


def fastest(call, repeats=3):
    times = []
    for _ in range(repeats):
        start = perf_counter()
        call()
        times.append(perf_counter() - start)
    return min(times)


def test_all_features_at_10_000_swings_take_under_a_twentieth_of_the_loop():
    from statsmodels.regression.mixed_linear_model import MixedLM

    y, shared, x, code = made(1_000)
    with threadpool_limits(1, user_api="blas"), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        own, fit = ours(y, shared, x, code)
        mine = fastest(lambda: ours(y, shared, x, code))
        start = perf_counter()
        for feature in range(TIMED):
            design = np.column_stack([shared, own[:, feature]])
            theirs = MixedLM(y, design, code).fit(reml=True)
            assert fit.fixed[feature] == pytest.approx(theirs.fe_params, abs=1e-4)
        loop = (perf_counter() - start) * FEATURES / TIMED
    print(f"{len(y)} swings: ours {mine:.3f} s, loop {loop:.1f} s, 1/{loop / mine:.0f}")
    assert mine < loop / 20


def test_time_grows_linearly_in_swings():
    times = {}
    with threadpool_limits(1, user_api="blas"):
        for golfers in (1_000, 8_000):
            data = made(golfers)
            times[golfers] = fastest(lambda data=data: ours(*data))
    print(", ".join(f"{10 * g} swings {t:.3f} s" for g, t in times.items()))
    assert times[8_000] < 1.5 * 8 * times[1_000]
