"""A study of ball speed: what is asked, and of which swings."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from norms.records._arrays import FloatArray, freeze_fields, frozen_array, set_field
from norms.vocabulary import AXES, NODES

Outcome = Literal["ball_speed", "club_speed"]
Covariate = Literal["sex", "age", "height", "mass", "handicap", "club_speed"]
COVARIATES: Final[tuple[Covariate, ...]] = (
    "sex",
    "age",
    "height",
    "mass",
    "handicap",
    "club_speed",
)
Part = Literal["within", "between"]
PARTS: Final[tuple[Part, ...]] = ("within", "between")
Along = Literal["curves", "rates"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPlan:
    """What a study asks and how it answers; everything that decides a number.

    Attributes
    ----------
    name, question : str
    cohort : str
        Words for who is studied.
    outcome : {"ball_speed", "club_speed"}
    features : tuple of str
        Names; empty for every feature that the swings have.
    primary : tuple of str
        Features named before the data were looked at; the others are looked at beside them.
    covariates : tuple of str
        What effects are adjusted for, beside club.
    random_slope : {"auto", "never"}
        ``"auto"``: the within effect may differ from golfer to golfer where the data bear it.
    along : tuple of {"curves", "rates"}
        What is followed along the swing.
    predict : bool
    confounders : tuple of str
        What the analyst knows was not measured.
    level : float
        Share of false findings that Benjamini-Hochberg holds, and chance of a false finding of
        each test along the swing.
    relabellings, folds, seed : int
    """

    name: str
    question: str
    cohort: str
    outcome: Outcome = "ball_speed"
    features: tuple[str, ...] = ()
    primary: tuple[str, ...] = ()
    covariates: tuple[Covariate, ...] = ("sex", "age", "height")
    random_slope: Literal["auto", "never"] = "auto"
    along: tuple[Along, ...] = ("curves", "rates")
    predict: bool = True
    confounders: tuple[str, ...] = ()
    level: float = 0.05
    relabellings: int = 1_999
    folds: int = 10
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StudyFrame:
    """The swings of a study as arrays, one row per swing.

    Attributes
    ----------
    swings, golfers, clubs, labs : tuple of str
        s entries each.
    ball_speed_mps, club_speed_mps : ndarray, shape (s,)
        NaN where missing.
    golfer_facts : Mapping of str to ndarray, shape (s,)
        sex (1 for men, 0 for women), age, height, mass, handicap; NaN where unknown.
    feature_names, feature_units, feature_labels : tuple of str
        d entries each; units as in the catalogue, or ``"share"`` for membership of a pattern.
    features : ndarray, shape (s, d)
    curves_cm, rates_cm_s : ndarray, shape (s, 3, 301), or None
        None for a cohort of features alone.
    left_out : Mapping of str to int
        Swings left out, by rule.
    """

    swings: tuple[str, ...]
    golfers: tuple[str, ...]
    clubs: tuple[str, ...]
    labs: tuple[str, ...]
    ball_speed_mps: FloatArray
    club_speed_mps: FloatArray
    golfer_facts: Mapping[str, FloatArray]
    feature_names: tuple[str, ...]
    feature_units: tuple[str, ...]
    feature_labels: tuple[str, ...]
    features: FloatArray
    curves_cm: FloatArray | None = None
    rates_cm_s: FloatArray | None = None
    left_out: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        s, d = len(self.swings), len(self.feature_names)
        for name in ("golfers", "clubs", "labs"):
            if len(getattr(self, name)) != s:
                raise ValueError(f"{name}: {len(getattr(self, name))} entries for {s} swings")
        for name in ("feature_units", "feature_labels"):
            if len(getattr(self, name)) != d:
                raise ValueError(f"{name}: {len(getattr(self, name))} entries for {d} features")
        freeze_fields(self, {"ball_speed_mps": (s,), "club_speed_mps": (s,), "features": (s, d)})
        facts = {name: frozen_array(name, v, (s,)) for name, v in self.golfer_facts.items()}
        set_field(self, "golfer_facts", facts)
        set_field(self, "left_out", dict(self.left_out))
        for name in ("curves_cm", "rates_cm_s"):
            if getattr(self, name) is not None:
                freeze_fields(self, {name: (s, len(AXES), NODES)})
