"""The answer of a study: effects, curves along the swing, prediction, limits, and its look."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from norms.records._arrays import FloatArray, freeze_fields, set_field
from norms.records.study import Along, Part, StudyPlan
from norms.records.study_look import Look
from norms.vocabulary import AXES, NODES


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """One part of one feature's association with the outcome.

    Attributes
    ----------
    part : {"within", "between"}
    slope : float or None
        Outcome, m/s, that goes with one unit of the feature; None where it cannot be told.
    standard_error, freedom, low, high, p_value : float or None
        Interval of 95 %; p unadjusted.
    adjusted_p : float or None
        By Benjamini-Hochberg over all features and both parts.
    spread : float
        Standard deviation of this part of the feature, in its unit.
    smallest_detectable : float or None
        Slope that this cohort would have found in four of five studies, at 5 % unadjusted.
    e_value, e_value_limit : float or None
    reason : str or None
        Why there is no effect to state.
    """

    part: Part
    slope: float | None
    standard_error: float | None
    freedom: float | None
    low: float | None
    high: float | None
    p_value: float | None
    adjusted_p: float | None
    spread: float
    smallest_detectable: float | None
    e_value: float | None
    e_value_limit: float | None
    reason: str | None = None

    @property
    def found(self) -> bool:
        """Whether the interval of 95 % excludes no association."""
        return self.low is not None and self.high is not None and self.low * self.high > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """What the most influential golfer does to the within effect.

    Attributes
    ----------
    golfer : str
        As the study's analysis frame calls them, not by the store's code.
    slope_without : float
    lowest, highest : float
        Of the slopes with each golfer left out in turn.
    jackknife_error : float
        Standard error of the within slope from leaving golfers out: it holds whatever ties the
        swings of a golfer together (days, say), and so tells where the model's own is too small.
    """

    golfer: str
    slope_without: float
    lowest: float
    highest: float
    jackknife_error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureModel:
    """The mixed model of one feature.

    Attributes
    ----------
    feature, label, unit : str
    declared : bool
        Whether the feature was named before the data were looked at.
    golfers, swings : int
    within, between : Effect
        Never one number.
    difference_p : float or None
        Of the test that both slopes are equal.
    reversal : bool
        Both are found after adjustment, and they point in opposite directions.
    golfer_sd_mps, residual_sd_mps : float
    slope_sd : float or None
        How much golfers' own within slopes differ; None where one slope serves all.
    r2_marginal, r2_conditional, r2_within, r2_between : float
    converged, singular : bool
    method : str
        What was fitted, and the fallback where one was needed, in words.
    residual_skewness, residual_kurtosis, far_share, spread_trend, golfer_skewness : float
    influence : Influence or None
    """

    feature: str
    label: str
    unit: str
    declared: bool
    golfers: int
    swings: int
    within: Effect
    between: Effect
    difference_p: float | None
    reversal: bool
    golfer_sd_mps: float
    residual_sd_mps: float
    slope_sd: float | None
    r2_marginal: float
    r2_conditional: float
    r2_within: float
    r2_between: float
    converged: bool
    singular: bool
    method: str
    residual_skewness: float
    residual_kurtosis: float
    far_share: float
    spread_trend: float
    golfer_skewness: float
    influence: Influence | None = None

    def effect(self, part: Part) -> Effect:
        """One part's effect."""
        return self.within if part == "within" else self.between


