"""Who the golfers of the invented academy are. Codes only; nobody here exists."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from norms.records import DatedHandicap, Golfer
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST

LEVELS: dict[str, tuple[float, float, float]] = {
    # share of the golfers, lowest and highest ability in handicap strokes
    "to_0": (0.075, -4.8, 0.0),
    "to_5": (0.135, 0.1, 5.0),
    "to_12": (0.24, 5.1, 12.0),
    "to_20": (0.245, 12.1, 20.0),
    "to_36": (0.165, 20.1, 35.0),
    "above": (0.01, 38.0, 54.0),
    "none": (0.085, 8.0, 40.0),
    "professional": (0.045, -7.0, -3.0),
}
PATTERNS = ("shifting", "rising", "sitting")
"""Latent families of alike swings; `demo_data.swings` says how they differ."""
LEFT_HANDED = 0.08
FEMALE = 0.38
SEASON_ONE = date(2025, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """A golfer and what no roster knows.

    Attributes
    ----------
    golfer : Golfer
    ability : float
        Handicap strokes that the swing shows where no handicap index says so.
    pattern : str
        One of `PATTERNS`.
    height_cm : float
        True height, also where the roster lacks it.
    """

    golfer: Golfer
    ability: float
    pattern: str
    height_cm: float

    def ability_on(self, day: date) -> float:
        """Ability in handicap strokes on a day."""
        index = self.golfer.handicap_on(day)
        return self.ability if index is None else index

    def age_on(self, day: date) -> int:
        """Age by calendar year."""
        assert self.golfer.birth_year is not None
        return day.year - self.golfer.birth_year


def levels_for(golfers: int, rng: np.random.Generator) -> list[str]:
    """Level of each golfer, in random order, shares as in `LEVELS`."""
    edges = np.cumsum([share for share, _, _ in LEVELS.values()])
    places = np.searchsorted(edges, (np.arange(golfers) + 0.5) / golfers)
    keys = list(LEVELS)
    return [keys[place] for place in rng.permutation(places)]


def _birth_year(rng: np.random.Generator, level: str) -> int:
    if level in ("to_0", "professional"):
        return int(rng.integers(1984, 2006))
    kind = rng.choice(3, p=[0.09, 0.67, 0.24])
    low, high = ((2009, 2016), (1967, 2008), (1946, 1967))[kind]
    return int(rng.integers(low, high))


def _handicaps(rng: np.random.Generator, ability: float) -> tuple[DatedHandicap, ...]:
    """An index before the first season, then revisions; some golfers change their level."""
    improves = rng.random() < 0.15
    index, entries = ability, []
    for month in (0, 6, 13, 18):
        since = SEASON_ONE + timedelta(days=30 * month + int(rng.integers(0, 25)))
        entries.append(DatedHandicap(since=since, index=round(index, 1) + 0.0))
        step = rng.normal(0.0, 0.3) - (rng.uniform(1.0, 3.0) if improves else 0.0)
        index = float(np.clip(index + step, HANDICAP_LOWEST, HANDICAP_HIGHEST))
    return tuple(entries)


def _pattern(rng: np.random.Generator, ability: float) -> str:
    """Pattern, partly told by ability: weaker golfers rise more often, better ones shift."""
    weakness = np.clip(ability / 36.0, 0.0, 1.0)
    weights = np.array([0.40 - 0.1 * weakness, 0.30 + 0.1 * weakness, 0.30])
    return PATTERNS[int(rng.choice(len(PATTERNS), p=weights))]


def _growth(birth_year: int) -> float:
    """Centimetres that a junior still lacks in the first season."""
    return 4.0 * max(0, 17 - (SEASON_ONE.year - birth_year))


def invent_person(rng: np.random.Generator, code: str, level: str) -> Person:
    """Draw one golfer of a level."""
    _, low, high = LEVELS[level]
    ability = round(float(rng.uniform(low, high)), 1)
    female = bool(rng.random() < FEMALE)
    birth_year = _birth_year(rng, level)
    height = rng.normal(165.0, 6.0) if female else rng.normal(178.0, 6.5)
    height = round(float(height) - _growth(birth_year), 0)
    mass = round(float(np.clip(rng.normal(24.0, 2.8), 18.0, 34.0)) * (height / 100) ** 2, 0)
    junior = birth_year > 2007
    handicaps = () if level in ("none", "professional") else _handicaps(rng, ability)
    golfer = Golfer(
        code=code,
        hand="left" if rng.random() < LEFT_HANDED else "right",
        sex="female" if female else "male",
        birth_year=birth_year,
        height_cm=None if rng.random() < 0.03 else height,
        mass_kg=None if rng.random() < 0.06 else mass,
        professional=level == "professional",
        consents_norms=not (junior and rng.random() < 0.25),
        handicaps=handicaps,
    )
    pattern = _pattern(rng, ability)
    return Person(golfer=golfer, ability=ability, pattern=pattern, height_cm=height)
