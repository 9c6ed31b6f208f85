"""What a file yields once its lab's profile is applied: points over time in declared axes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from norms.errors import Notice
from norms.records._arrays import FloatArray, freeze_fields, set_field
from norms.vocabulary import ROLES, Hand

Direction = tuple[float, float, float]
HipRegression = Literal[
    "harrington", "harrington_full", "harrington_width", "harrington_leg", "bell", "davis"
]
"""Names of the regressions for hip joint centres (``norms.swing.hip_regressions``)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabAxes:
    """Where the laboratory's axes point.

    Attributes
    ----------
    source : {"declared", "feet_line"}
        ``"declared"``: the profile states target and up. ``"feet_line"``: only up is stated and
        the line through the feet at address, trail to lead, stands in for the target line.
    up : tuple of 3 floats
        Unit vector in laboratory coordinates that points up.
    target : tuple of 3 floats or None
        Unit vector toward the target; ``None`` for ``"feet_line"``.
    mirrored : bool
        True where the laboratory's coordinates are left-handed, so that a cross product of two
        axes points the wrong way. Declared by the profile, never guessed.
    """

    source: Literal["declared", "feet_line"]
    up: Direction
    target: Direction | None = None
    mirrored: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingLabel:
    """Who swung what, when and where; everything about a swing that is not motion.

    Attributes
    ----------
    swing : str
        The swing's own code, unique in the store; ties a capture to its ball speed.
    golfer : str
        The golfer's code.
    club : str
        Club in lower case, e.g. ``"driver"`` or ``"iron 7"``.
    recorded_on : datetime.date
    lab : str
        Name of the laboratory, from the profile.
    source : str
        File name the capture came from.
    content_hash : str
        SHA-256 of the file's bytes, hexadecimal.
    """

    swing: str
    golfer: str
    club: str
    recorded_on: date
    lab: str
    source: str
    content_hash: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditioningChoice:
    """How a lab wants its points cleaned; stated by the profile.

    Attributes
    ----------
    cutoff_hz : float
        Frequency at which the dual-pass filter's gain is 1/sqrt(2).
    cutoff : {"fixed", "residual"}
        ``"fixed"``: ``cutoff_hz`` as it stands. ``"residual"``: chosen for each capture by
        Winter's residual analysis, and ``cutoff_hz`` is not used.
    longest_gap_s : float
        Longest gap that is filled by interpolation.
    """

    cutoff_hz: float = 10.0
    cutoff: Literal["fixed", "residual"] = "fixed"
    longest_gap_s: float = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Capture:
    """Points over time, in centimetres and laboratory axes, with roles instead of labels.

    Attributes
    ----------
    points_cm : ndarray, shape (t, m, 3)
        Laboratory coordinates; NaN where a point was not seen.
    roles : tuple of str
        Role of each of the m points, from ``norms.vocabulary.ROLES``, without repeats.
    rate_hz : float
        Samples per second.
    axes : LabAxes
    hand : {"right", "left"}
        The side the golfer plays from: declared, never guessed.
    events_s : Mapping of str to float
        Event times that the file itself states, seconds from the first sample.
    event_source : {"club", "hands"}
        Which point tells start and top where the file does not; where the club is wanted but not
        tracked, the hands stand in and are marked so.
    hip_regression : {"harrington", "harrington_full", "harrington_width", "harrington_leg", \
"bell", "davis"}
        Regression for hip joint centres where the capture does not carry them.
    given_centres : {"given", "measured", "functional"}
        How centres that the capture itself carries were found, as the profile declares:
        ``"measured"`` from an image of the bones, ``"functional"`` from a calibrating movement,
        ``"given"`` where the profile does not say.
    leg_length_cm : float or None
        The golfer's leg length, anterior spine to medial malleolus, where it is declared; some
        regressions need it.
    marker_radius_cm : float or None
        Radius of the pelvis markers where it is declared; Davis' regression needs it.
    conditioning : ConditioningChoice
    notices : tuple of Notice
        What the reader had to say.
    """

    points_cm: FloatArray
    roles: tuple[str, ...]
    rate_hz: float
    axes: LabAxes
    hand: Hand
    events_s: Mapping[str, float] = field(default_factory=dict)
    event_source: Literal["club", "hands"] = "club"
    hip_regression: HipRegression = "harrington"
    given_centres: Literal["given", "measured", "functional"] = "given"
    leg_length_cm: float | None = None
    marker_radius_cm: float | None = None
    conditioning: ConditioningChoice = field(default_factory=ConditioningChoice)
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        freeze_fields(self, {"points_cm": (None, len(self.roles), 3)})
        set_field(self, "events_s", dict(self.events_s))
        unknown = [role for role in self.roles if role not in ROLES]
        if unknown or len(set(self.roles)) != len(self.roles):
            raise ValueError(f"roles: {self.roles} holds unknown or repeated roles {unknown}")
        if not self.rate_hz > 0:
            raise ValueError(f"rate_hz: {self.rate_hz} where a positive rate is needed")

    def point(self, role: str) -> FloatArray | None:
        """Path of one role, shape (t, 3) in cm, or None where the capture lacks it."""
        if role not in self.roles:
            return None
        path: FloatArray = self.points_cm[:, self.roles.index(role)]
        return path
