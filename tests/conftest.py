"""A small academy whose edition holds everything that stands beside bands."""

import os
from dataclasses import dataclass, replace
from datetime import date

import hypothesis
import numpy as np
import pytest

from norms.cohort.annexes import AnnexChoices, with_annexes
from norms.cohort.edition import build_edition
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.roll import call_roll
from norms.records import DatedHandicap, Edition, Exclusion, Golfer, SwingPool
from norms.vocabulary import NODES

# The same examples in every clone and without a clock, so that a red run is red for everyone;
# `--hypothesis-profile=explore` looks for new ones.
hypothesis.settings.register_profile("repeat", derandomize=True, deadline=None)
hypothesis.settings.register_profile("explore", max_examples=500, deadline=None)
hypothesis.settings.load_profile("repeat")

# A store that another process has is refused at once; tests of waiting set a time.
os.environ.setdefault("NORMS_WAIT_S", "0")

FEATURES = ("sway_travel", "sway_turn_lead", "thrust_late_rise", "lift_rise", "tempo")
CLUBS = ("driver", "iron 7")
DAY = date(2026, 5, 1)
CHOICES = AnnexChoices(relabellings=999, timing_features=("sway_turn_lead", "tempo"))


@dataclass(frozen=True)
class SmallAcademy:
    """Ninety-six golfers, two clubs, two swings with each, and an edition of them."""

    pool: SwingPool
    golfers: dict[str, Golfer]
    edition: Edition

    def recorded(self, here) -> "SmallAcademy":
        """The academy with the swings of those golfers alone for whose code ``here`` is true."""
        pool = self.pool
        rows = [row for row, code in enumerate(pool.golfers) if here(code)]
        facts = {
            name: tuple(getattr(pool, name)[row] for row in rows)
            for name in ("swings", "golfers", "clubs", "labs", "recorded_on")
        }
        arrays = {"curves_cm": pool.curves_cm[rows], "features": pool.features[rows]}
        return replace(self, pool=replace(pool, **facts, **arrays))

    def build(self, name="autumn", exclusions=(), choices=CHOICES) -> Edition:
        """The edition anew."""
        plain = build_edition(name, self.pool, self.golfers, exclusions=exclusions)
        roll = call_roll(self.pool, self.golfers, DEFAULT_LEVELS, exclusions)
        return with_annexes(plain, roll, self.golfers, choices)


def invent_golfers() -> dict[str, Golfer]:
    """Handicaps from 2 to 26; every tenth has none, every ninth plays left-handed."""
    handicaps = np.linspace(2.0, 26.0, 96)
    return {
        f"Q{i:04d}": Golfer(
            code=f"Q{i:04d}",
            hand="left" if i % 9 == 0 else "right",
            sex="female" if i % 2 else "male",
            birth_year=1950 + (i * 37) % 63,
            handicaps=()
            if i % 10 == 9
            else (DatedHandicap(since=date(2025, 1, 1), index=round(float(handicaps[i]), 1)),),
        )
        for i in range(96)
    }


def invent_pool(golfers: dict[str, Golfer]) -> SwingPool:
    """Features fall with handicap, the iron's are smaller, and one golfer is far out."""
    rng = np.random.default_rng(20_26)
    rows = [(code, club, k) for code in golfers for club in CLUBS for k in range(2)]
    own = {code: rng.standard_normal(len(FEATURES) + 3) for code in golfers}
    ramp = np.sin(np.linspace(0.0, 2.4, NODES))
    curves = np.empty((len(rows), 3, NODES))
    features = np.empty((len(rows), len(FEATURES)))
    for row, (code, club, _) in enumerate(rows):
        handicap = golfers[code].handicap_on(DAY)
        level = 12.0 if handicap is None else handicap
        size = (10.0 - 0.1 * level) * (1.0 if club == "driver" else 0.8)
        features[row] = [size, 0.1, size / 2, 6.0, 3.0] + own[code][:5] * [1, 0.02, 0.5, 0.6, 0.2]
        features[row] += 0.1 * rng.standard_normal(len(FEATURES)) * [1, 0.02, 0.5, 0.6, 0.2]
        scale = size * np.array([1.0, 0.4, 0.6]) + own[code][5:]
        curves[row] = scale[:, None] * ramp + 0.05 * np.cumsum(
            rng.standard_normal((3, NODES)) / 10.0, axis=1
        ) * (np.arange(NODES) > 0)
        if code == "Q0050":
            features[row, 3] += 12.0
            curves[row, 0] += 25.0 * ramp
    return SwingPool(
        swings=tuple(f"{code}-{club[0]}{k}" for code, club, k in rows),
        golfers=tuple(code for code, _, _ in rows),
        clubs=tuple(club for _, club, _ in rows),
        labs=("North bay",) * len(rows),
        recorded_on=(DAY,) * len(rows),
        curves_cm=curves,
        feature_names=FEATURES,
        features=features,
    )


@pytest.fixture(scope="session")
def small_academy() -> SmallAcademy:
    golfers = invent_golfers()
    pool = invent_pool(golfers)
    plain = build_edition("autumn", pool, golfers)
    roll = call_roll(pool, golfers, DEFAULT_LEVELS)
    return SmallAcademy(pool, golfers, with_annexes(plain, roll, golfers, CHOICES))


@pytest.fixture(scope="session")
def out_of_norms() -> Exclusion:
    return Exclusion(golfer="Q0050", reason="wore a brace", decided_by="head coach")
