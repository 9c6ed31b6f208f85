"""A lab and swings of it that tests of the pipelines put into their stores."""

from collections.abc import Callable, Mapping
from datetime import date

import numpy as np
import pytest

from norms.records import (
    EventMark,
    FeatureValues,
    FilterFacts,
    PhaseCurve,
    Swing,
    SwingEvents,
    SwingLabel,
)
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.collect.profile import Profile

NORTH_BAY = {
    "lab": {"name": "North bay"},
    "points": {"pelvis_centre": "pelvis", "club_head": "club"},
    "units": {"length": "cm"},
    "axes": {"source": "declared", "target": "+x", "up": "+z", "ball": "-y"},
}


def build_swing(
    code: str,
    golfer: str,
    values_cm: np.ndarray,
    features: Mapping[str, float] | np.ndarray,
    *,
    club: str = "driver",
    lab: str = "North bay",
    recorded_on: date = date(2026, 5, 1),
    boundaries_s: tuple[float, float, float, float] = (0.5, 1.0, 1.5, 2.0),
    filtering: FilterFacts | None = None,
) -> Swing:
    """A swing of these curves, shape (3, 301), and features, by name or in catalogue order."""
    if isinstance(features, np.ndarray):
        features = dict(zip(FEATURE_NAMES, features.tolist(), strict=True))
    names = ("address", "start", "top", "impact", "finish")
    marks = {
        name: EventMark(time_s=at, method="club reversal")
        for name, at in zip(names, (boundaries_s[0], *boundaries_s), strict=True)
    }
    return Swing(
        label=SwingLabel(
            swing=code,
            golfer=golfer,
            club=club,
            recorded_on=recorded_on,
            lab=lab,
            source=f"{code}.c3d",
            content_hash=code,
        ),
        hand="right",
        rate_hz=240.0,
        curve=PhaseCurve(
            values_cm=values_cm,
            times_s=np.interp(np.arange(301), [0, 100, 200, 300], boundaries_s),
        ),
        events=SwingEvents(**marks),
        features=FeatureValues(
            values=dict(features),
            missing={name: "not given" for name in FEATURE_NAMES if name not in features},
        ),
        pelvis_method="given",
        axes_source="declared",
        shot_axes=np.eye(3),
        filled_share=np.zeros(3),
        filtering=filtering,
    )


@pytest.fixture(scope="session")
def swing_with() -> Callable[..., Swing]:
    return build_swing


@pytest.fixture(scope="session")
def north_bay() -> Profile:
    return Profile.model_validate(NORTH_BAY)
