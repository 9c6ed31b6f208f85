"""How many new golfers' whole curves a 90 % band truly holds, over many invented cohorts.

Golfers' true curves are Gaussian processes, smooth or wiggly, zero at the start, with or without
a skewed level; each golfer's mean carries the noise of 1 to 19 swings. New golfers come from the
same population. Run with ``-m slow``; the table is kept in results/whole_curve_bands.csv.
"""

from pathlib import Path

import numpy as np
import pytest

from norms.cohort.simultaneous_bands import leave_one_out_maxima
from norms.statistics.resampling import bootstrap_band_factor, resample_counts

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results" / "whole_curve_bands.csv"
NODES = 61
RISE = np.minimum(np.linspace(0, 1, NODES) * 8, 1)
FLOOR = 0.05
COHORTS = {30: 400, 60: 300, 120: 200, 500: 100}
NEW_GOLFERS = 1000
SEED = 20260


def process(length_scale):
    x = np.linspace(0, 1, NODES)
    covariance = np.exp(-0.5 * ((x[:, None] - x) / length_scale) ** 2)
    values, vectors = np.linalg.eigh(covariance)
    kept = values > 1e-8
    return vectors[:, kept] * np.sqrt(values[kept])


def golfer_means(n, basis, skewed, rng):
    def curves():
        return rng.normal(size=(n, 3, basis.shape[1])) @ basis.T

    swings = rng.integers(1, 20, (n, 1, 1))
    true = curves()
    if skewed:
        true = true + 0.8 * (rng.exponential(size=(n, 3, 1)) - 1)
    return (true + 0.6 * curves() / np.sqrt(swings)) * RISE


def shares_held(n, basis, skewed, rng):
    """Share of new golfers inside each kind of band, for one invented cohort."""
    cohort = golfer_means(n, basis, skewed, rng)
    new = golfer_means(NEW_GOLFERS, basis, skewed, rng)
    rank = int(np.ceil((n + 1) * 0.9)) - 1
    maxima = leave_one_out_maxima(cohort, FLOOR)
    mean, sd = cohort.mean(axis=0), np.maximum(cohort.std(axis=0, ddof=1), FLOOR)
    deviations = (np.abs(new - mean) / sd).max(axis=-1)
    joint = deviations.max(axis=1)

    moving = cohort[:, :, 1:].reshape(n, -1)
    published = bootstrap_band_factor(moving, resample_counts(n, 200, rng), 0.9)
    published *= np.sqrt((n - 1) / n)  # its spread has divisor n
    return (
        np.mean(joint <= np.sort(maxima.max(axis=1))[rank]),
        np.mean(deviations[:, 0] <= np.sort(maxima[:, 0])[rank]),
        np.mean(joint <= published),
        np.mean(joint <= 1.645),
    )


def test_whole_curve_bands_hold_88_to_92_percent_of_new_golfers():
    rng = np.random.default_rng(SEED)
    lines = [
        "curves,level,golfers,cohorts,leave_one_out_joint_pct,leave_one_out_axis_pct,"
        "standard_error_pct,bootstrap_joint_pct,pointwise_joint_pct"
    ]
    held = []
    for curves, length_scale in (("smooth", 0.2), ("wiggly", 0.04)):
        basis = process(length_scale)
        for level, skewed in (("symmetric", False), ("skewed", True)):
            for n, cohorts in COHORTS.items():
                shares = np.array([shares_held(n, basis, skewed, rng) for _ in range(cohorts)])
                joint, axis, published, pointwise = 100 * shares.mean(axis=0)
                error = 100 * shares[:, 0].std(ddof=1) / np.sqrt(cohorts)
                held += [joint, axis]
                lines.append(
                    f"{curves},{level},{n},{cohorts},{joint:.1f},{axis:.1f},{error:.2f},"
                    f"{published:.1f},{pointwise:.1f}"
                )
    RESULTS.write_text("\n".join(lines) + "\n")
    assert min(held) >= 88
    assert max(held) <= 92