@dataclass(frozen=True, slots=True, kw_only=True)
class JointEffect:
    """Both effects of a feature in the model that holds all features the plan names."""

    feature: str
    label: str
    unit: str
    within: Effect
    between: Effect


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlongSwing:
    """Where along the swing curves, or their rates, go with the outcome.

    Attributes
    ----------
    kind : {"curves", "rates"}
    part : {"within", "between"}
    value, low, high : ndarray, shape (3, 301)
        Outcome, m/s, that goes with one cm or cm/s at a node, smoothed, with its joint band of
        95 % over sway, thrust and lift; NaN where the curves do not vary enough.
    spread : ndarray, shape (3, 301)
        Standard deviation of this part of the curve.
    t, node_p : ndarray, shape (3, 301)
        Of the permutation test; p adjusted for having looked at all nodes, axes, curves and
        rates.
    p_value : float
    critical : float
    relabellings : int
    axis : str
        Where the largest t is.
    node : int
    unsettled, singular : int
        Points, of all three axes, whose model did not converge, and whose golfers did not differ
        beyond their swings, where the model is a plain regression.
    """

    kind: Along
    part: Part
    value: FloatArray
    low: FloatArray
    high: FloatArray
    spread: FloatArray
    t: FloatArray
    node_p: FloatArray
    p_value: float
    critical: float
    relabellings: int
    axis: str
    node: int
    unsettled: int
    singular: int

    def __post_init__(self) -> None:
        names = ("value", "low", "high", "spread", "t", "node_p")
        freeze_fields(self, dict.fromkeys(names, (len(AXES), NODES)))

    def stretches(self, axis: int, level: float) -> tuple[tuple[int, int], ...]:
        """First and last node of each stretch of an axis where the adjusted p is within level."""
        inside = np.r_[False, np.nan_to_num(self.node_p[axis], nan=1.0) <= level, False]
        turns = np.flatnonzero(inside[1:] != inside[:-1])
        return tuple((int(a), int(b) - 1) for a, b in zip(turns[::2], turns[1::2], strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictionAnswer:
    """How well features predict the outcome of golfers not seen before.

    Attributes
    ----------
    baseline : str
        What the baseline knows, in words.
    golfers, swings, folds : int
    baseline_error_mps, model_error_mps : float
        Root mean square errors, each golfer weighing one.
    baseline_r2, model_r2 : float
    error_gain_mps, r2_gain : tuple of 3 floats
        Gain of the features, and the interval of 95 % over golfers.
    model_r2_limits, model_error_limits_mps : tuple of 2 floats
    adds : bool
        Whether the interval of the gain in R2 lies above nothing.
    """

    baseline: str
    golfers: int
    swings: int
    folds: int
    baseline_error_mps: float
    model_error_mps: float
    baseline_r2: float
    model_r2: float
    error_gain_mps: tuple[float, float, float]
    r2_gain: tuple[float, float, float]
    model_r2_limits: tuple[float, float]
    model_error_limits_mps: tuple[float, float]
    adds: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WithoutLab:
    """A feature's slopes with one lab left out; None where they cannot be told.

    The lab is called as in the study's analysis frame, not by its name.
    """

    lab: str
    feature: str
    golfers: int
    within: float | None
    between: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Study:
    """The answer of a study.

    Attributes
    ----------
    plan : StudyPlan
    clubs : tuple of str
    golfers, swings : int
        Of the frame, after everything was left out.
    golfers_with_repeats : int
        Golfers with two swings or more: they alone tell of effects within a golfer.
    left_out : Mapping of str to int
    models : tuple of FeatureModel
    together : tuple of JointEffect
        The features that the plan names, each adjusted for the others.
    along : tuple of AlongSwing
    prediction : PredictionAnswer or None
    without_labs : tuple of WithoutLab
    sketch : tuple of str
        What may cause what, in words.
    unmeasured : tuple of str
        Confounders that nobody measured.
    notes : tuple of str
        What could not be done, and why.
    look : Look or None
    """

    plan: StudyPlan
    clubs: tuple[str, ...]
    golfers: int
    swings: int
    golfers_with_repeats: int
    left_out: Mapping[str, int]
    models: tuple[FeatureModel, ...]
    together: tuple[JointEffect, ...]
    along: tuple[AlongSwing, ...]
    prediction: PredictionAnswer | None
    without_labs: tuple[WithoutLab, ...]
    sketch: tuple[str, ...]
    unmeasured: tuple[str, ...]
    notes: tuple[str, ...]
    look: Look | None = None

    def __post_init__(self) -> None:
        set_field(self, "left_out", dict(self.left_out))

    def model(self, feature: str) -> FeatureModel | None:
        """The model of a feature, or None."""
        return next((one for one in self.models if one.feature == feature), None)
