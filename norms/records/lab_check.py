"""What a check of the labs finds: swings, sessions and labs, and what of it may enter norms."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from norms.errors import Notice
from norms.records._arrays import FloatArray, freeze_fields, set_field
from norms.records.lab_quality import LabControl, LabEffect
from norms.records.measurement_error import MeasurementError
from norms.records.swing import EventMark, FilterFacts
from norms.vocabulary import AXES, NODES, PHASES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SwingQuality:
    """How one stored swing was measured.

    Attributes
    ----------
    swing, golfer, club, lab : str
    recorded_on : datetime.date
    source : str
        File name of the capture.
    rate_hz : float
    pelvis_method, axes_source : str
    filled_share : ndarray, shape (3,)
        Share of samples that were filled or rebuilt, by phase, 0 to 1.
    events : Mapping of str to EventMark
    notices : tuple of Notice
    filtering : FilterFacts or None
        None for a swing stored before these were kept.
    """

    swing: str
    golfer: str
    club: str
    lab: str
    recorded_on: date
    source: str
    rate_hz: float
    pelvis_method: str
    axes_source: str
    filled_share: FloatArray
    events: Mapping[str, EventMark]
    notices: tuple[Notice, ...] = ()
    filtering: FilterFacts | None = None

    def __post_init__(self) -> None:
        freeze_fields(self, {"filled_share": (len(PHASES),)})
        set_field(self, "events", dict(self.events))

    @property
    def warned(self) -> bool:
        """Whether the swing was accepted with warnings."""
        return any(notice.severity == "warning" for notice in self.notices)


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectedFile:
    """A file that did not become a swing; its day where its name tells it."""

    source: str
    lab: str
    code: str
    message: str
    recorded_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionHold:
    """A session, a day in a lab, held back from norms."""

    lab: str
    recorded_on: date
    reason: str
    held_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionRelease:
    """A person's word that a held session may enter norms.

    Attributes
    ----------
    lab : str
    recorded_on : datetime.date
    who : str
        Role or code of the person.
    why : str
    released_at : datetime.datetime
    """

    lab: str
    recorded_on: date
    who: str
    why: str
    released_at: datetime


SessionState = Literal["in control", "not judged", "held back", "released"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SessionQuality:
    """One session of a lab, or, with no day, what was rejected without a known day.

    Attributes
    ----------
    lab : str
    recorded_on : datetime.date or None
    golfers, swings, warned, rejected : int
        Swings accepted, those of them with warnings, and files rejected.
    filled_share : ndarray, shape (3,)
        Mean share of filled samples, by phase; NaN without a swing.
    rates, filters, methods, warnings, rejections : Mapping of str to int
        Swings by rate of capture, by filter, by method of event (``"top: club reversal"``), by
        code of warning, and files by code of rejection.
    repeated_golfers : int
        Golfers who were in the lab on another day too: what a shift is judged by.
    state : {"in control", "not judged", "held back", "released"}
        ``"not judged"``: too few golfers of the session were in the lab on another day.
    reason : str
        Why it was held back, and who released it; empty where neither.
    """

    lab: str
    recorded_on: date | None
    golfers: int
    swings: int
    warned: int
    rejected: int
    filled_share: FloatArray
    rates: Mapping[str, int]
    filters: Mapping[str, int]
    methods: Mapping[str, int]
    warnings: Mapping[str, int]
    rejections: Mapping[str, int]
    repeated_golfers: int = 0
    state: SessionState = "not judged"
    reason: str = ""

    def __post_init__(self) -> None:
        freeze_fields(self, {"filled_share": (len(PHASES),)})
        for name in ("rates", "filters", "methods", "warnings", "rejections"):
            set_field(self, name, dict(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True)
class LabAdmission:
    """Whether a lab's swings with a club may enter norms.

    Attributes
    ----------
    lab, club : str
    golfers, swings : int
    linked_golfers : int
        Golfers also measured in the reference lab.
    admitted : bool
    reason : str
        One sentence, also where admitted.
    """

    lab: str
    club: str
    golfers: int
    swings: int
    linked_golfers: int
    admitted: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabTerms:
    """How swings of a lab are put in the reference lab's terms, for one club.

    Attributes
    ----------
    effect : LabEffect
        Its verdicts decide what happens to each feature.
    curve_shift_cm : ndarray, shape (3, 301)
        Taken off the lab's curves: the mean difference of the golfers measured in both labs, on
        the axes with a feature that is not alike; zero on the others.
    """

    effect: LabEffect
    curve_shift_cm: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, {"curve_shift_cm": (len(AXES), NODES)})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabCheck:
    """Everything that a check of the labs says.

    Attributes
    ----------
    sessions : tuple of SessionQuality
        By lab and day.
    rejected : tuple of RejectedFile
    swings : tuple of SwingQuality
        Of the swings asked for; empty unless a session or a swing was.
    controls : tuple of LabControl
        Control charts by lab and club.
    admissions : tuple of LabAdmission
    terms : tuple of LabTerms
        Of each admitted lab and club beside the reference lab.
    left_out : Mapping of str to int
        Swings that do not enter norms, by rule in words.
    decided_out : int
        Swings that a person left out of norms, and at which this check looks like at any other.
    noise : Mapping of str to MeasurementError
        The noise budget by club.
    """

    sessions: tuple[SessionQuality, ...]
    rejected: tuple[RejectedFile, ...]
    swings: tuple[SwingQuality, ...]
    controls: tuple[LabControl, ...]
    admissions: tuple[LabAdmission, ...]
    terms: tuple[LabTerms, ...]
    left_out: Mapping[str, int] = field(default_factory=dict)
    decided_out: int = 0
    noise: Mapping[str, MeasurementError] = field(default_factory=dict)

    def __post_init__(self) -> None:
        set_field(self, "left_out", dict(self.left_out))
        set_field(self, "noise", dict(self.noise))
