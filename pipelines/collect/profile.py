"""The lab profile: a TOML file that declares how a laboratory's captures are laid out.

Everything that a capture file cannot be trusted to say is stated here once: which label is which
point, the unit of length, where the axes point, the rate, where events come from.
"""

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from norms.errors import ProfileRefused
from norms.records import ConditioningChoice, HipRegression, LabAxes
from norms.units import CM_PER_UNIT
from norms.vocabulary import (
    CENTRE_ROLE,
    CLUB_ROLE,
    EVENTS,
    FOOT_ROLES,
    HAND_ROLES,
    HIP_ROLES,
    PELVIS_ROLES,
    ROLES,
)
from pipelines.bounded import BeyondReason, NotReadable, read_toml_file, short_words
from pipelines.collect.file_name import FileNamePattern
from pipelines.limits import LONGEST_NAME

LONGEST_FAULTS = 2_000
"""Characters of all faults of a profile together."""
PELVIS_SETS = (PELVIS_ROLES, HIP_ROLES, (CENTRE_ROLE,))
"""Any one of these sets of roles gives the pelvis centre."""

SignedAxis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
LengthUnit = Literal["mm", "cm", "dm", "m", "in", "ft"]
Direction = tuple[float, float, float]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class LabSection(_Section):
    """Name of the laboratory."""

    name: str = Field(min_length=1, max_length=LONGEST_NAME)


class CaptureSection(_Section):
    """How a file's name tells golfer, date, club and number; None where it tells nothing."""

    file_name: str | None = None

    @field_validator("file_name")
    @classmethod
    def _parses(cls, value: str | None) -> str | None:
        if value is not None:
            FileNamePattern.parse(value)
        return value


class UnitsSection(_Section):
    """The unit of length of the laboratory's files."""

    length: LengthUnit


class DeclaredAxes(_Section):
    """Laboratory axes that point to the target, up, and to the ball of a right-handed golfer."""

    source: Literal["declared"]
    target: SignedAxis
    up: SignedAxis
    ball: SignedAxis
    mirrored: bool = False

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        target, up, ball = (_unit(axis) for axis in (self.target, self.up, self.ball))
        if _dot(target, up) != 0:
            raise ValueError(f"target {self.target} and up {self.up} lie on one axis")
        sign = -1 if self.mirrored else 1
        across = _cross(target, up)
        wanted = tuple(sign * value for value in across)
        if ball == wanted:
            return self
        said = f"ball {self.ball} does not fit target {self.target} and up {self.up}: "
        if _dot(ball, across) == 0:
            frame = "mirrored" if self.mirrored else "right-handed"
            raise ValueError(f"{said}in a {frame} frame it is {_axis_name(wanted)}")
        remedy = "without" if self.mirrored else "with"
        raise ValueError(
            f"{said}they fit only {remedy} mirrored = true; check the directions on the floor (a "
            "right-handed golfer who faces the ball has the target to the left), then correct one "
            "of them"
        )


class FeetLineAxes(_Section):
    """Only up is known; the line through the feet at address stands in for the target line."""

    source: Literal["feet_line"]
    up: SignedAxis


class RateSection(_Section):
    """Samples per second, for tables without times and to check files that state a rate."""

    hz: float | None = Field(default=None, gt=0, le=100_000)


class EventsSection(_Section):
    """Which point tells the events, and the file's own event labels where it has them."""

    source: Literal["club", "hands"] = "club"
    start: str | None = None
    top: str | None = None
    impact: str | None = None
    finish: str | None = None

    def labels(self) -> dict[str, str]:
        """Label in the file by name of the event, for the events that the file is to state."""
        named = {event: getattr(self, event, None) for event in EVENTS}
        return {event: label for event, label in named.items() if label is not None}


class ConditioningSection(_Section):
    """How the laboratory wants its points cleaned; the cutoff is stated, or chosen per capture."""

    cutoff: Literal["fixed", "residual"] = "fixed"
    cutoff_hz: float = Field(default=ConditioningChoice().cutoff_hz, gt=0, le=500)
    longest_gap_s: float = Field(default=ConditioningChoice().longest_gap_s, ge=0, le=2)

    @model_validator(mode="after")
    def _names_one_cutoff(self) -> Self:
        if self.cutoff == "residual" and "cutoff_hz" in self.model_fields_set:
            raise ValueError(
                "cutoff = 'residual' chooses the cutoff from each capture; leave cutoff_hz out"
            )
        return self


class PelvisSection(_Section):
    """How the hip joint centres come about, and what the regressions need."""

    hip_regression: HipRegression = "harrington"
    given_centres: Literal["given", "measured", "functional"] = "given"
    marker_radius_cm: float | None = Field(default=None, gt=0, le=5)
    leg_length_cm: dict[str, Annotated[float, Field(ge=40, le=140)]] = Field(default_factory=dict)
    """By golfer's code; anterior spine to medial malleolus."""


