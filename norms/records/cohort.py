"""A cohort: which golfers, by rule, and one mean for each of them."""

from dataclasses import dataclass
from datetime import date

from norms.records._arrays import FloatArray, frozen_array, set_field
from norms.vocabulary import NODES


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

    Attributes
    ----------
    key : str
        Unique in its edition, e.g. ``"driver/to_12"`` or ``"driver/all"``.
    club : str
    level : Level or None
        ``None`` for golfers of every level.
    """

    key: str
    club: str
    level: Level | None = None

    @property
    def label(self) -> str:
        """Words for a page."""
        return f"{self.club}, {self.level.label if self.level else 'all levels'}"


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
    """

    definition: CohortDefinition
    golfers: tuple[str, ...]
    swing_counts: FloatArray
    curves_cm: FloatArray
    feature_names: tuple[str, ...]
    features: FloatArray

    def __post_init__(self) -> None:
        n, d = len(self.golfers), len(self.feature_names)
        counts = frozen_array("swing_counts", self.swing_counts, (n,), dtype="int64")
        set_field(self, "swing_counts", counts)
        set_field(self, "curves_cm", frozen_array("curves_cm", self.curves_cm, (n, 3, NODES)))
        set_field(self, "features", frozen_array("features", self.features, (n, d)))
        if list(self.golfers) != sorted(set(self.golfers)):
            raise ValueError("golfers: codes must be sorted and without repeats")


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
    """

    swings: tuple[str, ...]
    golfers: tuple[str, ...]
    clubs: tuple[str, ...]
    labs: tuple[str, ...]
    recorded_on: tuple[date, ...]
    curves_cm: FloatArray
    feature_names: tuple[str, ...]
    features: FloatArray

    def __post_init__(self) -> None:
        s, d = len(self.swings), len(self.feature_names)
        for name in ("golfers", "clubs", "labs", "recorded_on"):
            if len(getattr(self, name)) != s:
                raise ValueError(f"{name}: {len(getattr(self, name))} entries for {s} swings")
        set_field(self, "curves_cm", frozen_array("curves_cm", self.curves_cm, (s, 3, NODES)))
        set_field(self, "features", frozen_array("features", self.features, (s, d)))
