"""Invented records for the pages' tests: smooth curves, a given number of peers, no file."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from norms.errors import Notice
from norms.records import (
    Bands,
    Cohort,
    CohortDefinition,
    CohortNorms,
    Edition,
    EventMark,
    FeaturePlace,
    FeatureValues,
    Level,
    PhaseCurve,
    Placement,
    Swing,
    SwingEvents,
    SwingLabel,
)
from norms.swing.catalogue import CATALOGUE, FEATURE_NAMES
from norms.vocabulary import BAND_PERCENTS, NODES

LEVEL = Level(key="to_12", label="handicap over 5, to 12", above=5.0, to=12.0)
CENTRES = {"cm": 5.0, "cm_s": 60.0, "s": 0.4, "pct": 60.0, "ratio": 1.2}
_KNOTS = (0, 40, 85, 100, 150, 200, 235, 300)
_SWAY = (0.0, -1.5, -4.5, -3.6, 2.5, 6.5, 8.6, 7.2)
_THRUST = (0.0, 0.8, 2.2, 2.0, 1.2, 2.4, 3.0, 1.5)
_LIFT = (0.0, -0.6, -1.5, -2.0, -1.0, 2.2, 3.4, 1.9)


def smooth_curves(scale: float = 1.0) -> np.ndarray:
    """Three smooth curves in cm, shape (3, 301), zero at the start."""
    from scipy.interpolate import PchipInterpolator

    nodes = np.arange(NODES)
    return scale * np.array([PchipInterpolator(_KNOTS, y)(nodes) for y in (_SWAY, _THRUST, _LIFT)])


def build_swing(golfer: str = "Q0042", scale: float = 1.25) -> Swing:
    names = [info for info in CATALOGUE if info.name != "sway_turn_lead"]
    return Swing(
        label=SwingLabel(
            swing=f"{golfer}-7",
            golfer=golfer,
            club="driver",
            recorded_on=date(2026, 5, 14),
            lab="North bay",
            source="Q0042_driver_7.c3d",
            content_hash="ab" * 32,
        ),
        hand="right",
        rate_hz=240.0,
        curve=PhaseCurve(
            values_cm=smooth_curves(scale),
            times_s=np.interp(np.arange(NODES), [0, 100, 200, 300], [0.5, 1.32, 1.59, 2.3]),
        ),
        events=SwingEvents(
            address=EventMark(time_s=0.42, method="last still instant of the pelvis"),
            start=EventMark(time_s=0.5, method="club begins to move", uncertainty_s=0.012),
            top=EventMark(time_s=1.32, method="hands reverse", stand_in=True, uncertainty_s=0.02),
            impact=EventMark(time_s=1.59, method="club passes the ball", uncertainty_s=0.004),
            finish=EventMark(time_s=2.3, method="hands at rest"),
        ),
        features=FeatureValues(
            values={info.name: CENTRES[info.unit] for info in names},
            missing={"sway_turn_lead": "sway never turns before the top"},
        ),
        pelvis_method="harrington",
        axes_source="declared",
        shot_axes=np.eye(3),
        filled_share=np.array([0.0, 0.02, 0.0]),
        notices=(Notice(code="top_from_hands", message="the hands give the top", severity="note"),),
    )


def build_bands(golfers: int, scale: float = 1.0) -> Bands:
    """Bands as that many golfers support them at 90 %: outer ones NaN where they are too few."""
    needed = {5.0: 59, 10.0: 29, 25.0: 11, 50.0: 5, 75.0: 11, 90.0: 29, 95.0: 59}
    spread = dict(zip(BAND_PERCENTS, (-1.64, -1.28, -0.67, 0.0, 0.67, 1.28, 1.64), strict=True))
    ramp = 1.6 * np.sqrt(np.arange(NODES) / 300.0)
    curves, features = [], []
    centre = np.array([CENTRES[info.unit] for info in CATALOGUE])
    for percent in BAND_PERCENTS:
        shown = golfers >= needed[percent]
        curves.append(
            smooth_curves(scale) + spread[percent] * ramp if shown else np.full((3, NODES), np.nan)
        )
        features.append(
            centre * (1 + 0.2 * spread[percent]) if shown else np.full(len(centre), np.nan)
        )
    curve, feature = np.array(curves), np.array(features)
    return Bands(
        percents=BAND_PERCENTS,
        golfers=golfers,
        swings=6 * golfers,
        confidence=0.90,
        curve_cm=curve,
        curve_low_cm=curve - 0.4,
        curve_high_cm=curve + 0.4,
        feature_names=FEATURE_NAMES,
        feature_golfers=np.full(len(centre), golfers),
        feature=feature,
        feature_low=feature * 0.95,
        feature_high=feature * 1.05,
    )


def build_place(feature: str, value: float | None, peer_values: Sequence[float]) -> FeaturePlace:
    """A place by plain counting, with a Wilson-like interval good enough for a page."""
    peers = np.sort(np.asarray(peer_values, dtype=float))
    n = len(peers)
    names = "percentile percentile_low percentile_high peers_low peers_median peers_high"
    empty = dict.fromkeys([*names.split(), "range_percents"])
    if value is None:
        return FeaturePlace(
            feature=feature,
            value=None,
            reason="the curve does not give it",
            peers=n,
            below=0,
            equal=0,
            **empty,
        )
    below, equal = int((peers < value).sum()), int((peers == value).sum())
    if n < 10:
        return FeaturePlace(
            feature=feature, value=value, reason=None, peers=n, below=below, equal=equal, **empty
        )
    percentile = 100 * (below + equal / 2) / n
    return FeaturePlace(
        feature=feature,
        value=value,
        reason=None,
        peers=n,
        below=below,
        equal=equal,
        percentile=percentile,
        percentile_low=max(0.0, percentile - 12),
        percentile_high=min(100.0, percentile + 12),
        peers_low=float(np.percentile(peers, 10)),
        peers_median=float(np.median(peers)),
        peers_high=float(np.percentile(peers, 90)),
        range_percents=(10.0, 90.0),
    )


_DOWN = ("sway_top", "sway_back", "thrust_sit_back", "lift_top", "lift_low", "lift_after")
SIZES = {
    "tempo": 3.1,
    "sway_slowing": 0.5,
    "sway_turn_lead": 0.06,
    "turn_order": 0.03,
    "lift_low_after_top": 0.02,
    "backswing_time": 0.85,
    "downswing_time": 0.27,
    "path_length": 24.0,
    "sway_travel": 10.0,
}


def build_placement(peers: int = 41, golfer: str = "Q0042", seed: int = 3) -> Placement:
    rng = np.random.default_rng(seed)
    places = []
    for info in CATALOGUE:
        size = SIZES.get(info.name, CENTRES[info.unit] / 2) * (-1 if info.name in _DOWN else 1)
        values = size + abs(size) * 0.35 * rng.standard_normal(peers)
        own = None if info.name == "sway_turn_lead" else size * (1 + 0.3 * rng.standard_normal())
        places.append(build_place(info.name, own, values))
    withheld = None if peers >= 5 else f"{peers} golfers, at least 5 are needed"
    return Placement(
        swing=build_swing(golfer),
        edition="spring 2026",
        edition_hash="c0ffee" * 10 + "abcd",
        cohort_key="driver/to_12",
        cohort_label="driver, handicap over 5, to 12",
        handicap=9.4,
        peers=peers,
        left_out=True,
        bands=None if withheld else build_bands(peers),
        withheld=withheld,
        features=tuple(places),
        cautions=("The top was found from the hands, which stand in for the club.",),
    )


def build_cell(golfers: int, level: Level | None, club: str = "driver") -> CohortNorms:
    codes = tuple(f"Q{i:04d}" for i in range(golfers))
    withheld = None if golfers >= 20 else f"{golfers} golfers where 20 are needed."
    return CohortNorms(
        cohort=Cohort(
            definition=CohortDefinition(
                key=f"{club}/{level.key if level else 'all'}", club=club, level=level
            ),
            golfers=codes,
            swing_counts=np.full(golfers, 6),
            curves_cm=np.zeros((golfers, 3, NODES)),
            feature_names=FEATURE_NAMES,
            features=np.ones((golfers, len(FEATURE_NAMES))),
        ),
        bands=None if withheld else build_bands(golfers, 1.0 if level is None else 0.9),
        withheld=withheld,
    )


def build_edition() -> Edition:
    levels = (
        Level(key="0_or_better", label="handicap 0 or better", to=0.0),
        Level(key="none", label="no handicap", kind="none"),
        Level(key="professional", label="playing professionals", kind="professional"),
        Level(key="to_12", label="handicap over 5, to 12", above=5.0, to=12.0),
        Level(key="to_5", label="handicap over 0, to 5", above=0.0, to=5.0),
    )
    sizes = (12, 24, 33, 64, 41)
    cells = [
        build_cell(n, level, club)
        for club in ("driver", "iron 7")
        for n, level in zip((*sizes, 174), (*levels, None), strict=True)
    ]
    return Edition(
        name="spring 2026",
        cells=tuple(sorted(cells, key=lambda cell: cell.cohort.definition.key)),
        parameters={
            "percents": [5, 10, 25, 50, 75, 90, 95],
            "quantile_type": 6,
            "confidence": 0.9,
            "smallest_cell": 20,
        },
        content_hash="c0ffee" * 10 + "abcd",
        attrition={"golfer did not agree to norms": 12, "no handicap on the day": 3},
    )


@pytest.fixture(scope="session")
def make_placement() -> Callable[..., Placement]:
    return build_placement


@pytest.fixture(scope="session")
def make_place() -> Callable[..., FeaturePlace]:
    return build_place


@pytest.fixture(scope="session")
def make_edition() -> Callable[..., Edition]:
    return build_edition


@pytest.fixture(scope="session")
def placement() -> Placement:
    return build_placement()


@pytest.fixture(scope="session")
def withheld_placement() -> Placement:
    few = build_placement(peers=3)
    return replace(few, cautions=())


@pytest.fixture(scope="session")
def edition() -> Edition:
    return build_edition()
