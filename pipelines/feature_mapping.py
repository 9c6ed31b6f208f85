"""The mapping that says what the columns of a table of features are, in TOML.

::

    name = "open-2026"                    # the cohort's name
    missing = ["NA", "-", "-999"]         # beside empty cells
    club = "driver"                       # or club = { column = "club" }

    [columns]
    golfer = "subject"
    swing = "trial"                       # left out: the row's number
    lab = "site"                          # left out: one lab

    [facts]
    sex = { column = "gender", female = "F", male = "M" }
    age = { column = "age" }
    height = { column = "height", unit = "m" }
    mass = { column = "weight", unit = "lb" }
    handicap = { column = "hcp" }

    [speeds]
    ball_speed = { column = "bs", unit = "mph" }
    club_speed = { column = "chs", unit = "mph" }

    [[features]]
    column = "fwd"
    name = "sway_travel"                  # of the catalogue, or any other word
    unit = "in"                           # mm cm m in ft; with _s their rates; s ms pct ratio;
    sign = -1                             # any other unit stands as it is
    label = "forward travel"

Missing values stay missing; infinite ones (a ratio over nothing) are taken as missing and counted.
"""

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from norms.errors import StudyRefused
from norms.swing.catalogue import BY_NAME
from norms.units import CM_PER_UNIT, KG_PER_UNIT
from pipelines.import_tables import HEIGHTS_CM, MASSES_KG, read_code, read_handicap
from pipelines.limits import LARGEST_MEASURED, OLDEST
from pipelines.text_tables import CellFault, Column
from pipelines.toml_file import NAME, checked, read_toml


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class FromColumn(_Section):
    """A column by its name in the table."""

    column: str


class Columns(_Section):
    """Columns that say who swung, which swing it is, and where."""

    golfer: str
    swing: str | None = None
    lab: str | None = None


class Sex(FromColumn):
    """How the table writes both sexes."""

    female: str
    male: str


class Measure(FromColumn):
    """A column of lengths or masses, with their unit."""

    unit: str


class Facts(_Section):
    """Facts of golfers that the table holds."""

    sex: Sex | None = None
    age: FromColumn | None = None
    height: Measure | None = None
    mass: Measure | None = None
    handicap: FromColumn | None = None


class Speed(FromColumn):
    """A column of speeds, with their unit."""

    unit: Literal["mps", "mph", "kmh"]


class Speeds(_Section):
    """Speeds that the table holds."""

    ball_speed: Speed | None = None
    club_speed: Speed | None = None


class MappedFeature(FromColumn):
    """A column that becomes a feature."""

    name: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    unit: str
    sign: Literal[1, -1] = 1
    label: str | None = None

    @model_validator(mode="after")
    def _fits_the_catalogue(self) -> "MappedFeature":
        if self.name in BY_NAME and BY_NAME[self.name].unit != self.stored[0]:
            raise ValueError(
                f"{self.name} is held in {BY_NAME[self.name].unit}; {self.unit} cannot become "
                "that: correct the unit or give the feature another name"
            )
        return self

    @property
    def stored(self) -> tuple[str, float]:
        """Unit inside, and what a value is multiplied by to be in it."""
        length = self.unit.removesuffix("_s")
        if length in CM_PER_UNIT:
            kind = "cm" if length == self.unit else "cm_s"
            return kind, self.sign * CM_PER_UNIT[length]
        scale = {"ms": ("s", 1e-3)}.get(self.unit, (self.unit, 1.0))
        return scale[0], self.sign * scale[1]


class FeatureMapping(_Section):
    """Everything that a mapping states."""

    name: str = Field(pattern=NAME)
    missing: list[str] = []
    club: str | FromColumn
    columns: Columns
    facts: Facts = Facts()
    speeds: Speeds = Speeds()
    features: list[MappedFeature] = Field(min_length=1)

    @model_validator(mode="after")
    def _each_once(self) -> "FeatureMapping":
        names = [feature.name for feature in self.features]
        repeated = sorted({name for name in names if names.count(name) > 1})
        if repeated:
            raise ValueError(f"features: {repeated[0]} stands twice; keep one of them")
        return self


