import json
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.statistics.resampling import bootstrap_band_factor, counts_of_draws, resample_counts

REFERENCE = Path(__file__).parents[2] / "reference" / "bands"
CASES = {
    case["id"]: case["expected"]
    for case in json.loads((REFERENCE / "bands.json").read_text())["cases"]
}


def table(name):
    skip = 1 if name == "band_curves" else 0
    return np.loadtxt(REFERENCE / f"{name}.csv", delimiter=",", skiprows=skip)


def plain_loop_factor(curves, draws, level, ddof=0):
    """The definition, resample by resample."""
    maxima = []
    for draw in draws:
        sample = curves[draw]
        sd = sample.std(axis=0, ddof=ddof)
        if (sd > 1e-9).all():
            maxima.append((np.abs(curves - sample.mean(axis=0)) / sd).max(axis=1))
    ranked = np.sort(np.concatenate(maxima))
    return ranked[int(np.ceil(level * len(ranked) - 1e-9)) - 1]


@pytest.mark.parametrize("ddof", [0, 1])
@pytest.mark.parametrize("percent", [80, 90, 95])
def test_factor_for_given_resamples_equals_the_reference(percent, ddof):
    curves, draws = table("band_curves"), table("boot_index").astype(int)
    counts = counts_of_draws(draws, len(curves))
    factor = bootstrap_band_factor(curves, counts, percent / 100, ddof=ddof)
    expected = CASES["lenhoff_given_indices"][f"C_{percent}_ddof{ddof}"]
    assert factor == pytest.approx(expected, abs=1e-9)


def test_own_resamples_give_the_reference_factor_within_its_monte_carlo_error():
    curves = table("band_curves")
    counts = resample_counts(len(curves), 1000, np.random.default_rng(17))
    case = CASES["lenhoff_monte_carlo"]
    for percent in (90, 95):
        factor = bootstrap_band_factor(curves, counts, percent / 100)
        error = case[f"sd_between_runs_B1000_{percent}"]
        assert factor == pytest.approx(case[f"C_{percent}"], abs=5 * error)


@pytest.mark.parametrize("name", ["enum4", "enum5"])
def test_enumerated_resamples_give_the_exact_factor(name):
    case = CASES[name]
    curves = np.array(case["curves"])
    n = len(curves)
    counts = counts_of_draws(np.array(list(product(range(n), repeat=n))), n)
    for percent in (80, 90, 95):
        factor = bootstrap_band_factor(curves, counts, percent / 100)
        assert factor == pytest.approx(case[f"C_{percent}"], abs=1e-9)


def test_curves_of_rank_one_reduce_to_a_number_each():
    case = CASES["rank_one"]
    t = np.linspace(0, 1, 101)
    height = np.array(case["a"])
    curves = np.cos(3 * t) + height[:, None] * (1 + np.sin(np.pi * t))
    counts = counts_of_draws(table("boot_index_rank1").astype(int), len(height))
    for percent in (80, 90, 95):
        factor = bootstrap_band_factor(curves, counts, percent / 100)
        assert factor == pytest.approx(case[f"C_{percent}"], abs=1e-9)


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 1000), st.integers(6, 60), st.integers(1, 25), st.floats(0.3, 0.99))
def test_pruning_changes_nothing(seed, golfers, nodes, level):
    rng = np.random.default_rng(seed)
    curves = rng.normal(size=(golfers, nodes)).cumsum(axis=1)
    draws = rng.integers(0, golfers, (40, golfers))
    expected = plain_loop_factor(curves, draws, level)
    factor = bootstrap_band_factor(curves, counts_of_draws(draws, golfers), level)
    assert factor == pytest.approx(expected, rel=1e-7)


def test_resamples_draw_as_many_golfers_as_there_are():
    counts = resample_counts(13, 50, np.random.default_rng(0))
    assert counts.shape == (50, 13)
    assert (counts.sum(axis=1) == 13).all()


def test_nodes_where_all_agree_are_refused():
    curves = np.random.default_rng(0).normal(size=(10, 5))
    curves[:, 0] = 0
    with pytest.raises(ValueError, match="all agree at a node"):
        bootstrap_band_factor(curves, resample_counts(10, 5, np.random.default_rng(0)), 0.9)
    with pytest.raises(ValueError, match="lacks spread"):
        bootstrap_band_factor(curves[:, 1:], np.eye(10, dtype=int) * 10, 0.9)
