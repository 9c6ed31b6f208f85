"""What a club's swings say about their own error: the noise budget that norms are read against."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from norms.errors import Notice
from norms.records._arrays import FloatArray, freeze_fields, frozen_array, set_field
from norms.vocabulary import NODES

IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Estimates:
    """One estimate for each feature, with its interval.

    Attributes
    ----------
    value, low, high : ndarray, shape (d,)
        NaN where the data cannot give it.
    """

    value: FloatArray
    low: FloatArray
    high: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, dict.fromkeys(("value", "low", "high"), (len(self.value),)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasurementError:
    """Components, reliability and smallest changes of every feature and node, for one club.

    A golfer's value varies between golfers, between the days of a golfer and between the swings
    of a day. Within a session is swing to swing on one day; between sessions adds the day.

    Attributes
    ----------
    club : str
    confidence : float
        Of every interval and of the smallest changes, e.g. 0.95.
    golfers, days, swings : int
        Counted over the club; a day is a golfer's day in a lab.
    golfers_of_several_days : int
        Golfers measured on two days or more: all that tells a day's effect.
    labs : tuple of str
    feature_names : tuple of str
        d names.
    feature_golfers, feature_days, feature_swings : ndarray of int, shape (d,)
        Those that have the feature.
    golfer_sd, day_sd, swing_sd : ndarray, shape (d,)
        Standard deviations in the feature's unit; 0 where a component came out at or below zero,
        NaN where the data cannot tell it.
    lab_sd : ndarray, shape (d,)
        Between labs, golfers and days allowed for; NaN for a single lab.
    icc_within, icc_between : Estimates
        Correlation of two single swings of a golfer on the same day and on different days.
    sem_within, sem_between : Estimates
        Standard error of a single swing, within a session and between sessions.
    sdc_within, sdc_between : ndarray, shape (d,)
        Smallest detectable change of two single swings.
    individuality : ndarray, shape (d,)
        Index of individuality as a ratio of standard deviations: within a golfer (swing and day)
        over between golfers.
    golfer_node_sd_cm, day_node_sd_cm, swing_node_sd_cm : ndarray, shape (3, 301)
    notices : tuple of Notice
        What was set to zero and what cannot be told.
    """

    club: str
    confidence: float
    golfers: int
    days: int
    swings: int
    golfers_of_several_days: int
    labs: tuple[str, ...]
    feature_names: tuple[str, ...]
    feature_golfers: IntArray
    feature_days: IntArray
    feature_swings: IntArray
    golfer_sd: FloatArray
    day_sd: FloatArray
    swing_sd: FloatArray
    lab_sd: FloatArray
    icc_within: Estimates
    icc_between: Estimates
    sem_within: Estimates
    sem_between: Estimates
    sdc_within: FloatArray
    sdc_between: FloatArray
    individuality: FloatArray
    golfer_node_sd_cm: FloatArray
    day_node_sd_cm: FloatArray
    swing_node_sd_cm: FloatArray
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        d = len(self.feature_names)
        for name in ("feature_golfers", "feature_days", "feature_swings"):
            set_field(self, name, frozen_array(name, getattr(self, name), (d,), dtype="int64"))
        by_feature = ("golfer_sd", "day_sd", "swing_sd", "lab_sd", "sdc_within", "sdc_between")
        freeze_fields(self, dict.fromkeys((*by_feature, "individuality"), (d,)))
        nodes = ("golfer_node_sd_cm", "day_node_sd_cm", "swing_node_sd_cm")
        freeze_fields(self, dict.fromkeys(nodes, (3, NODES)))
