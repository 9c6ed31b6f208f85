"""Swings with known truth, for the demo, the tests, calibration and benchmarks alike.

`SwingParameters` and `Body` say what is to happen; `true_events`, `true_path` and
`true_features` say what happened; `marker_paths` says what cameras would have seen, which
`disturb` then spoils in known ways. Nothing here shares code with the measuring side.
"""

from norms.synthetic.disturb import capture_times, slow_wander, white_noise, with_gap
from norms.synthetic.markers import marker_paths
from norms.synthetic.parameters import Body, SwingParameters
from norms.synthetic.path import true_path, true_rate
from norms.synthetic.truth import SwingTruth, swing_truth, true_events, true_features

__all__ = [
    "Body",
    "SwingParameters",
    "SwingTruth",
    "capture_times",
    "marker_paths",
    "slow_wander",
    "swing_truth",
    "true_events",
    "true_features",
    "true_path",
    "true_rate",
    "white_noise",
    "with_gap",
]
