"""The error of each feature on swings of known truth, by rate, noise and filter.

Writes results/feature_errors.csv, for the page on methods. Noise is white, of the stated sd on
each coordinate of every marker; errors are measured minus true.
"""

import csv
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from norms.errors import SwingRefused
from norms.records import Capture, ConditioningChoice, LabAxes, SwingLabel
from norms.swing.catalogue import BY_NAME, FEATURE_NAMES
from norms.swing.process import measure_capture, swing_from
from norms.swing.uncertainty import feature_uncertainty
from norms.synthetic import (
    Body,
    SwingParameters,
    capture_times,
    marker_paths,
    true_features,
    white_noise,
)

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results" / "feature_errors.csv"
RATES_HZ = (60.0, 120.0, 240.0, 500.0)
NOISES_MM = (0.1, 0.5, 1.0, 2.0, 5.0)
FILTERS = {
    "12 Hz": ConditioningChoice(cutoff_hz=12.0),
    "residual": ConditioningChoice(cutoff="residual"),
}
SWINGS = 100
SEED = 2026
LABEL = SwingLabel(
    swing="invented",
    golfer="Q0001",
    club="driver",
    recorded_on=date(2026, 5, 14),
    lab="North bay",
    source="invented",
    content_hash="0" * 64,
)
HEADING = (
    "rate_hz", "noise_mm", "filter", "feature", "unit", "swings", "missing", "bias", "sd", "rmse",
    "abs_error_p95", "stated_uncertainty", "within_2_stated", "seed",
)  # fmt: skip


def invented_swings() -> list[SwingParameters]:
    rng = np.random.default_rng(SEED)
    swings = []
    for _ in range(SWINGS):
        back = rng.uniform(0.65, 1.1)
        swings.append(
            SwingParameters(
                backswing_s=back,
                downswing_s=back / rng.uniform(2.5, 3.6),
                follow_through_s=rng.uniform(0.6, 0.9),
                sway_away_cm=rng.uniform(2.5, 7.5),
                sway_forward_cm=rng.uniform(9.0, 17.0),
                sway_lead_s=rng.uniform(0.03, 0.12),
                thrust_late_cm=rng.uniform(1.5, 5.0),
                lift_rise_cm=rng.uniform(3.5, 8.5),
                club_speed_mps=rng.uniform(28.0, 50.0),
            )
        )
    return swings


def capture_of(swing, rate_hz, noise_mm, conditioning, rng) -> Capture:
    paths = marker_paths(swing, Body(), capture_times(swing, rate_hz))
    points = np.stack(list(paths.values()), axis=1)
    return Capture(
        points_cm=points + white_noise(rng, points.shape, 0.1 * noise_mm),
        roles=tuple(paths),
        rate_hz=rate_hz,
        axes=LabAxes(source="declared", up=(0, 0, 1), target=(1, 0, 0)),
        hand="right",
        conditioning=conditioning,
    )


def errors_of_cell(swings, truths, rate_hz, noise_mm, conditioning):
    """Errors and stated uncertainties, shape (n, d); NaN where truth or swing lacks a feature."""
    rng = np.random.default_rng(SEED)
    errors, stated = np.full((2, len(swings), len(FEATURE_NAMES)), np.nan)
    refused = 0
    for row, (swing, truth) in enumerate(zip(swings, truths, strict=True)):
        capture = capture_of(swing, rate_hz, noise_mm, conditioning, rng)
        try:
            measured = measure_capture(capture)
        except SwingRefused:
            refused += 1
            continue
        values = swing_from(measured, capture, LABEL).features.values
        spread = feature_uncertainty(measured, rng)
        for column, name in enumerate(FEATURE_NAMES):
            if name in values and name in truth:
                errors[row, column] = values[name] - truth[name]
                stated[row, column] = spread[name]
    return errors, stated, refused


def rows_of_cell(errors, stated, rate_hz, noise_mm, filter_name):
    for column, name in enumerate(FEATURE_NAMES):
        known = np.isfinite(errors[:, column])
        error, spread = errors[known, column], stated[known, column]
        yield (
            f"{rate_hz:g}", f"{noise_mm:g}", filter_name, name, BY_NAME[name].unit, len(error),
            int((~known).sum()), *(f"{value:.4g}" for value in (
                error.mean(), error.std(ddof=1), np.sqrt((error**2).mean()),
                np.quantile(np.abs(error), 0.95), np.sqrt((spread**2).mean()),
            )), f"{(np.abs(error) <= 2 * spread).mean():.2f}", SEED,
        )  # fmt: skip


def test_feature_errors_by_rate_noise_and_filter():
    swings = invented_swings()
    truths = [true_features(swing) for swing in swings]
    rows, coverage = [], []
    for rate_hz in RATES_HZ:
        for noise_mm in NOISES_MM:
            for filter_name, conditioning in FILTERS.items():
                errors, stated, refused = errors_of_cell(
                    swings, truths, rate_hz, noise_mm, conditioning
                )
                rows.extend(rows_of_cell(errors, stated, rate_hz, noise_mm, filter_name))
                known = np.isfinite(errors)
                coverage.append((np.abs(errors) <= 2 * stated)[known].mean())
                rms = np.sqrt(np.nanmean(errors**2, axis=0))
                places = [k for k, n in enumerate(FEATURE_NAMES) if BY_NAME[n].unit == "cm"]
                lengths = [k for k in places if FEATURE_NAMES[k] != "path_length"]
                print(
                    f"{rate_hz:g} Hz, {noise_mm:g} mm, {filter_name}: refused {refused}, worst "
                    f"length {10 * rms[lengths].max():.2f} mm, within 2 u {coverage[-1]:.2f}"
                )
                # a length is known to a tenth of a centimetre plus the noise of one marker
                assert rms[lengths].max() < 0.15 + 0.1 * noise_mm
                assert refused <= 0.02 * SWINGS
    RESULTS.parent.mkdir(exist_ok=True)
    with RESULTS.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerows([HEADING, *rows])
    # 95 % is wanted; a feature of one case is known to two or three percent from 100 swings
    assert min(coverage) > 0.93
    assert min(float(row[HEADING.index("within_2_stated")]) for row in rows) > 0.8