class Profile(_Section):
    """A laboratory's profile, checked.

    Attributes
    ----------
    lab, capture, points, units, axes, rate, events, conditioning, pelvis
        The sections of the TOML file; ``points`` maps role to label.
    """

    lab: LabSection
    capture: CaptureSection = CaptureSection()
    points: dict[str, Annotated[str, Field(min_length=1)]]
    units: UnitsSection
    axes: Annotated[DeclaredAxes | FeetLineAxes, Field(discriminator="source")]
    rate: RateSection = RateSection()
    events: EventsSection = EventsSection()
    conditioning: ConditioningSection = ConditioningSection()
    pelvis: PelvisSection = PelvisSection()

    @field_validator("points")
    @classmethod
    def _points_are_usable(cls, points: dict[str, str]) -> dict[str, str]:
        unknown = [role for role in points if role not in ROLES]
        if unknown:
            raise ValueError(f"unknown role {', '.join(unknown)}; roles are {', '.join(ROLES)}")
        for label in set(points.values()):
            users = [role for role, used in points.items() if used == label]
            if len(users) > 1:
                raise ValueError(f"label '{label}' is given to {' and '.join(users)}")
        if not any(set(roles) <= set(points) for roles in PELVIS_SETS):
            sets = " or ".join(" + ".join(roles) for roles in PELVIS_SETS)
            raise ValueError(f"no complete set of pelvis points; give {sets}")
        return points

    @model_validator(mode="after")
    def _sections_agree(self) -> Self:
        if isinstance(self.axes, FeetLineAxes) and not set(FOOT_ROLES) <= set(self.points):
            raise ValueError(
                f"[axes] source 'feet_line' needs {' and '.join(FOOT_ROLES)} in [points]"
            )
        tracked = set(self.points) & {CLUB_ROLE, *HAND_ROLES}
        if not tracked and not {"start", "top", "impact"} <= set(self.events.labels()):
            raise ValueError(
                f"[points] holds neither {CLUB_ROLE} nor a hand, and [events] does not name the "
                "labels of start, top and impact: there is nothing to find the events from"
            )
        return self

    @property
    def cm_per_unit(self) -> float:
        """Centimetres in one declared unit."""
        return CM_PER_UNIT[self.units.length]

    def lab_axes(self) -> LabAxes:
        """The declared axes as a record."""
        up = _unit(self.axes.up)
        if isinstance(self.axes, FeetLineAxes):
            return LabAxes(source="feet_line", up=up)
        return LabAxes(
            source="declared", up=up, target=_unit(self.axes.target), mirrored=self.axes.mirrored
        )

    def conditioning_choice(self) -> ConditioningChoice:
        """The conditioning as a record."""
        return ConditioningChoice(
            cutoff=self.conditioning.cutoff,
            cutoff_hz=self.conditioning.cutoff_hz,
            longest_gap_s=self.conditioning.longest_gap_s,
        )

    def file_name_pattern(self) -> FileNamePattern | None:
        """The parsed pattern of file names, or None where names tell nothing."""
        text = self.capture.file_name
        return None if text is None else FileNamePattern.parse(text)


def load_profile(path: Path) -> Profile:
    """Read and check a lab profile.

    Parameters
    ----------
    path : Path
        TOML file.

    Returns
    -------
    Profile

    Raises
    ------
    ProfileRefused
        With one line that names the file, each faulty key, what is wrong and what is allowed.
    """
    try:
        _, raw = read_toml_file(path)
    except OSError as fault:
        raise ProfileRefused(
            f"{path}: cannot be read ({fault.strerror}): check the path of the lab's profile, or "
            "draft one from a capture (norms profile)",
            code="profile_unreadable",
        ) from None
    except NotReadable as fault:
        raise ProfileRefused(f"{path}: not valid TOML: {fault}", code="profile_toml") from None
    except BeyondReason as fault:
        raise ProfileRefused(f"{path}: {fault}", code="profile_toml") from None
    try:
        return Profile.model_validate(raw)
    except ValidationError as faults:
        said = short_words("; ".join(map(_fault_words, faults.errors())), LONGEST_FAULTS)
        raise ProfileRefused(f"{path.name}: {said}", code="profile_invalid") from None


def _fault_words(fault: Any) -> str:
    """One fault of pydantic's as '[section] key: what is wrong, what is allowed'."""
    # A tag of the discriminated axes appears as a level of its own and means nothing to a person.
    where = [str(part) for part in fault["loc"] if part not in ("declared", "feet_line")]
    place = f"[{where[0]}] {'.'.join(where[1:])}".strip() + ": " if where else ""
    kind = fault["type"]
    if kind == "missing":
        words = "missing"
    elif kind == "extra_forbidden":
        words = f"unknown key; allowed: {', '.join(_allowed_keys(fault['loc']))}"
    elif kind == "value_error":
        words = str(fault["ctx"]["error"])
    elif kind in ("union_tag_invalid", "union_tag_not_found"):
        place, words = "[axes] source: ", "must be 'declared' or 'feet_line'"
    else:
        words = f"{_shown(fault['input'])}: {fault['msg'][0].lower()}{fault['msg'][1:]}"
    return place + words


def _allowed_keys(location: tuple[Any, ...]) -> list[str]:
    section = location[0]
    if len(location) == 1:
        return list(Profile.model_fields)
    if section == "axes":
        return list((FeetLineAxes if "feet_line" in location else DeclaredAxes).model_fields)
    kind: Any = Profile.model_fields[section].annotation
    return list(kind.model_fields)


def _shown(value: Any) -> str:
    shown = short_words(str(value))
    return f"'{shown}'" if isinstance(value, str) else shown


def _unit(axis: str) -> Direction:
    sign = 1.0 if axis[0] == "+" else -1.0
    x, y, z = (sign if letter == axis[1] else 0.0 for letter in "xyz")
    return (x, y, z)


def _axis_name(direction: tuple[float, ...]) -> str:
    place = next(i for i, value in enumerate(direction) if value)
    return ("+" if direction[place] > 0 else "-") + "xyz"[place]


def _dot(a: Direction, b: Direction) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Direction, b: Direction) -> Direction:
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )
