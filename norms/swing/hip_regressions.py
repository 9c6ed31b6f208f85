"""Published regressions for the right hip joint centre, from the size of the pelvis and the leg.

Each gives x anterior, y up, z right, in cm from the midpoint of the anterior superior iliac
spines, in the pelvis axes of Wu et al. 2002 (J Biomech 35:543); the left centre has z with the
opposite sign. The equations are written in millimetres in their sources. They are applied to the
centres of skin markers as they stand: nothing is taken off for a marker's radius, except by Davis,
whose equation holds it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from norms.errors import SwingRefused
from norms.records import HipRegression

Place = tuple[float, float, float]

DAVIS_THETA_RAD: Final = float(np.radians(28.4))
DAVIS_BETA_RAD: Final = float(np.radians(18.0))
"""Mean angles of the hips that Davis et al. 1991 measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PelvisSize:
    """What the regressions are given.

    Attributes
    ----------
    width_cm : float
        Distance between the anterior spines.
    depth_cm : float
        Distance between the midpoints of the anterior and the posterior spines.
    leg_length_cm : float or None
        Anterior spine to medial malleolus.
    marker_radius_cm : float or None
    """

    width_cm: float
    depth_cm: float
    leg_length_cm: float | None = None
    marker_radius_cm: float | None = None

    def leg_mm(self) -> float:
        """Leg length in millimetres, refused where it is not declared."""
        if self.leg_length_cm is None:
            raise SwingRefused(
                "this hip regression needs the golfer's leg length, which is not declared; "
                "declare leg_length_cm, or choose hip_regression 'harrington'",
                code="leg_length_missing",
            )
        return 10.0 * self.leg_length_cm

    def radius_mm(self) -> float:
        """Marker radius in millimetres, refused where it is not declared."""
        if self.marker_radius_cm is None:
            raise SwingRefused(
                "hip regression 'davis' needs the radius of the pelvis markers, which is not "
                "declared; declare marker_radius_cm, or choose hip_regression 'harrington'",
                code="marker_radius_missing",
            )
        return 10.0 * self.marker_radius_cm


def harrington(size: PelvisSize) -> Place:
    """Harrington et al. 2007 (J Biomech 40:595), one predictor for each coordinate."""
    width, depth = 10.0 * size.width_cm, 10.0 * size.depth_cm
    return _cm(-0.24 * depth - 9.9, -0.30 * width - 10.9, 0.33 * width + 7.3)


def harrington_full(size: PelvisSize) -> Place:
    """Harrington et al. 2007 (J Biomech 40:595), all predictors; needs the leg length."""
    width, depth, leg = 10.0 * size.width_cm, 10.0 * size.depth_cm, size.leg_mm()
    return _cm(
        -0.24 * depth - 9.9,
        -0.16 * width - 0.04 * leg - 7.1,
        0.28 * depth + 0.16 * width + 7.9,
    )


def harrington_width(size: PelvisSize) -> Place:
    """Harrington's subjects regressed on pelvis width alone (Sangeux 2015, Gait Posture 42:402)."""
    width = 10.0 * size.width_cm
    return _cm(-0.138 * width - 10.4, -0.305 * width - 10.9, 0.33 * width + 7.3)


def harrington_leg(size: PelvisSize) -> Place:
    """Harrington's subjects regressed on leg length alone (Sangeux 2015, Gait Posture 42:402)."""
    leg = size.leg_mm()
    return _cm(-0.041 * leg - 6.3, -0.083 * leg - 7.9, 0.0874 * leg + 5.4)


def bell(size: PelvisSize) -> Place:
    """Bell et al. 1990 (J Biomech 23:617), on pelvis width alone."""
    width = 10.0 * size.width_cm
    return _cm(-0.19 * width, -0.30 * width, 0.36 * width)


def davis(size: PelvisSize) -> Place:
    """Davis et al. 1991 (Hum Mov Sci 10:575); needs leg length and marker radius.

    The horizontal distance from anterior spine to greater trochanter is taken from the leg
    length, as 0.1288 leg − 48.56 mm.
    """
    leg, width = size.leg_mm(), 10.0 * size.width_cm
    behind = 0.1288 * leg - 48.56 + size.radius_mm()
    reach = 0.115 * leg - 15.3
    along = reach * np.cos(DAVIS_THETA_RAD)
    sine, cosine = np.sin(DAVIS_BETA_RAD), np.cos(DAVIS_BETA_RAD)
    return _cm(
        -behind * cosine + along * sine,
        -behind * sine - along * cosine,
        width / 2.0 - reach * np.sin(DAVIS_THETA_RAD),
    )


def _cm(x_mm: float, y_mm: float, z_mm: float) -> Place:
    return (float(x_mm) / 10.0, float(y_mm) / 10.0, float(z_mm) / 10.0)


REGRESSIONS: Final[dict[HipRegression, Callable[[PelvisSize], Place]]] = {
    "harrington": harrington,
    "harrington_full": harrington_full,
    "harrington_width": harrington_width,
    "harrington_leg": harrington_leg,
    "bell": bell,
    "davis": davis,
}
