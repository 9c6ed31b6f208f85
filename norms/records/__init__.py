"""What is carried from step to step: frozen records, shapes checked, arrays read-only."""

from norms.records._arrays import BoolArray, FloatArray
from norms.records.annex import Annex
from norms.records.ball_speed import BallSpeed
from norms.records.bands import Bands
from norms.records.capture import (
    Capture,
    ConditioningChoice,
    HipRegression,
    LabAxes,
    SwingLabel,
)
from norms.records.centile_readings import CentileChart, CentilePlace
from norms.records.centiles import (
    CentileDiagnostics,
    CentilePlan,
    Centiles,
    CentileSupport,
    CentileTerm,
)
from norms.records.cohort import Cohort, CohortDefinition, Exclusion, Level, SwingPool
from norms.records.edition import CohortNorms, Edition
from norms.records.golfer import DatedHandicap, Golfer
from norms.records.lab_check import (
    LabAdmission,
    LabCheck,
    LabTerms,
    RejectedFile,
    SessionHold,
    SessionQuality,
    SessionRelease,
    SwingQuality,
)
from norms.records.lab_quality import LabControl, LabEffect
from norms.records.measurement_error import Estimates, MeasurementError
from norms.records.outcome import FileOutcome
from norms.records.partition import CurvePartition, FeaturePartition, PartitionAnswer
from norms.records.placement import Excursion, FeaturePlace, Placement, WholeCurvePlace
from norms.records.screening import OutlierFlag, Screening
from norms.records.swing import (
    Displacement,
    EventCorrection,
    EventMark,
    FeatureValues,
    FilterFacts,
    PhaseCurve,
    Swing,
    SwingEvents,
)
from norms.records.whole_curve import WholeCurveBands

__all__ = [
    "Annex",
    "BallSpeed",
    "Bands",
    "BoolArray",
    "Capture",
    "CentileChart",
    "CentileDiagnostics",
    "CentilePlace",
    "CentilePlan",
    "CentileSupport",
    "CentileTerm",
    "Centiles",
    "Cohort",
    "CohortDefinition",
    "CohortNorms",
    "ConditioningChoice",
    "CurvePartition",
    "DatedHandicap",
    "Displacement",
    "Edition",
    "Estimates",
    "EventCorrection",
    "EventMark",
    "Exclusion",
    "Excursion",
    "FeaturePartition",
    "FeaturePlace",
    "FeatureValues",
    "FileOutcome",
    "FilterFacts",
    "FloatArray",
    "Golfer",
    "HipRegression",
    "LabAdmission",
    "LabAxes",
    "LabCheck",
    "LabControl",
    "LabEffect",
    "LabTerms",
    "Level",
    "MeasurementError",
    "OutlierFlag",
    "PartitionAnswer",
    "PhaseCurve",
    "Placement",
    "RejectedFile",
    "Screening",
    "SessionHold",
    "SessionQuality",
    "SessionRelease",
    "Swing",
    "SwingEvents",
    "SwingLabel",
    "SwingPool",
    "SwingQuality",
    "WholeCurveBands",
    "WholeCurvePlace",
]
