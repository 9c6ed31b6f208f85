"""Simultaneous bands: each holds a stated share of golfers' whole curves, not of single nodes."""

from dataclasses import dataclass

import numpy as np

from norms.records._arrays import FloatArray, freeze_fields
from norms.vocabulary import AXES, NODES, Axis


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WholeCurveBands:
    """Prediction bands mean +/- factor * sd for a new golfer's mean curve.

    A band of one axis holds the whole of that axis's curve, from start to finish, for the stated
    share of new golfers; the joint band holds sway, thrust and lift together through all three
    phases. Pointwise bands of the same level hold far fewer whole curves.

    Attributes
    ----------
    level : float
        Share of new golfers whose whole curve the band is to hold, 0 to 1.
    golfers, swings : int
    mean_cm, sd_cm : ndarray, shape (3, 301)
        Over golfers' mean curves; the spread no smaller than ``floor_cm``.
    floor_cm : float
        The lab's noise: every curve is zero at the start by definition, so the spread vanishes
        there, and a band without a floor would have no width.
    axis_factors : ndarray, shape (3,)
    joint_factor : float
    share_low, share_high : float
        With 90 % confidence the band truly holds between these shares of new golfers: the more
        golfers, the closer to ``level``.
    method : str
    band_of : str
        What the curves are, in words, so that a page says it.
    """

    level: float
    golfers: int
    swings: int
    mean_cm: FloatArray
    sd_cm: FloatArray
    floor_cm: float
    axis_factors: FloatArray
    joint_factor: float
    share_low: float
    share_high: float
    method: str
    band_of: str

    def __post_init__(self) -> None:
        freeze_fields(
            self, {"mean_cm": (3, NODES), "sd_cm": (3, NODES), "axis_factors": (len(AXES),)}
        )

    def axis_limits_cm(self, axis: Axis) -> tuple[FloatArray, FloatArray]:
        """Lower and upper limit of one axis's own band, shape (301,) each."""
        a = AXES.index(axis)
        reach = self.axis_factors[a] * self.sd_cm[a]
        return self.mean_cm[a] - reach, self.mean_cm[a] + reach

    def joint_limits_cm(self) -> tuple[FloatArray, FloatArray]:
        """Lower and upper limit of the joint band, shape (3, 301) each."""
        reach = self.joint_factor * self.sd_cm
        return self.mean_cm - reach, self.mean_cm + reach

    def deviations(self, curves_cm: FloatArray) -> FloatArray:
        """Largest deviation of each curve from the mean, in sd, by axis.

        Parameters
        ----------
        curves_cm : ndarray, shape (..., 3, 301)

        Returns
        -------
        deviations : ndarray, shape (..., 3)
            Inside an axis's band where at most its factor; inside the joint band where the
            largest of the three is at most the joint factor.
        """
        worst: FloatArray = np.max(np.abs(curves_cm - self.mean_cm) / self.sd_cm, axis=-1)
        return worst
