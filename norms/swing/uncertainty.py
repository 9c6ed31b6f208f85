"""Standard uncertainty of each feature, from events, the filter and the noise.

Perturb and propagate: each event is moved within the half-width in which it is believed to lie,
the cutoff over a range, what the filter took off the motion is put back, and noise as large as the
capture's own is added; each time every feature is read again.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from scipy.interpolate import CubicSpline

from norms.records import (
    Capture,
    EventCorrection,
    FeatureValues,
    FloatArray,
    Swing,
    SwingLabel,
)
from norms.swing.address import still_stretch
from norms.swing.catalogue import FEATURE_NAMES
from norms.swing.condition import low_pass
from norms.swing.feature_batch import Variants, batch_features
from norms.swing.process import Measured, measure_capture, swing_from
from norms.vocabulary import NODES_PER_PHASE

CUTOFF_FACTOR: Final = 1.25
"""The cutoff might as well have been lower or higher by this factor."""
NOISE_DRAWS: Final = 16
NODE: Final = float(np.sqrt(0.6))
WEIGHTS: Final = (5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0)
"""Three-point Gauss-Legendre rule: mean and variance of what a quantity known to lie within a
half-width, all values alike, makes of a feature, exact where the feature is a parabola in it."""


def feature_uncertainty(measured: Measured, rng: np.random.Generator) -> dict[str, float]:
    """Standard uncertainty of each feature of one swing.

    Parameters
    ----------
    measured : Measured
        From ``norms.swing.process.measure_capture``.
    rng : numpy.random.Generator
        For the noise.

    Returns
    -------
    dict of str to float
        By name, in the catalogue's unit; a feature that the swing does not give is left out.

    Notes
    -----
    Sources are taken as independent and their variances added (Guide to the Expression of
    Uncertainty in Measurement, JCGM 100:2008, 5.1.2; half-widths as rectangular distributions,
    4.3.7). What the filter took off is estimated as in ``norms.swing.filter_error`` and counts
    whole, since its sign is not to be relied on. A variant in which a feature is missing counts
    as unchanged. Not contained: where the markers sit on the skin, and which hip regression is
    used.
    """
    base = batch_features(_nodes_of(measured, _bounds(measured)[None]))
    events = batch_features(_event_variants(measured)).reshape(4, 2, -1)
    signals = batch_features(_signal_variants(measured, rng))
    signals = np.where(np.isnan(signals), base, signals)
    cutoffs, twiced, noise = np.split(signals, [2, 3])
    variance = sum(_variance(base[0], low_high) for low_high in (*events, cutoffs))
    variance = variance + (twiced[0] - base[0]) ** 2 + np.mean((noise - base) ** 2, axis=0)
    return {
        name: float(np.sqrt(value))
        for name, value in zip(FEATURE_NAMES, variance, strict=True)
        if np.isfinite(value)
    }


def process_with_uncertainty(
    capture: Capture,
    label: SwingLabel,
    rng: np.random.Generator,
    corrections: Sequence[EventCorrection] = (),
) -> Swing:
    """``process_capture`` with the standard uncertainty of each feature."""
    measured = measure_capture(capture, corrections)
    swing = swing_from(measured, capture, label)
    found = feature_uncertainty(measured, rng)
    known = {name: found[name] for name in swing.features.values if name in found}
    features = FeatureValues(
        values=swing.features.values, missing=swing.features.missing, uncertainty=known
    )
    return replace(swing, features=features)


def _variance(base: FloatArray, low_high: FloatArray) -> FloatArray:
    low, high = np.where(np.isnan(low_high), base, low_high)
    values = np.stack([low, base, high])
    weights = np.array(WEIGHTS)[:, None]
    return np.asarray((weights * (values - (weights * values).sum(axis=0)) ** 2).sum(axis=0))


def _bounds(measured: Measured) -> FloatArray:
    return np.array(measured.events.boundaries_s)


def _event_variants(measured: Measured) -> Variants:
    """Each event early and late, shape (8, ...); no event crosses its neighbour."""
    bounds = _bounds(measured)
    marks = [measured.events.mark(name) for name in ("start", "top", "impact", "finish")]
    rows = []
    spans = np.diff(bounds)
    for k, mark in enumerate(marks):
        room = 0.45 * float(min(spans[max(k - 1, 0) : k + 1]))
        for sign in (-1.0, 1.0):
            moved = bounds.copy()
            moved[k] += sign * NODE * min(mark.uncertainty_s, room)
            rows.append(moved)
    return _nodes_of(measured, np.array(rows))


def _node_times(bounds: FloatArray) -> FloatArray:
    """Seconds of the nodes, shape (v, 301), from boundaries of shape (v, 4)."""
    share = np.linspace(0.0, 1.0, NODES_PER_PHASE)
    phases = bounds[:, :-1, None] + np.diff(bounds, axis=1)[:, :, None] * share
    return np.concatenate([phases[:, 0], phases[:, 1, 1:], phases[:, 2, 1:]], axis=1)


def _nodes_of(measured: Measured, bounds: FloatArray) -> Variants:
    """The swing's own motion on the nodes of each set of boundaries; zero moves with the start."""
    motion = measured.motion()
    times = np.clip(_node_times(bounds), motion.x[0], motion.x[-1])
    smooth, rate_hz = measured.displacement.values_cm, measured.displacement.rate_hz
    zeros = np.stack(
        [
            smooth[still_stretch(start, measured.first, rate_hz)].mean(axis=0)
            for start in bounds[:, 0]
        ]
    )
    return Variants(
        times_s=times,
        position_cm=motion(times).transpose(0, 2, 1) - zeros[:, :, None],
        velocity_cm_s=motion(times, 1).transpose(0, 2, 1),
    )


def _signal_variants(measured: Measured, rng: np.random.Generator) -> Variants:
    """On the nodes of the swing: two cutoffs, the motion with what the filter took off it put
    back, and a number of noises; shape (3 + draws, ...).
    """
    rate_hz, facts = measured.displacement.rate_hz, measured.filtering
    raw, smooth = measured.raw_cm, measured.displacement.values_cm
    noise = rng.standard_normal((len(raw), NOISE_DRAWS, 3)) * facts.noise_sd_cm
    signals = np.concatenate(
        [
            np.stack(
                [low_pass(raw, rate_hz, facts.cutoff_hz * CUTOFF_FACTOR**k) for k in (-NODE, NODE)],
                axis=1,
            ),
            (2.0 * smooth - low_pass(smooth, rate_hz, facts.cutoff_hz))[:, None],
            smooth[:, None] + low_pass(noise, rate_hz, facts.cutoff_hz),
        ],
        axis=1,
    )
    bounds = _bounds(measured)
    still = still_stretch(float(bounds[0]), measured.first, rate_hz)
    signals = signals - signals[still].mean(axis=0)
    seconds = (np.arange(len(raw)) + measured.first) / rate_hz
    motion = CubicSpline(seconds, signals)
    times = np.clip(_node_times(bounds[None])[0], seconds[0], seconds[-1])
    return Variants(
        times_s=np.broadcast_to(times, (signals.shape[1], len(times))),
        position_cm=motion(times).transpose(1, 2, 0),
        velocity_cm_s=motion(times, 1).transpose(1, 2, 0),
    )
