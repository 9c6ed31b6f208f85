"""The file of a standard: TOML that a person reads and edits, with faults told by line.

::

    name = "driver_to_12_2026"          # small letters, digits, _ and -
    title = "Driver, handicap 5 to 12"
    edition = "2026-autumn"
    edition_hash = "c0ffee..."           # fingerprint of the edition it was drafted on
    evidence = "driver/to_12"            # cohort of the edition that the limits rest on
    rationale = "why the academy asks for this"
    cautions = ["..."]                   # beside those that stand on every sheet
    review_on = 2027-06-01
    swings = 5                           # a review is planned with so many swings,
    days = 1                             # on so many days,
    window_days = 90                     # within so many days
    wrong_rate = 0.05                    # largest chance of a wrong verdict
    length_unit = "cm"                   # of every low and high: cm, in, cm/s, in/s

    [golfers]                            # for whom, where narrower than the evidence
    club = "driver"
    age_to = 17                          # keys as in a cohort file

    [[requirement]]
    feature = "sway_travel"              # or: axis, from and to of a stretch of curve
    low_percentile = 10                  # or: low_centile, high_centile, at_handicap
    high_percentile = 90                 # or: low, high and a reason
    priority = 1

    [[requirement]]
    axis = "lift"
    from = "top"                         # an event, or a phase and its percent
    to = "downswing 50"
    low = -4.0
    reason = "why these numbers"
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from norms.cohort.definitions import NAME_PATTERN
from norms.errors import NormsError, StandardRefused
from norms.records import CohortDefinition, Level
from norms.records.standard import Quantity, StandardFinding
from norms.standards.asked import RangeAsked, RequirementAsked, StandardAsked
from norms.standards.quantities import feature_quantity, quantity_unit, stretch_quantity
from norms.units import CM_PER_UNIT
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST, Axis, Sex
from pipelines.limits import LARGEST_VALUE, OLDEST, planned_day_fault
from pipelines.text_lines import line_of
from pipelines.text_tables import FAULTS_SHOWN
from pipelines.toml_file import Day, GolferRules, HandicapIndex, Section, fault_words, read_toml

Place = tuple[str | int, ...]
Limit = Annotated[float, Field(ge=-LARGEST_VALUE, le=LARGEST_VALUE)]


class _GolfersSection(GolferRules):
    club: str = Field(min_length=1)
    title: str | None = None


class _RequirementSection(Section):
    feature: str | None = None
    axis: Axis | None = None
    from_point: str | None = Field(None, alias="from")
    to_point: str | None = Field(None, alias="to")
    low: Limit | None = None
    high: Limit | None = None
    low_percentile: float | None = None
    high_percentile: float | None = None
    low_centile: float | None = None
    high_centile: float | None = None
    at_handicap: HandicapIndex | None = Field(None, ge=HANDICAP_LOWEST, le=HANDICAP_HIGHEST)
    sex: Sex | None = None
    age: int | None = Field(None, ge=0, le=OLDEST)
    reason: str | None = None
    priority: int = Field(1, ge=1, le=9)


class _StandardFile(Section):
    name: str
    title: str = Field(min_length=1)
    edition: str = Field(min_length=1)
    edition_hash: str | None = None
    evidence: str = Field(min_length=1)
    rationale: str = Field(min_length=1)
    cautions: list[str] = Field(default_factory=list)
    review_on: Day
    swings: int = 5
    days: int = 1
    window_days: int = 90
    wrong_rate: float = 0.05
    length_unit: Literal["cm", "in"] = "cm"
    golfers: _GolfersSection | None = None
    requirement: list[_RequirementSection] = Field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardFile:
    """A standard as written, with the text it was written in.

    Attributes
    ----------
    asked : StandardAsked
    path : Path
    text : str
    """

    asked: StandardAsked
    path: Path
    text: str

    def sentence(self, finding: StandardFinding) -> str:
        """A finding with the file and the line it is about."""
        return f"{self.where(finding)}: {finding.message}"

    def where(self, finding: StandardFinding) -> str:
        """File and line of a finding, e.g. ``"juniors.toml, line 21"``."""
        place: Place = () if finding.requirement is None else ("requirement", finding.requirement)
        return _where(self.path, self.text, (*place, finding.key) if finding.key else place)

    def refuse(self, findings: Iterable[StandardFinding]) -> None:
        """Refuse the file by everything that was refused of it, one line each.

        Raises
        ------
        StandardRefused
        """
        faults = [one for one in findings if one.severity == "refused"]
        if faults:
            raise StandardRefused("\n".join(map(self.sentence, faults)), code=faults[0].code)


def read_standard(file: Path, levels: Sequence[Level]) -> StandardFile:
    """Read a standard as a person wrote it.

    Parameters
    ----------
    file : Path
    levels : sequence of Level
        Of the academy, for the levels a narrower group may name.

    Raises
    ------
    StandardRefused
        Naming the file, the line and the key at fault; every fault of the form on a line of its
        own.
    """
    text, stated = read_toml(file, _refused)
    try:
        whole = _StandardFile.model_validate(stated)
    except ValidationError as error:
        found = error.errors()
        faults = [
            f"{_where(file, text, _place(fault['loc']))}: {_words(fault)}"
            for fault in found[:FAULTS_SHOWN]
        ]
        if len(found) > FAULTS_SHOWN:
            faults.append(f"{file}: and {len(found) - FAULTS_SHOWN} more")
        raise _refused("\n".join(faults)) from error
    if not NAME_PATTERN.fullmatch(whole.name):
        where = _where(file, text, ("name",))
        raise _refused(f"{where}: name: small letters, digits, _ and - only")
    if fault := planned_day_fault(whole.review_on):
        where = _where(file, text, ("review_on",))
        raise _refused(f"{where}: review_on: {whole.review_on}: {fault}")
    asked = StandardAsked(
        name=whole.name,
        title=whole.title,
        edition=whole.edition,
        edition_hash=whole.edition_hash,
        evidence=whole.evidence,
        rationale=whole.rationale,
        cautions=tuple(whole.cautions),
        review_on=whole.review_on,
        swings=whole.swings,
        days=whole.days,
        window_days=whole.window_days,
        wrong_rate=whole.wrong_rate,
        golfers=_golfers(whole, levels, file, text),
        requirements=tuple(
            _requirement(one, whole.length_unit, file, text, place)
            for place, one in enumerate(whole.requirement)
        ),
    )
    return StandardFile(asked=asked, path=file, text=text)


def _golfers(
    whole: _StandardFile, levels: Sequence[Level], file: Path, text: str
) -> CohortDefinition | None:
    if whole.golfers is None:
        return None
    table = {level.key: level for level in levels}
    unknown = [key for key in whole.golfers.levels if key not in table]
    if unknown:
        where = _where(file, text, ("golfers", "levels"))
        raise _refused(f"{where}: levels: {unknown[0]!r} is none of {', '.join(table)}")
    facts = whole.golfers.model_dump() | {
        "key": whole.name,
        "name": whole.name,
        "levels": tuple(table[key] for key in whole.golfers.levels),
    }
    return CohortDefinition(**facts)


def _requirement(
    section: _RequirementSection, unit: str, file: Path, text: str, place: int
) -> RequirementAsked:
    try:
        quantity = _quantity(section)
    except NormsError as refusal:
        key = "feature" if section.feature is not None else "from"
        where = _where(file, text, ("requirement", place, key))
        raise _refused(f"{where}: {refusal.message}", refusal.code) from refusal
    factor = CM_PER_UNIT[unit] if quantity_unit(quantity) in ("cm", "cm_s") else 1.0
    return RequirementAsked(
        quantity=quantity,
        priority=section.priority,
        range=RangeAsked(
            low=None if section.low is None else section.low * factor,
            high=None if section.high is None else section.high * factor,
            low_percentile=section.low_percentile,
            high_percentile=section.high_percentile,
            low_centile=section.low_centile,
            high_centile=section.high_centile,
            at_handicap=section.at_handicap,
            sex=section.sex,
            age=section.age,
            reason=section.reason,
        ),
    )


def _quantity(section: _RequirementSection) -> Quantity:
    stretch = (section.axis, section.from_point, section.to_point)
    if section.feature is not None and stretch == (None, None, None):
        return feature_quantity(section.feature)
    if section.feature is None and None not in stretch:
        axis, first, last = section.axis, section.from_point, section.to_point
        if axis is not None and first is not None and last is not None:
            return stretch_quantity(axis, first, last)
    raise StandardRefused(
        "name either a feature, or the axis, from and to of a stretch of curve", code="quantity"
    )


def _place(loc: tuple[int | str, ...]) -> Place:
    return tuple(loc)


def _words(fault: Mapping[str, Any]) -> str:
    keys = [str(part) for part in fault["loc"] if isinstance(part, str)]
    return f"{keys[-1] if keys else 'file'}: {fault_words(_StandardFile, fault)}"


def _where(file: Path, text: str, place: Sequence[str | int]) -> str:
    line = line_of(text, place) if place else None
    return f"{file}, line {line}" if line else str(file)


def _refused(message: str, code: str = "standard_file") -> StandardRefused:
    return StandardRefused(message, code=code)
