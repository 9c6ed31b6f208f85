"""Percentile bands of a cohort, each limit with its own interval and count."""

from dataclasses import dataclass

from norms.records._arrays import FloatArray, frozen_array, set_field
from norms.vocabulary import NODES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """Percentiles over golfers (never over swings) of curves and features.

    A percentile whose interval does not exist at this number of golfers is NaN, so that no page
    can show it by accident.

    Attributes
    ----------
    percents : tuple of float
        q percentiles, rising.
    golfers, swings : int
        Golfers counted and the swings behind them.
    confidence : float
        Confidence of each limit's interval, e.g. 0.90.
    curve_cm, curve_low_cm, curve_high_cm : ndarray, shape (q, 3, 301)
        Percentile of the golfers' mean curves at every node, and its interval.
    feature_names : tuple of str
    feature_golfers : ndarray of int, shape (d,)
        Golfers who have the feature.
    feature, feature_low, feature_high : ndarray, shape (q, d)
    """

    percents: tuple[float, ...]
    golfers: int
    swings: int
    confidence: float
    curve_cm: FloatArray
    curve_low_cm: FloatArray
    curve_high_cm: FloatArray
    feature_names: tuple[str, ...]
    feature_golfers: FloatArray
    feature: FloatArray
    feature_low: FloatArray
    feature_high: FloatArray

    def __post_init__(self) -> None:
        q, d = len(self.percents), len(self.feature_names)
        for name in ("curve_cm", "curve_low_cm", "curve_high_cm"):
            set_field(self, name, frozen_array(name, getattr(self, name), (q, 3, NODES)))
        for name in ("feature", "feature_low", "feature_high"):
            set_field(self, name, frozen_array(name, getattr(self, name), (q, d)))
        golfers = frozen_array("feature_golfers", self.feature_golfers, (d,), dtype="int64")
        set_field(self, "feature_golfers", golfers)

    def shown_percents(self) -> tuple[float, ...]:
        """Percentiles of the curves that this number of golfers supports."""
        keep = ~(self.curve_cm != self.curve_cm).any(axis=(1, 2))
        return tuple(p for p, kept in zip(self.percents, keep, strict=True) if kept)
