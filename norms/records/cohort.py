"""A cohort: which golfers, by rule, and one mean for each of them."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Self

import numpy as np
from numpy.typing import NDArray

from norms.records._arrays import FloatArray, frozen_array, set_field
from norms.vocabulary import NODES, Sex


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A band of handicap, or a group beside handicaps, of the academy's own table.

    Attributes
    ----------
    key : str
        Stable word, e.g. ``"to_12"``.
    label : str
        Words for a page, e.g. ``"handicap over 5, to 12"``.
    above, to : float or None
        Handicap index h belongs where ``above < h <= to``; ``None`` leaves that side open.
    kind : {"handicap", "none", "professional"}
    """

    key: str
    label: str
    above: float | None = None
    to: float | None = None
    kind: str = "handicap"


@dataclass(frozen=True, slots=True, kw_only=True)
class CohortDefinition:
    """The rule that says who belongs, readable and stored with an edition.

    Consent to norms is always required and is no part of a definition. What is None or empty does
    not restrict. Every fact is that of the day of the swing, so that a golfer may belong with some
    swings and not with others.

    Attributes
    ----------
    key : str
        Unique in its edition, e.g. ``"driver/to_12"`` or ``"driver/all"``; a named cohort's is its
        name.
    club : str
    level : Level or None
        ``None`` for golfers of every level; a cell of the edition's own table.
    name : str or None
        A named cohort's name; ``None`` for a cell of club and level.
    title : str or None
        Words of a named cohort for a page.
    levels : tuple of Level
        Levels a named cohort takes, where it names any.
    handicap_above, handicap_to : float or None
        Handicap index h with ``above < h <= to``, plus handicaps negative; a golfer without a
        handicap, and a playing professional, has none and is outside any range.
    sex : {"female", "male"} or None
    age_from, age_to : int or None
        Years of age, both ends included: year of the swing minus year of birth.
    labs : tuple of str
    recorded_from, recorded_to : datetime.date or None
        Days of recording, both ends included.
    largest_filled_share : float or None
        A swing is left out where, in any phase, more than this share of its samples was filled.
    """

    key: str
    club: str
    level: Level | None = None
    name: str | None = None
    title: str | None = None
    levels: tuple[Level, ...] = ()
    handicap_above: float | None = None
    handicap_to: float | None = None
    sex: Sex | None = None
    age_from: int | None = None
    age_to: int | None = None
    labs: tuple[str, ...] = ()
    recorded_from: date | None = None
    recorded_to: date | None = None
    largest_filled_share: float | None = None

    @property
    def label(self) -> str:
        """Words for a page."""
        if self.name is not None:
            return self.title or self.name
        return f"{self.club}, {self.level.label if self.level else 'all levels'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Exclusion:
    """A person's decision to leave a golfer, or one swing, out of norms.

    Attributes
    ----------
    golfer, swing : str or None
        Exactly one of them: all swings of a golfer, or one swing.
    reason : str
    decided_by : str
        The role of who decided, e.g. ``"head coach"``.
    """

    reason: str
    decided_by: str
    golfer: str | None = None
    swing: str | None = None

    def __post_init__(self) -> None:
        if (self.golfer is None) == (self.swing is None):
            raise ValueError("exclusion: name either a golfer or a swing, not both")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cohort:
    """The golfers of a definition, each with the mean of their swings: one golfer, one vote.

    Attributes
    ----------
    definition : CohortDefinition
    golfers : tuple of str
        n codes, sorted, without repeats.
    swing_counts : ndarray of int, shape (n,)
    curves_cm : ndarray, shape (n, 3, 301)
        Each golfer's mean curve over the swings of this cohort.
    feature_names : tuple of str
        d names.
    features : ndarray, shape (n, d)
        Each golfer's mean feature; NaN where none of the golfer's swings gives it.
    feature_swings, feature_squares : ndarray, shape (n, d), or None
        Swings that give the feature, and their sum of squares about the golfer's mean: what the
        noise of a mean is told from. None for a cohort read back without its swings.
    """

    definition: CohortDefinition
    golfers: tuple[str, ...]
    swing_counts: FloatArray
    curves_cm: FloatArray
    feature_names: tuple[str, ...]
    features: FloatArray
    feature_swings: FloatArray | None = None
    feature_squares: FloatArray | None = None

    def __post_init__(self) -> None:
        n, d = len(self.golfers), len(self.feature_names)
        for name in ("feature_swings", "feature_squares"):
            if getattr(self, name) is not None:
                set_field(self, name, frozen_array(name, getattr(self, name), (n, d)))
        counts = frozen_array("swing_counts", self.swing_counts, (n,), dtype="int64")
        set_field(self, "swing_counts", counts)
        set_field(self, "curves_cm", frozen_array("curves_cm", self.curves_cm, (n, 3, NODES)))
        set_field(self, "features", frozen_array("features", self.features, (n, d)))
        if list(self.golfers) != sorted(set(self.golfers)):
            raise ValueError("golfers: codes must be sorted and without repeats")

    def of_golfers(self, keep: NDArray[np.bool_]) -> Self:
        """The same cohort of some of its golfers, by a mask of shape (n,)."""

        def kept(values: FloatArray | None) -> FloatArray | None:
            return None if values is None else values[keep]

        return replace(
            self,
            golfers=tuple(code for code, stays in zip(self.golfers, keep, strict=True) if stays),
            swing_counts=self.swing_counts[keep],
            curves_cm=self.curves_cm[keep],
            features=self.features[keep],
            feature_swings=kept(self.feature_swings),
            feature_squares=kept(self.feature_squares),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SwingPool:
    """Stored swings as arrays: what cohorts are built from.

    Attributes
    ----------
    swings, golfers, clubs, labs : tuple of str
        s entries each.
    recorded_on : tuple of datetime.date
    curves_cm : ndarray, shape (s, 3, 301)
    feature_names : tuple of str
    features : ndarray, shape (s, d)
        NaN where a swing does not give the feature.
    filled_share : ndarray, shape (s,), or None
        Largest share of filled samples in any phase, 0 to 1; ``None`` where it is not known.
    """

    swings: tuple[str, ...]
    golfers: tuple[str, ...]
    clubs: tuple[str, ...]
    labs: tuple[str, ...]
    recorded_on: tuple[date, ...]
    curves_cm: FloatArray
    feature_names: tuple[str, ...]
    features: FloatArray
    filled_share: FloatArray | None = None

    def __post_init__(self) -> None:
        s, d = len(self.swings), len(self.feature_names)
        for name in ("golfers", "clubs", "labs", "recorded_on"):
            if len(getattr(self, name)) != s:
                raise ValueError(f"{name}: {len(getattr(self, name))} entries for {s} swings")
        set_field(self, "curves_cm", frozen_array("curves_cm", self.curves_cm, (s, 3, NODES)))
        set_field(self, "features", frozen_array("features", self.features, (s, d)))
        if self.filled_share is not None:
            shares = frozen_array("filled_share", self.filled_share, (s,))
            set_field(self, "filled_share", shares)