def read_mapping(file: Path) -> FeatureMapping:
    """Read a mapping.

    Raises
    ------
    StudyRefused
        Naming the file and the key at fault.
    """
    _, stated = read_toml(file, _refused)
    return checked(FeatureMapping, stated, f"{file}: ", _refused)


def table_columns(mapping: FeatureMapping) -> list[Column]:
    """Columns as the mapping declares them; one column may not serve twice."""
    missing = set(mapping.missing)
    codes = [mapping.columns.golfer, mapping.columns.swing, mapping.columns.lab]
    if isinstance(mapping.club, FromColumn):
        codes.append(mapping.club.column)
    columns = [Column(name=name.lower(), read=read_code) for name in codes if name is not None]
    numbers: list[tuple[str, Callable[[str], float]]] = [
        (one.column, read_number) for one in mapping.features
    ]
    speeds = (mapping.speeds.ball_speed, mapping.speeds.club_speed)
    numbers += [(speed.column, read_number) for speed in speeds if speed is not None]
    numbers += _fact_readers(mapping.facts)
    columns += [
        Column(name=name.lower(), read=_unless(missing, read), filled=False, number=True)
        for name, read in numbers
    ]
    names = [column.name for column in columns]
    for name in names:
        if names.count(name) > 1:
            raise _refused(f"mapping {mapping.name}: column {name} serves twice; keep one use")
    return columns


def _fact_readers(facts: Facts) -> list[tuple[str, Callable[[str], float]]]:
    readers: list[tuple[str, Callable[[str], float]]] = []
    if facts.sex is not None:
        words = {facts.sex.female.lower(): 0.0, facts.sex.male.lower(): 1.0}
        readers.append((facts.sex.column, _one_of(words)))
    if facts.age is not None:
        readers.append((facts.age.column, _between(0.0, OLDEST, 1.0, "years")))
    if facts.height is not None:
        readers.append((facts.height.column, _measure(facts.height, CM_PER_UNIT, HEIGHTS_CM)))
    if facts.mass is not None:
        readers.append((facts.mass.column, _measure(facts.mass, KG_PER_UNIT, MASSES_KG)))
    if facts.handicap is not None:
        readers.append((facts.handicap.column, read_handicap))
    return readers


def _measure(
    fact: Measure, units: Mapping[str, float], limits: tuple[float, float]
) -> Callable[[str], float]:
    if fact.unit not in units:
        raise _refused(f"column {fact.column}: unit {fact.unit!r} is none of {', '.join(units)}")
    return _between(*limits, units[fact.unit], fact.unit)


def read_number(text: str) -> float:
    """A number as tables write it, infinite ones and the word nan included."""
    try:
        value = float(text)
    except ValueError:
        raise CellFault(
            "is not a number; list the word under missing if it stands for none"
        ) from None
    if math.isfinite(value) and abs(value) > LARGEST_MEASURED:
        raise CellFault(f"is beyond {LARGEST_MEASURED:g}; correct it, or state another unit")
    return value


def _between(low: float, high: float, scale: float, unit: str) -> Callable[[str], float]:
    def read(text: str) -> float:
        value = read_number(text) * scale
        if not math.isnan(value) and not low <= value <= high:
            raise CellFault(f"allowed is {low / scale:.4g} to {high / scale:.4g} {unit}")
        return value

    return read


def _one_of(words: Mapping[str, float]) -> Callable[[str], float]:
    def read(text: str) -> float:
        if text.lower() not in words:
            raise CellFault(f"allowed is {' or '.join(words)}")
        return words[text.lower()]

    return read


def _unless(missing: set[str], read: Callable[[str], float]) -> Callable[[str], float]:
    return lambda text: math.nan if text in missing else read(text)


def _refused(message: str) -> StudyRefused:
    return StudyRefused(message, code="mapping")
